"""Makes every sample log again from its preset: ``python -m decay.simulate.make_samples [FOLDER]``."""

from __future__ import annotations

import sys
from pathlib import Path

from decay.simulate.job_file import read_job_file
from decay.simulate.log_file import STARTED, write_log
from decay.simulate.presets import PRESETS
from decay.simulate.simulated_run import run


def make_samples(jobs: Path, target: Path) -> list[Path]:
    """Run every job in a folder and write its log and truth.

    Parameters
    ----------
    jobs : Path
        Folder of job files.
    target : Path
        Folder of the logs; what stands there under the same names is replaced.

    Returns
    -------
    list of Path
        The logs, in the order of their jobs' names.
    """
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


if __name__ == "__main__":
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("sample_logs")
    for made in make_samples(PRESETS, folder):
        sys.stdout.write(f"{made} (synthetic)\n")
