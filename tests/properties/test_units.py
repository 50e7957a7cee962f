"""Units: whatever the number, the same quantity in other words is the same quantity."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decay import quantities
from decay.quantities.units import PRESSURE_UNITS, THROUGHPUT_UNITS, throughput_in

# Rounding: a product of a number and a factor, a handful of operations of 1.1e-16 each.
ROUNDING = 1e-14
NUMBERS = st.floats(1e-6, 1e6)
SAME = settings(derandomize=True, max_examples=100, deadline=None)

# Lengths, volumes and times by definition (SI brochure; international yard and pound agreement of 1959: inch 25.4 mm).
SPELLINGS = {
    "volume": {"L": 1e-3, "litre": 1e-3, "mL": 1e-6, "cm^3": 1e-6, "m^3": 1.0, "in^3": 0.0254**3, "ft^3": 0.3048**3},
    "length": {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": 0.0254, "ft": 0.3048},
    "mass": {"g": 1e-3, "kg": 1.0, "lb": 0.45359237, "oz": 0.45359237 / 16},
    "time": {"s": 1.0, "min": 60.0, "h": 3600.0},
}


@SAME
@given(number=NUMBERS, unit=st.sampled_from(sorted(PRESSURE_UNITS)), other=st.sampled_from(sorted(PRESSURE_UNITS)))
def test_a_pressure_said_in_two_units_is_one_pressure(number, unit, other):
    there = quantities.read_pressure(f"{number!r} {unit}")
    assert there == pytest.approx(number * PRESSURE_UNITS[unit], rel=ROUNDING)
    again = quantities.read_pressure(f"{there / PRESSURE_UNITS[other]!r} {other}")
    assert again == pytest.approx(there, rel=ROUNDING)


@SAME
@given(value=st.floats(0.01, 1.0),
       kind_and_unit=st.sampled_from([(kind, unit) for kind, units in SPELLINGS.items() for unit in units]))
def test_a_quantity_is_its_number_times_its_unit(value, kind_and_unit):
    kind, unit = kind_and_unit
    number = value / SPELLINGS[kind][unit]
    read = quantities.read_quantity(f"{number!r} {unit}", kind)
    assert read == pytest.approx(number * SPELLINGS[kind][unit], rel=ROUNDING)


@SAME
@given(smaller=NUMBERS, larger=NUMBERS, unit=st.sampled_from(sorted(PRESSURE_UNITS)))
def test_order_is_kept(smaller, larger, unit):
    smaller, larger = sorted((smaller, larger))
    assert quantities.read_pressure(f"{smaller!r} {unit}") <= quantities.read_pressure(f"{larger!r} {unit}")


@SAME
@given(throughput=st.floats(1e-12, 1e3), unit=st.sampled_from(sorted(THROUGHPUT_UNITS)))
def test_a_throughput_comes_back_from_every_unit(throughput, unit):
    there = throughput_in(throughput, unit, 273.15, 296.0)
    # The same amount of ideal gas: p V / T is kept.
    assert there * THROUGHPUT_UNITS[unit] * 296.0 / 273.15 == pytest.approx(throughput, rel=ROUNDING)
