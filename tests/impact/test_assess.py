"""What a leak means: against computed check values, at the limits, and by simulation of the combined interval."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from decay import quantities
from decay.errors import RangeError
from decay.impact.assess import allowed_rise, assess
from decay.interval import Interval
from decay.system import System

YEAR = 365.25 * 86400.0
MICRON_PER_MINUTE = quantities.MICRON / 60.0


def exactly(x: float) -> Interval:
    return Interval(x, x, x)


def car(**changes: object) -> System:
    known = System(exactly(0.003), "stated", "R134a", 0.65, 298.15, 3.0, None, 0.0)
    return replace(known, **changes)  # type: ignore[arg-type]


def grams_a_year(loss: Interval) -> float:
    return loss.value * 1000 * YEAR


def test_one_micron_a_minute_in_ten_litres() -> None:
    """Computed from the two laws with the property library at 20 degC: 1574 g/yr laminar, by the integral of density
    over viscosity of a real gas (1418 as an ideal one), and 72.6 g/yr molecular."""
    system = car(volume=exactly(0.010), ambient=293.15)
    impact = assess(exactly(MICRON_PER_MINUTE), MICRON_PER_MINUTE, system)
    assert impact.throughput is not None
    assert impact.loss is not None
    assert impact.throughput.value == pytest.approx(2.22204e-5, rel=1e-5)
    assert grams_a_year(impact.loss.laminar) == pytest.approx(1574, rel=0.002)
    assert grams_a_year(impact.loss.molecular) == pytest.approx(72.6, rel=0.001)
    assert impact.detectable_throughput == pytest.approx(impact.throughput.value)
    assert impact.detectable_loss == pytest.approx((impact.loss.laminar.value, impact.loss.molecular.value))


def test_fifty_micron_a_minute_in_three_litres_is_tens_of_grams_a_day() -> None:
    impact = assess(exactly(50 * MICRON_PER_MINUTE), 0.0, car())
    assert impact.throughput is not None
    assert impact.loss is not None
    assert impact.throughput.value == pytest.approx(3.3e-4, rel=0.02)
    assert 10 < impact.loss.laminar.value * 1000 * 86400 < 100


def test_workshop_rule_of_a_month_is_kinder_than_both_laws() -> None:
    """A workshop text of 1992 (read): a rise of 13.3 kPa in 10 min empties the charge in about a month.

    By both laws of flow, with R-12 in a car's circuit, it is gone within two days: the rule understates the leak more
    than tenfold, and its order of magnitude is not reproduced.
    """
    impact = assess(exactly(13.3e3 / 600.0), 0.0, car(refrigerant="R12", charge=1.0))
    assert impact.until_empty is not None
    assert 3600 < impact.until_empty.laminar.value < impact.until_empty.molecular.value < 2 * 86400


def test_time_left() -> None:
    impact = assess(Interval(2e-3, 1e-3, 4e-3), 1e-3, car())
    assert impact.loss is not None
    assert impact.until_empty is not None
    assert impact.until_70_percent is not None
    empty, loss = impact.until_empty.laminar, impact.loss.laminar
    assert empty.value == pytest.approx(0.65 / loss.value)
    assert (empty.low, empty.high) == pytest.approx((0.65 / loss.high, 0.65 / loss.low))
    assert impact.until_70_percent.laminar.value == pytest.approx(0.3 * empty.value)


def test_no_leak_seen_keeps_open_ends() -> None:
    impact = assess(Interval(0.0, 0.0, math.inf), 1e-3, car())
    assert impact.throughput == Interval(0.0, 0.0, math.inf)
    assert impact.until_empty is not None
    assert impact.until_empty.laminar == Interval(math.inf, 0.0, math.inf)
    assert impact.dominant == "fit"


def test_a_lower_end_of_zero_stays_zero() -> None:
    impact = assess(Interval(1e-3, 0.0, 2e-3), 1e-3, car(volume=Interval(0.003, 0.0027, 0.0033)))
    assert impact.throughput is not None
    assert impact.throughput.low == 0.0
    assert impact.throughput.high > 2e-3 * 0.003


def test_a_bound_of_the_volume_bounds_the_leak_and_proves_none() -> None:
    bounded = assess(Interval(2e-3, 1.9e-3, 2.1e-3), 1e-3, car(volume=Interval(0.05, 0.0, 0.05)))
    assert bounded.throughput is not None
    assert bounded.loss is not None
    assert bounded.throughput.low == bounded.loss.laminar.low == bounded.loss.molecular.low == 0.0
    assert bounded.throughput.high == pytest.approx(2.1e-3 * 0.05)
    assert bounded.dominant == "volume"
    assert any("upper bound" in remark for remark in bounded.remarks)
    # 650 g in 50 L would be all vapour; but the volume may be smaller, and then the charge stands at saturation.
    assert not any("too little for liquid" in remark for remark in bounded.remarks)
    smaller = assess(Interval(2e-3, 1.9e-3, 2.1e-3), 1e-3, car())
    assert smaller.loss is not None
    assert bounded.loss.laminar.high > smaller.loss.laminar.high


def test_doubling_the_volume_doubles_the_leak() -> None:
    one, two = (assess(Interval(2e-3, 1e-3, 4e-3), 1e-3, car(volume=exactly(v))) for v in (0.003, 0.006))
    assert one.loss is not None
    assert two.loss is not None
    for name in ("value", "low", "high"):
        ratio = getattr(two.loss.molecular, name) / getattr(one.loss.molecular, name)
        assert ratio == pytest.approx(2.0, rel=0.01)


@pytest.mark.parametrize("relative_fit", [0.02, 0.2, 3.0])
def test_combined_interval_covers(relative_fit: float) -> None:
    """A normal fit error times log-normal volume and gain: the interval must cover the truth as often as it says."""
    generator = np.random.default_rng(3)
    truth, sigma, covered, runs = 1.0, relative_fit, 0, 3000
    for _ in range(runs):
        fitted = truth + sigma * generator.standard_normal()
        fit = Interval(max(fitted, 0.0), max(fitted - 1.96 * sigma, 0.0), max(fitted + 1.96 * sigma, 0.0))
        volume, gain = np.exp(0.1 / 1.96 * generator.standard_normal(2))
        stated = float(volume)
        spread = Interval(stated, stated * math.exp(-0.1), stated * math.exp(0.1))
        # The gauge showed fit / gain; the volume was stated as `volume` while the true one is 1.
        shown = fit.scaled(float(gain))
        interval = assess(shown, 0.0, System(spread, "stated", gauge_accuracy=0.1)).throughput
        assert interval is not None
        covered += interval.low <= truth <= interval.high
    assert covered / runs > 0.94


@pytest.mark.parametrize(
    ("changes", "rise", "dominant"),
    [
        ({"refrigerant": None}, Interval(1.0, 0.5, 1.5), "fit"),
        ({"refrigerant": None, "volume": Interval(0.003, 0.002, 0.004)}, Interval(1.0, 0.99, 1.01), "volume"),
        ({"refrigerant": None, "gauge_accuracy": 0.3}, Interval(1.0, 0.99, 1.01), "gauge"),
        ({"ambient": 261.15}, Interval(1.0, 0.99, 1.01), "law of flow"),
        ({"ambient": 248.15, "ambient_spread": 10.0}, Interval(1.0, 0.99, 1.01), "temperature"),
    ],
)
def test_which_uncertainty_rules(changes: dict[str, object], rise: Interval, dominant: str) -> None:
    assert assess(rise, 0.1, car(**changes)).dominant == dominant


@pytest.mark.parametrize(
    ("changes", "option"),
    [
        ({"volume": None}, "--volume"),
        ({"refrigerant": None}, "--refrigerant"),
        ({"ambient": None}, "--ambient"),
        ({"charge": None}, "--charge"),
        ({"gauge_accuracy": None}, "--gauge-accuracy"),
    ],
)
def test_what_was_not_told_is_said(changes: dict[str, object], option: str) -> None:
    impact = assess(exactly(1e-3), 1e-3, car(**changes))
    assert any(option in remark for remark in impact.remarks)
    if option in ("--volume", "--refrigerant", "--ambient"):
        assert impact.loss is None


def test_nothing_leaks_out_below_atmosphere() -> None:
    impact = assess(exactly(1e-3), 1e-3, car(refrigerant="R123", ambient=288.15))
    assert impact.loss is not None
    assert impact.loss.laminar == exactly(0.0)
    assert any("below atmospheric" in remark for remark in impact.remarks)


def test_carbon_dioxide_above_its_critical_temperature() -> None:
    impact = assess(exactly(1e-3), 1e-3, car(refrigerant="R744", ambient=310.15))
    assert impact.loss is not None
    assert any("no saturation pressure" in remark for remark in impact.remarks)


def test_an_ambient_outside_the_table_leaves_the_loss_open() -> None:
    impact = assess(exactly(1e-3), 1e-3, car(ambient=400.0))
    assert impact.loss is None
    assert any("reaches from -40 to 70" in remark for remark in impact.remarks)


def test_an_unknown_refrigerant_is_an_error() -> None:
    with pytest.raises(RangeError, match="nearest"):
        assess(exactly(1e-3), 1e-3, car(refrigerant="R134b"))


def test_allowed_rise() -> None:
    assert allowed_rise(car()) is None
    assert allowed_rise(car(allow=quantities.read_allowance("2 micron/min"))) == pytest.approx(2 * MICRON_PER_MINUTE)
    flow = quantities.read_allowance("1e-5 mbar*L/s")
    assert allowed_rise(car(allow=flow)) == pytest.approx(1e-6 / 0.003)
    assert allowed_rise(car(allow=flow, volume=Interval(0.003, 0.002, 0.004))) == pytest.approx(1e-6 / 0.004)
    assert allowed_rise(car(allow=flow, gauge_accuracy=0.1)) == pytest.approx(0.9e-6 / 0.003)
    assert allowed_rise(car(allow=flow, volume=None)) is None
    assert allowed_rise(car(allow=quantities.read_allowance("5 g/yr"), ambient=None)) is None


def test_a_rise_just_allowed_loses_no_more_than_allowed_whatever_is_true() -> None:
    allow = quantities.read_allowance("5 g/yr")
    system = car(allow=allow, volume=Interval(0.003, 0.0027, 0.0033), gauge_accuracy=0.1)
    rise = allowed_rise(system)
    assert rise is not None
    impact = assess(exactly(rise), rise, system)
    assert impact.loss is not None
    assert max(impact.loss.laminar.high, impact.loss.molecular.high) <= allow.value * (1 + 1e-9)
    assert impact.loss.laminar.value > 0.5 * allow.value


def test_each_uncertainty_stands_by_itself() -> None:
    impact = assess(Interval(1.0, 0.9, 1.1), 0.1, car(volume=Interval(0.003, 0.0024, 0.0036), gauge_accuracy=0.05))
    sizes = dict(impact.spreads)
    assert set(sizes) == {"fit", "volume", "gauge", "temperature", "law of flow"}
    assert sizes["fit"] == pytest.approx(0.5 * math.log(1.1 / 0.9))
    assert sizes["volume"] == pytest.approx(0.5 * math.log(1.5))
    assert sizes["gauge"] == pytest.approx(0.5 * math.log(1.05 / 0.95))
    assert impact.dominant == max(sizes, key=lambda name: sizes[name])
