"""Text with a unit to SI numbers and back: the one room that knows how people write quantities, and `pint`.

Pressures, times, temperatures and shares are read from small tables of our own, so that the usual run never loads
`pint`; every other kind goes through a private registry that is built on first use.
"""

from __future__ import annotations

from decay.constants import MICRON, STANDARD_ATMOSPHERE
from decay.quantities.reading import (
    read_allowance,
    read_duration,
    read_flow,
    read_fraction,
    read_length,
    read_mass,
    read_power,
    read_pressure,
    read_quantity,
    read_rise_rate,
    read_temperature,
    read_volume,
)
from decay.quantities.rounding import rounded, upward
from decay.quantities.units import (
    PRESSURE_UNITS,
    STANDARD_TEMPERATURE,
    THROUGHPUT_UNITS,
    TORR,
    pressure_unit,
    throughput_in,
)
