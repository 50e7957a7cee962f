"""Gaps, rails, stuck readings and steps: what is flagged, and the near miss that is not."""

from dataclasses import replace

import numpy as np
import pytest
from writing import read_text, rows, table

from decay.log.quality import bottom_of_range, inspect
from decay.quantities import MICRON


def log_of(tmp_path, values):
    return read_text(tmp_path, table(rows(list(values))))


def test_gap(tmp_path):
    body = rows()
    log = read_text(tmp_path, table(body[:10] + body[18:]))
    assert np.flatnonzero(inspect(log).is_gap_before).tolist() == [10]


def test_rail_and_plateau(tmp_path):
    rising = [100 + 50 * i for i in range(30)]
    assert inspect(log_of(tmp_path, [*rising, *[2000] * 12])).is_railed.sum() == 12
    creeping = [int(500 - 400 * np.exp(-i / 20)) for i in range(200)]
    assert not inspect(log_of(tmp_path, creeping)).is_railed.any()


def test_rail_at_any_number(tmp_path):
    rising = [100 + 49 * i + 7 * i % 5 for i in range(40)]
    assert inspect(log_of(tmp_path, [*rising, *[2100] * 12])).is_railed.sum() == 12
    slow = [400 + 0.4 * i for i in range(500)]
    assert inspect(log_of(tmp_path, [*(f"{v:.0f}" for v in slow), *[599] * 200])).is_railed.sum() >= 200


def test_what_is_no_rail(tmp_path):
    jump = [*[120] * 60, 121, 190, *[212] * 300]  # isolated, then tight
    assert not inspect(log_of(tmp_path, jump)).is_railed.any()
    equalising = [*[100] * 40, *(f"{180 - 80 * np.exp(-i / 5):.0f}" for i in range(400))]
    assert not inspect(log_of(tmp_path, equalising)).is_railed.any()
    straight = [f"{100 + 0.25 * i:.1f}" for i in range(3600)]
    assert not inspect(log_of(tmp_path, straight)).is_railed.any()
    levelling = [f"{4300 - 4000 * np.exp(-i / 600):.1f}" for i in range(6000)]
    assert not inspect(log_of(tmp_path, levelling)).is_railed.any()


def test_rail_told_by_the_gauge_beside(tmp_path):
    piezo = [500 + 2 * i for i in range(500)]
    thermal = [min(p, 998 + p % 3) for p in piezo]
    body = [(t, a, str(b)) for (t, a), b in zip(rows(list(thermal)), piezo, strict=True)]
    log = read_text(tmp_path, table(body, ("Time", "Thermal micron", "Piezo micron")), gauge="Thermal micron")
    flags = inspect(log)
    assert flags.is_railed[260:].all()
    assert not flags.is_railed[:245].any()


def test_over_range_before_the_top(tmp_path):
    values = ["OL"] * 12 + [3000] * 8 + [3000 - 90 * i for i in range(30)]
    log = log_of(tmp_path, values)
    assert log.is_over_range.sum() == 12
    assert inspect(log).is_railed[12:20].all()  # a round number, left fast


@pytest.mark.parametrize(("top", "is_end"), [(20000, True), (19650, False)])
def test_a_logger_that_writes_changes_alone_shows_the_end_of_the_range_by_two_rows(tmp_path, top, is_end):
    rise = [1000 + 380 * i for i in range(50)]
    log = log_of(tmp_path, [*rise, top, top])
    later = np.where(np.arange(len(log.time)) == len(log.time) - 1, 7200.0, log.time)
    assert inspect(replace(log, time=later)).is_railed.tolist() == [False] * 50 + [is_end] * 2
    assert not inspect(log).is_railed.any()  # at even distances two readings show no stop


def test_stuck(tmp_path):
    before = [1000 - 5 * i for i in range(60)]
    assert inspect(log_of(tmp_path, [*before, *[700] * 60, *[500 - 2 * i for i in range(40)]])).is_stuck.sum() == 60
    assert not inspect(log_of(tmp_path, [*before, *[705] * 60])).is_stuck.any()


def test_coarser_step_at_higher_pressure(tmp_path):
    low = [300 + 7 * i % 101 for i in range(60)]
    high = [3000 + 10 * (13 * i % 97) for i in range(60)]
    log = log_of(tmp_path, [*high, *low])
    np.testing.assert_allclose(log.step[:60], 10 * MICRON)
    np.testing.assert_allclose(log.step[60:], MICRON)


def test_significant_digits(tmp_path):
    values = [f"{10 ** (3 - i / 20):.2E}" for i in range(60)]
    log = log_of(tmp_path, values)
    decade = np.floor(np.log10(log.pressure / MICRON) + 1e-9)
    np.testing.assert_allclose(log.step / MICRON, 10.0 ** (decade - 2))


def test_readings_converted_from_whole_microns(tmp_path):
    values = [f"{(300 + (7 * i % 23)) * MICRON:.4f}" for i in range(80)]
    log = read_text(tmp_path, table(rows(values), ("Time", "Pressure (Pa)")))
    np.testing.assert_allclose(log.step, 1e-4)  # all steps here are multiples of more than one micron apart


@pytest.mark.parametrize("kind", [float, np.float32])
def test_binary_noise_is_no_resolution(tmp_path, kind):
    """A meter that shows hundredths, logged by a program that prints all digits of its floating-point number."""
    shown = [0.9 + (i * i * i % 53) / 100 for i in range(60)]
    noisy = [repr(float(kind(round(value, 2)) * kind(1))) for value in shown]
    noisy[::3] = [repr(0.1 + 0.2 + round(value - 0.3, 2)) for value in shown[::3]]
    assert any(len(text) > 12 for text in noisy)
    log = read_text(tmp_path, table(rows(noisy), ("Time", "Torr")))
    np.testing.assert_allclose(log.step, 0.01 * 101325 / 760)


def test_arrays_cannot_be_changed(tmp_path):
    flags = inspect(log_of(tmp_path, [500 - i for i in range(30)]))
    assert not flags.is_stuck.flags.writeable
    log = log_of(tmp_path, [500 - i for i in range(30)])
    for array in (log.time, log.pressure, log.line, log.is_over_range, log.step):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1


def test_the_step_of_a_gauge_of_three_ranges(tmp_path):
    """1 micron below 1,000, 50 above, 500 above 10,000."""
    fine = [400 + 3 * i + i % 3 for i in range(200)]
    coarse = [1000 + 50 * (i // 3) for i in range(540)]
    coarsest = [10000 + 500 * (i // 4) for i in range(80)]
    log = log_of(tmp_path, [*fine, *coarse, *coarsest])
    for low, high, step in ((400, 999, 1), (1000, 9999, 50), (10000, 20000, 500)):
        here = (log.pressure >= low * MICRON) & (log.pressure <= high * MICRON)
        assert np.median(log.step[here]) == pytest.approx(step * MICRON), low


def test_the_step_where_a_hold_ends_on_one_number(tmp_path):
    """A converted reading: below 750 in steps of 7.5, then 75 higher, where the hold ends."""
    low = [f"{675 + 7.5 * (i // 12):g}" for i in range(132)]
    log = log_of(tmp_path, [*low, *["825"] * 60, *["900"] * 60, *["975"] * 200])
    assert log.step[0] == pytest.approx(7.5 * MICRON)
    assert log.step[200] == log.step[-1] == pytest.approx(75 * MICRON)


@pytest.mark.parametrize(("unit", "size", "places"), [("mbar", 750.0617, 7), ("micron", 1.0, 0)])
def test_the_step_of_a_gauge_whose_step_is_large_beside_the_pressure(tmp_path, unit, size, places):
    """A meter of 50 micron a step, logged in another unit: few numbers in any decade, and none of them round."""
    pull = [50 * round(0.7**i * 400) for i in range(14)]
    rise = [50 * (1 + i // 30) for i in range(300)]
    log = read_text(tmp_path, table(rows([f"{v / size:.{places}f}" for v in (*pull, *rise)]), ("Time", f"p [{unit}]")))
    low = log.pressure < 600 * MICRON
    np.testing.assert_allclose(log.step[low], 50 * MICRON, rtol=2e-3)


def test_numbers_that_only_one_of_stays_are_no_ladder(tmp_path):
    """Near miss: a straight fall read at even distances, to a steady end."""
    log = log_of(tmp_path, [*range(900, 300, -50), *[300] * 60])
    assert log.step[-1] < 50 * MICRON


def test_a_fast_pull_to_one_number_tells_no_step(tmp_path):
    """Near miss: the readings before a steady end were not held."""
    pull = [int(5000 * 0.8**i) for i in range(12)]
    log = log_of(tmp_path, [*pull, *["340"] * 60])
    assert log.step[-1] == pytest.approx(MICRON)


def test_the_bottom_of_the_range(tmp_path):
    for floor in ("1", "5", "7.5"):
        log = log_of(tmp_path, [*[int(3000 * 0.8**i) + 30 for i in range(20)], *[floor] * 30, *range(20, 60)])
        bottom = bottom_of_range(log, float(log.time[20]), float(log.time[-1]))
        assert bottom is not None, floor
        assert (bottom.pressure, bottom.share) == pytest.approx((float(floor) * MICRON, 30 / 70)), floor
    for low in ("0", "47", "12"):  # zero has a finding of its own; a pressure that stands still
        log = log_of(tmp_path, [*[int(3000 * 0.8**i) + 50 for i in range(20)], *[low] * 30, *range(60, 90)])
        assert bottom_of_range(log, float(log.time[20]), float(log.time[-1])) is None


def test_a_gross_leak_to_a_number_that_is_not_round(tmp_path):
    rise = [80, 80, 81, 80, 400, 2600, 7000]
    log = log_of(tmp_path, [*rise, *[13790] * 40])
    assert inspect(log).is_railed[7:].all()
    assert not inspect(log_of(tmp_path, [*rise, *(13790 + 3 * i for i in range(40))])).is_railed.any()
