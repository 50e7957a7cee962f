"""A pull on a gauge that counts from the atmosphere, without a sign, looks like a rise: it is refused."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from decay import LogError, ReadOptions, read_log

REAL = Path(__file__).resolve().parents[3] / "shared" / "real_logs" / "pump-below-atmosphere" / "suck2.TXT"


def pull(size: float, digits: int, deepest: float = 68.0) -> str:
    """Return a synthetic pull to so many kPa below atmosphere, in a unit of this many to the kPa."""
    rows = [f"{i},{size * deepest * (1.0 - math.exp(-i / 40.0)):.{digits}f}" for i in range(600)]
    return "\n".join(["s,p", *rows])


def read(tmp_path, text, unit):
    path = tmp_path / "log.csv"
    path.write_text(text)
    return read_log(path, ReadOptions(unit=unit))


@pytest.mark.parametrize(("unit", "size", "digits"), [("kPa", 1.0, 1), ("mbar", 10.0, 0), ("bar", 0.01, 3)])
def test_a_rise_from_zero_that_settles_short_of_atmosphere_is_refused(tmp_path, unit, size, digits):
    with pytest.raises(LogError, match="settle short of atmosphere") as refused:
        read(tmp_path, pull(size, digits), unit)
    told = re.search(r'--unit "([^"]+)"', str(refused.value))[1]
    assert len(read(tmp_path, pull(size, digits), told).time) == 600


def test_a_rise_to_atmosphere_and_one_of_a_fine_gauge_are_not(tmp_path):
    assert len(read(tmp_path, pull(1.0, 1, deepest=101.0), "kPa").time) >= 599  # a lone zero may be set aside
    assert len(read(tmp_path, pull(1.0, 3), "kPa").time) >= 599


@pytest.mark.real_logs
@pytest.mark.skipif(not REAL.exists(), reason="foreign logs do not travel with the project")
def test_a_real_pull_below_atmosphere_is_refused():
    with pytest.raises(LogError, match="settle short of atmosphere"):
        read_log(REAL, ReadOptions(unit="kPa"))
