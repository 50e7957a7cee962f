"""Logs from elsewhere, where they are at hand: each is read, or refused with a good reason."""

from pathlib import Path

import numpy as np
import pytest

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, read_log
from decay.log.quality import inspect
from decay.quantities import PRESSURE_UNITS

LOGS = Path(__file__).parents[2].parent / "shared" / "real_logs"
pytestmark = [pytest.mark.real_logs, pytest.mark.skipif(not LOGS.is_dir(), reason="the real logs are not at hand")]
MBAR = PRESSURE_UNITS["mbar"]


def read(name: str, **options: object) -> PressureLog:
    return read_log(LOGS / name, ReadOptions(**options))  # type: ignore[arg-type]


def codes(log: PressureLog) -> set[str]:
    return {note.code for note in log.notes}


def test_each_is_read_or_refused():
    paths = [p for p in LOGS.rglob("*") if p.suffix in {".csv", ".txt"} and p.name != "SOURCE.txt"]
    refused = set()
    for path in paths:
        try:
            log = read_log(path)
        except LogError as error:
            refused.add((str(path.relative_to(LOGS)), "--gauge" in error.remedy or "--unit" in error.remedy))
        else:
            assert sum(note.rows for note in log.notes) == log.rows - len(log.time)
    assert all(says_how for _, says_how in refused)
    assert {name for name, _ in refused} == {
        "freeze-dryer/2023-03-02_RF_Mannitol_process.csv", "freeze-dryer/2024-06-04-10_MFD_AH.csv",  # gauges differ
        "lab-vessel/DPLR1/piezo_gauge.csv", "lab-vessel/DPLR3/piezo_gauge.csv",  # no unit, no atmosphere
        "orifice-chamber/ref_20230515_154824.txt",  # no unit
    }  # fmt: skip


@pytest.mark.parametrize(("folder", "rate", "since"), [("DPLR1", 0.00206, 15.0), ("DPLR3", 1.556, 0.0)])
def test_clock_beats_counter(folder, rate, since):
    log = read(f"lab-vessel/{folder}/all_gauges.csv", gauge="druck")
    inside = log.time >= since
    slope = np.polyfit(log.time[inside], log.pressure[inside] / MBAR, 1)[0]
    # The straight-line rates by the clock that come with the logs.
    assert slope == pytest.approx(rate, rel=0.05)
    assert {"time-columns-disagree", "unit-inferred"} <= codes(log)


def test_sentences_agree_with_the_table():
    table = read("lab-vessel/DPEK/all_gauges.csv", gauge="TPG361_D1 [mbar]")
    lines = read("lab-vessel/DPEK/sentences_1.csv")
    assert len(lines.time) == len(table.time)
    assert np.median(np.abs(lines.pressure / table.pressure - 1)) < 0.01


def test_headerless_file_starts_at_atmosphere():
    log = read("lab-vessel/DPEK/piezo_gauge.csv")
    assert (log.unit, log.rows) == ("mbar", 600)
    assert "unit-inferred" in codes(log)


def test_rail_is_seen():
    assert 10 <= inspect(read("lab-vessel/DPLR3/sentences_1.csv")).is_railed.sum() <= 15  # flickers from 998 to 1000
    assert not inspect(read("lab-vessel/DPLR3/all_gauges.csv", gauge="druck")).is_railed.any()


def test_midnight_as_a_bare_date():
    log = read("freeze-dryer/2023-03-02_RF_Mannitol_process.csv", gauge="SPLYO.CHAMBER_CM.F_CV", unit="mTorr")
    assert (log.rows, len(log.time)) == (1200, 1200)
    assert np.all(np.diff(log.time) == 60.0)
    assert "midnight-bare-date" in codes(log)


def test_two_midnights():
    log = read("freeze-dryer/2024-06-04-10_MFD_AH.csv", gauge="VacPirani", unit="mTorr")
    assert log.duration == pytest.approx(48.4 * 3600, rel=0.001)
    assert list(log.other_gauges) == ["VacCPM"]


def test_misspelt_header():
    log = read("manifold-functional-test/log.txt")
    assert (log.rows, log.unit) == (145, "mbar")
    assert log.pressure.max() == pytest.approx(952 * MBAR)
    # Printed with seven digits, of which three are meant.
    assert np.median(log.step / log.pressure) == pytest.approx(0.003, abs=0.003)


def test_orifice_chamber():
    log = read("orifice-chamber/ref_20230515_154824.txt", unit="mbar")
    assert (log.rows, log.gauge, log.started) == (7201, "CH2", "2023-05-15T15:48:24")
    assert log.sampling == 10.0
    # "1000 means over range" in this family of files: an option says so.
    assert not read("orifice-chamber/ref_20230515_154824.txt", unit="mbar", over_range=("1000",)).is_over_range.any()
