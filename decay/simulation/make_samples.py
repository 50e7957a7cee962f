"""Makes every sample log again from its preset: ``python -m decay.simulation.make_samples [FOLDER]``."""

from __future__ import annotations

import sys
from dataclasses import fields, replace
from datetime import timedelta
from pathlib import Path

from decay.files import drafted
from decay.simulation.gauge_model import GaugeRecord
from decay.simulation.job_file import read_job_file
from decay.simulation.log_file import STARTED, log_text, truth_text, write_log
from decay.simulation.ready_jobs import PRESETS
from decay.simulation.simulated_run import run

PAIRS = PRESETS.parent / "pair_jobs"
"""One job file each with a cold and a warm hold; each hold becomes a log of its own."""


def make_samples(jobs: Path, target: Path) -> list[Path]:
    """Run every job in a folder and write its log and truth, in the order of the jobs' names."""
    logs = []
    for path in sorted(jobs.glob("*.toml")):
        given = read_job_file(path)
        log, _ = write_log(
            run(given.job),
            target / given.log.get("file", f"{path.stem}.csv"),
            given.log.get("dialect", "comma"),
            unit=given.log.get("unit"),
            started=given.log.get("started", STARTED),
            expected=given.expected,
            force=True,
        )
        logs.append(log)
    return logs


def make_pairs(jobs: Path, target: Path) -> list[Path]:
    """Run every job of two holds in a folder, and write ``cold.csv``, ``warm.csv`` and ``truth.toml`` into its own."""
    logs = []
    for path in sorted(jobs.glob("*.toml")):
        given = read_job_file(path)
        made, started = run(given.job), given.log.get("started", STARTED)
        folder = target / path.stem
        folder.mkdir(parents=True, exist_ok=True)
        cut = int((made.readings.time <= made.holds[0].end).sum())
        texts = {"truth.toml": truth_text(made, "cold.csv and warm.csv, on the clock of the cold one", given.expected)}
        for name, part in (("cold.csv", slice(0, cut)), ("warm.csv", slice(cut, None))):
            # One day, one job, one clock: the second log begins when the first one ends.
            begun = started + timedelta(seconds=float(made.readings.time[part][0] - made.readings.time[0]))
            texts[name], _ = log_text(replace(made, readings=_cut(made.readings, part)), "comma", started=begun)
        for name, text in texts.items():
            with drafted(folder / name, replace=True) as draft:
                draft.write_text(text, encoding="utf-8", newline="")
        logs += [folder / "cold.csv", folder / "warm.csv"]
    return logs


def _cut(readings: GaugeRecord, part: slice) -> GaugeRecord:
    return replace(readings, **{field.name: getattr(readings, field.name)[part] for field in fields(readings)})


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("sample_logs")
    for made in [*make_samples(PRESETS, folder), *make_pairs(PAIRS, folder)]:
        sys.stdout.write(f"{made} (synthetic)\n")
