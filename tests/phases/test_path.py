"""The objective against plain loops, and the gauge's scale against what its gauge was made of. All of it synthetic."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from decay.log.pressure_log import PressureLog
from decay.phases.knots import Knots, knots_of
from decay.phases.path import FEWEST, LEAST, TURN, WRONG, Segment, State, cheapest, segment_costs
from decay.phases.readings import LEAVES, RANGE_JUMP, excursions, prepare
from decay.phases.scale import FOUR_THIRDS, REPEATS, measure_scale
from tests.phases.truth import MICRON, Bench


def held(seed: int = 0) -> Knots:
    """Return the knots of a pull and a hold."""
    made = Bench(np.random.default_rng(seed))
    made.pull(1500, 12.0, 60 * MICRON, 900 * MICRON)
    made.hold(1200, 10 * MICRON / 60, 150 * MICRON, 400.0, 20 * MICRON, 3.0)
    return knots_of(prepare(made.log()))


def drawn(heights: list[float]) -> Knots:
    """Return knots of twenty readings and as many seconds at given heights; one micron is one scale."""
    y = np.array(heights)
    count = len(y)
    first = 20 * np.arange(count)
    scale = SimpleNamespace(of=lambda pressure: np.asarray(pressure))
    return Knots(
        first, first + 19, first + 10.0, first + 0.0, first + 19.0, y, y, np.zeros(count), np.zeros(count, bool),
        np.zeros(count, int), scale,  # type: ignore[arg-type]
    )  # fmt: skip


def rise_back(y, jumps) -> float:
    """Return the largest rise inside a segment less its largest jump, by plain loops."""
    best = 0.0
    for low in range(len(y)):
        for high in range(low, len(y)):
            inside = [jumps[k] for k in range(low + 1, high + 1)]
            best = max(best, y[high] - y[low] - max(inside, default=0.0))
    return best


@pytest.mark.parametrize("seed", range(3))
def test_pumping_costs_its_largest_rise_back_less_one_range_jump(seed):
    rng = np.random.default_rng(seed)
    y = 300.0 + np.cumsum(rng.normal(0.0, 12.0, 14))
    costs = segment_costs(drawn(list(y)))
    step = np.diff(y, prepend=y[0])
    jumps = np.where((step > 0) & (step <= RANGE_JUMP * np.append(y[0], y[:-1])), step, 0.0)
    for first in range(14):
        for last in range(first + 1, 14):
            # Its first jump leads from the knot before it.
            inside = np.where(np.arange(14) == first, 0.0, jumps)[first : last + 1]
            idle = TURN if first and y[max(first - 1, 0)] - y[first : last + 1].min() < TURN else 0.0
            expected = rise_back(y[first : last + 1], inside) + idle
            assert costs[State.PUMPED, last, first] == pytest.approx(expected, abs=1e-9)


def test_a_hold_costs_its_fall_back_and_a_pull_none_while_it_falls():
    costs = segment_costs(drawn([900.0, 500.0, 300.0, 200.0, 150.0, 120.0]))
    assert costs[State.PUMPED, 5, 0] == 0.0
    assert costs[State.HELD, 5, 0] == pytest.approx(780.0)


def test_a_reading_above_range_costs_half_a_turn():
    knots = drawn([900.0, 500.0, 300.0, 200.0])
    knots.above[2] = 3
    assert segment_costs(knots)[State.PUMPED, 3, 0] == pytest.approx(3 * WRONG * TURN)


def test_a_short_segment_costs_one_turn_more_but_not_at_the_ends_of_the_log():
    costs = segment_costs(held())
    knots = held()
    length = knots.end[:, None] - knots.begin[None, :]
    number = knots.last[:, None] - knots.first[None, :] + 1
    brief = [(j, i) for i in range(1, len(length)) for j in range(i, len(length) - 1)
             if length[j, i] < LEAST and number[j, i] < FEWEST]  # fmt: skip
    assert brief
    assert all(costs[State.HELD, j, i] >= TURN for j, i in brief)


@pytest.mark.parametrize("seed", range(4))
def test_pull_and_hold_are_cut_where_it_costs_least(seed):
    knots = held(seed)
    path = cheapest(knots)
    last = len(knots.time) - 1
    assert [segment.state for segment in path.segments] == [State.PUMPED, State.HELD]
    whole = [path.costs[State.PUMPED, k, 0] + path.costs[State.HELD, last, k + 1] for k in range(last)]
    cut = path.segments[0].last
    assert whole[cut] == pytest.approx(min(whole))
    early, late = path.closings(*path.segments, within=TURN)
    assert early <= cut + 1 <= late
    assert knots.begin[early] - 60.0 <= 1500.0 <= knots.end[late] + 60.0


def test_one_turn_more_is_worth_a_rise_of_more_than_a_turn():
    falls = [900.0, 500.0, 300.0, 200.0, 150.0, 120.0]
    slight = cheapest(drawn([*falls, 120.0, 121.0, 122.0, 123.0]))
    clear = cheapest(drawn([*falls, 130.0, 140.0, 150.0, 160.0]))
    assert [segment.state for segment in slight.segments] == [State.PUMPED]
    # The lowest knot costs as much on either side.
    assert clear.segments[-1] in (Segment(State.HELD, 5, 9), Segment(State.HELD, 6, 9))


class TestScale:
    """The gauge's own scale."""

    def log(self, noise: float, step: float) -> PressureLog:
        rng = np.random.default_rng(1)
        time = np.arange(0.0, 6000.0)
        pressure = 100.0 * MICRON + 1e-3 * time + noise * rng.standard_normal(len(time))
        pressure = np.round(pressure / step) * step
        return PressureLog("made", time, pressure, np.arange(6000), np.zeros(6000, bool), np.full(6000, step), "g",
                           "Pa", 6000)  # fmt: skip

    @pytest.mark.parametrize(("noise", "step"), [(1.0, 0.001), (0.01, 2.0), (0.5, 0.5)])
    def test_it_holds_noise_step_and_repeatability(self, noise, step):
        readings = prepare(self.log(noise, step))
        scale = measure_scale(readings, 100)
        at = 15.0
        # Of coarse steps a reading's noise is at least that of the step.
        white = max(noise, step / 12**0.5)
        expected = np.sqrt(
            (FOUR_THIRDS * white) ** 2 / 100 + (step / 2) ** 2 + readings.wander**2 + (REPEATS * at) ** 2
        )
        assert np.interp(at, scale.pressure, scale.scale) == pytest.approx(expected, rel=0.15)

    def test_it_counts_evenly_where_it_does_not_change(self):
        scale = measure_scale(prepare(self.log(1.0, 0.001)), 1)
        low, middle, high = scale.of(np.array([14.0, 15.0, 16.0]))
        assert high - middle == pytest.approx(middle - low, rel=0.05)
        below = scale.of(np.array([scale.pressure[0] - 5.0, scale.pressure[0]]))
        assert below[1] - below[0] == pytest.approx(5.0 / scale.scale[0])


class TestExcursions:
    """What leaves the curve and comes back, and what does not."""

    def odd(self, pressure) -> list[int]:
        pressure = np.asarray(pressure, dtype=float)
        count = len(pressure)
        noise = np.full(count, 1.0 / LEAVES)
        return np.flatnonzero(excursions(np.arange(float(count)), pressure, noise, np.zeros(count))).tolist()

    @pytest.mark.parametrize("length", [1, 2, 5, 8])
    @pytest.mark.parametrize("value", [0.0, 500.0, np.inf])
    def test_some_readings(self, length, value):
        pressure = np.full(40, 100.0)
        pressure[20 : 20 + length] = value
        assert self.odd(pressure) == list(range(20, 20 + length))

    def test_nine_readings_are_an_event(self):
        pressure = np.full(40, 100.0)
        pressure[20:29] = 500.0
        assert self.odd(pressure) == []

    @pytest.mark.parametrize(
        "pressure",
        [
            1000.0 * np.exp(-np.arange(40) / 5.0),
            np.where(np.arange(40) < 20, 100.0, 100.0 + 50.0 * (np.arange(40) - 20)),
            np.where(np.arange(40) < 20, 150.0 - 5.0 * np.arange(40), 50.0 + 20.0 * (np.arange(40) - 20.0)),
            np.where(np.arange(40) < 20, 100.0, 104.0),
            2e4 * (1.0 - np.exp(-np.maximum(np.arange(40) - 20, 0) / 6.0)) + 100.0,
        ],
        ids=["fall", "rise", "corner", "range jump", "fill"],
    )
    def test_what_goes_on_is_none(self, pressure):
        assert self.odd(pressure) == []
