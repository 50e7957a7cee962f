"""A volume with how it is known: what is added up, what is carried over, and the bound of a pull against truth."""

from __future__ import annotations

import math
import shlex
import tomllib
from pathlib import Path

import pytest

from decay import quantities, read_log
from decay.errors import RangeError, UnitError
from decay.impact import known_volume
from decay.interval import Interval
from tests.fit.holds import hold_log

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
PRESETS = SAMPLES.parent / "decay" / "simulation" / "preset_jobs"
ONE_LITRE = Interval(0.001, 0.00099, 0.00101)


def carried(known: known_volume.KnownVolume) -> Interval:
    """Return the volume that another command reads out of the text to paste."""
    option, text = shlex.split(known.option)
    assert option == "--volume"
    return quantities.read_volume(text)


def test_the_rig_is_asked_for_and_counted() -> None:
    tubes, parts = ["10 mm bore x 1 m"], ["receiver 1.2 L"]
    without = known_volume.sum_of_parts(tubes, parts, None, 0.1)
    none = known_volume.sum_of_parts(tubes, parts, [], 0.1)
    with_rig = known_volume.sum_of_parts(tubes, parts, [("hose", ONE_LITRE)], 0.1)
    assert without.volume is not None
    assert with_rig.volume is not None
    assert without.is_rig_counted is None
    assert any("--rig" in remark for remark in without.remarks)
    assert none.is_rig_counted is False
    assert not none.remarks
    assert with_rig.is_rig_counted is True
    assert with_rig.volume.value - without.volume.value == pytest.approx(0.001)
    assert with_rig.volume.value == pytest.approx(math.pi * 0.01**2 / 4 + 0.0012 + 0.001)


@pytest.mark.parametrize("spread", [0.0, 0.003, 0.1, 0.37])
def test_what_is_pasted_is_never_surer_than_what_was_found(spread: float) -> None:
    known = known_volume.sum_of_parts(["9.5 mm bore x 15 m"], ["receiver 1.2 L +- 5 %"], [("hose", ONE_LITRE)], spread)
    assert known.volume is not None
    pasted = carried(known)
    assert pasted.low <= known.volume.low * (1 + 1e-9)
    assert pasted.high >= known.volume.high * (1 - 1e-9)
    assert abs(pasted.value - known.volume.value) <= max(known.volume.width / 20, 0.5e-3 * known.volume.value)
    assert pasted.width < known.volume.width * 1.1 + 0.004 * pasted.value


def test_expansion_says_what_it_took_for_granted() -> None:
    """Boyle's law: a litre at 2 bar shared with three empty litres settles at half a bar."""
    known = known_volume.expansion(Interval(0.001, 0.001, 0.001), 2e5, None, 0.5e5, None, [])
    assert known.volume is not None
    assert known.volume.value == pytest.approx(0.003)
    said = " ".join(known.remarks)
    for option in ("--system-pressure", "--accuracy", "--vessel", "regulator"):
        assert option in said
    told = known_volume.expansion(ONE_LITRE, 2e5, 0.5e4, 0.5e5, 0.01, None)
    assert "--accuracy" not in " ".join(told.remarks)
    assert told.is_rig_counted is None


def pulls() -> list[tuple[Path, str, float]]:
    """Return the sample logs with the rated speed of the pump that made them and their true volume [L]."""
    found = []
    for job in sorted(PRESETS.glob("*.toml")):
        text = job.read_text(encoding="utf-8")
        speed = next(line.split('"')[1] for line in text.splitlines() if line.startswith("speed"))
        truth = tomllib.loads((SAMPLES / job.name).read_text(encoding="utf-8"))["truth"]
        log = next(p for p in SAMPLES.glob(f"{job.stem}.csv*"))
        found.append((log, speed, truth["isolated_volume_l"]))
    return found


@pytest.mark.parametrize(("log", "speed", "litres"), pulls(), ids=lambda x: x.stem if isinstance(x, Path) else None)
def test_the_bound_of_a_pull_holds_for_every_sample(log: Path, speed: str, litres: float) -> None:
    known = known_volume.bound_from_pull(read_log(log), quantities.read_flow(speed))
    assert known.volume is None
    assert known.bound is not None
    assert litres < known.bound / 1e-3 < 30 * litres
    assert carried(known).value >= known.bound * (1 - 1e-9)
    assert "upper bound" in known.origin
    assert "no estimate" in " ".join(known.remarks)


def test_a_log_without_a_pull_bounds_nothing() -> None:
    log, _ = hold_log(lambda t: 0.01 * t)
    with pytest.raises(RangeError, match="no pull"):
        known_volume.bound_from_pull(log, 0.002)


def test_nothing_to_add() -> None:
    with pytest.raises(UnitError, match=r"9\.5 mm bore"):
        known_volume.sum_of_parts([], [], None, 0.1)
