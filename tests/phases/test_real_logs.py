"""Foreign logs that do not travel with the project: what is known of them must be found."""

from __future__ import annotations

from pathlib import Path

import pytest

from decay.log import ReadOptions, quality
from decay.log.reader import read_log
from decay.phases import Kind, find_phases

LOGS = Path(__file__).parents[3] / "shared" / "real_logs"
pytestmark = [
    pytest.mark.real_logs,
    pytest.mark.skipif(not LOGS.is_dir(), reason="the foreign logs are not here"),
]


def phases(path: str, gauge: str | None = None, unit: str | None = None):
    log = read_log(str(LOGS / path), ReadOptions(gauge=gauge, unit=unit))
    return log, find_phases(log, quality.inspect(log))


def test_manifold_is_a_pull_from_atmosphere():
    _, found = phases("manifold-functional-test/log.txt")
    assert [phase.kind for phase in found] == [Kind.ATMOSPHERE, Kind.PUMPDOWN]
    assert found[0].end == pytest.approx(16.6, abs=3)


@pytest.mark.parametrize("gauge", ["TPG202 [mbar]", "TPG361_D1 [mbar]", "TPG361_D2 [mbar]"])
def test_the_vessels_pull_holds_nothing(gauge):
    _, found = phases("lab-vessel/DPEK/all_gauges.csv", gauge)
    # The two thermal gauges stand at the last digit of their range's end: that end may stay unclear.
    assert [phase.kind for phase in found[:2]] == [Kind.ATMOSPHERE, Kind.PUMPDOWN]
    assert {phase.kind for phase in found[2:]} <= {Kind.UNCLEAR}


@pytest.mark.parametrize("run", ["DPLR1", "DPLR3"])
@pytest.mark.parametrize("gauge", ["druck", "TPG361_D1 [mbar]", "TPG361_D2 [mbar]"])
def test_the_vessels_rises_are_one_hold_from_the_first_readings_on(run, gauge):
    log, found = phases(f"lab-vessel/{run}/all_gauges.csv", gauge)
    (hold,) = (phase for phase in found if phase.kind is Kind.HOLD)
    assert hold.start <= 15
    assert hold.last >= 0.8 * len(log.time)
    assert not {Kind.SWEEP, Kind.VENT} & {phase.kind for phase in found}


@pytest.mark.parametrize("gauge", ["CH2", "CH3"])
def test_a_chamber_still_pumped_through_an_orifice_is_never_a_hold(gauge):
    _, found = phases("orifice-chamber/ref_20230515_154824.txt", gauge, "mbar")
    assert Kind.HOLD not in {phase.kind for phase in found}


FREEZE_DRYER = "freeze-dryer/2023-03-02_RF_Mannitol_process.csv"


@pytest.mark.parametrize("gauge", ["SPLYO.CHAMBER_CM.F_CV", "SPLYO.CHAMBER_PIRANI.F_CV"])
def test_a_pressure_kept_by_a_controller_is_never_a_hold(gauge):
    log, found = phases(FREEZE_DRYER, gauge, "mTorr")
    assert len(log.time) == 1200
    assert {phase.kind for phase in found} <= {Kind.PUMPDOWN, Kind.UNCLEAR}


def test_half_a_day_at_one_set_point_is_left_to_the_user():
    _, found = phases(FREEZE_DRYER, "SPLYO.CHAMBER_CM.F_CV", "mTorr")
    assert found[-1].kind is Kind.UNCLEAR
    assert found[-1].duration > 12 * 3600
    assert "--hold START..END" in found[-1].remark


def test_a_gauge_that_reads_nothing_until_the_chamber_is_pumped_holds_nothing():
    _, found = phases("freeze-dryer/2024-06-04-10_MFD_AH.csv", "VacCPM", "mTorr")
    assert Kind.HOLD not in {phase.kind for phase in found}


def test_the_manifolds_pull_ends_by_a_further_fall_and_not_by_a_hold():
    log, found = phases("manifold-functional-test/log.txt")
    assert found[-1].last == len(log.time) - 1
    # Two minutes at nearly 0.5 mbar still fall by a tenth before the last fall to a fiftieth of it.
    late = log.pressure[(log.time > 210) & (log.time < 330)]
    assert late[-1] < 0.9 * late[0]
    assert log.pressure[-1] < 0.05 * late[-1]
