"""What a difference of temperature makes of two rises: by hand, and from the command line (invented logs)."""

from __future__ import annotations

import numpy as np
import pytest
from click.testing import CliRunner

from decay.comparison import Due, warmth_of
from decay_cli.main import decay

COLD, WARM = 294.15, 309.15


@pytest.mark.parametrize(("rises", "due"), [
    ((100.0, 260.0), Due.WARMTH), ((100.0, 102.0), Due.NOT_WARMTH), ((100.0, 2000.0), Due.MORE),
    ((100.0, 40.0), Due.MORE),
])
def test_what_the_difference_is_due_to(rises, due):
    assert warmth_of(COLD, WARM, rises).due is due


def test_the_growth_that_outgassing_may_have_by_hand():
    """40,000 / 8.314 x (1/294.15 - 1/308.15) = 0.743: 2.10; 110,000 / 8.314 x (1/294.15 - 1/310.15) = 2.320: 10.2."""
    assert warmth_of(COLD, WARM, (100.0, 200.0)).expected == pytest.approx((2.10, 10.2), rel=0.01)


def test_a_colder_second_hold_is_read_the_other_way_round():
    found = warmth_of(WARM, COLD, (260.0, 100.0))
    assert found.due is Due.WARMTH
    assert found.energy == pytest.approx(warmth_of(COLD, WARM, (100.0, 260.0)).energy)
    assert found.expected[1] < 1.0


@pytest.mark.parametrize(("before", "after", "rises"), [
    (None, WARM, (1.0, 2.0)), (COLD, None, (1.0, 2.0)), (COLD, COLD + 2.0, (1.0, 2.0)), (COLD, WARM, (0.0, 2.0)),
])
def test_nothing_is_said_without_temperatures_or_rises(before, after, rises):
    assert warmth_of(before, after, rises) is None


def write(path, rate, seed):
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, 1801.0, 5.0)
    pull, hold = 7e5 * np.exp(-time / 40.0), rate * np.maximum(time - 600.0, 0.0) / 60.0
    pressure = 250.0 + pull + hold + rng.normal(0, 0.5, len(time))
    rows = [f"{t:.0f},{p:.0f}\n" for t, p in zip(time, pressure, strict=True)]
    path.write_text("time [s],pressure [micron]\n" + "".join(rows))
    return str(path)


def test_from_the_command_line(tmp_path):
    cold, warm = write(tmp_path / "a.csv", 3.0, 1), write(tmp_path / "b.csv", 7.5, 2)
    words = ["compare", cold, warm, "--hold-before", "600..1800", "--hold-after", "600..1800", "--no-plot", "--quiet"]
    told = CliRunner().invoke(decay, [*words, "--ambient", "21 degC", "--ambient", "36 degC"])
    assert "The difference is what warmth makes of outgassing" in " ".join(told.output.split())
    assert "WARMTH: makes the difference: gas from inside" in " ".join(told.output.split())
    assert "warmth" not in CliRunner().invoke(decay, [*words, "--ambient", "21 degC"]).output.lower()
