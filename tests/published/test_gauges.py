"""How gauges that are calibrated for air read other gases, against a published table."""

from __future__ import annotations

from decay.physics import gauge


def test_water_on_a_gauge_for_air() -> None:
    """A laboratory gauge manual (read): true = 0.5 x indicated for water vapour, 0.7 for R-12, 1 for air."""
    water, old, air = (gauge.gas_factor(gas) for gas in ("water", "R-12", "air"))
    assert water is not None
    assert old is not None
    assert air is not None
    assert (water.low, old.value, air.value) == (0.5, 0.7, 1.0)
    assert gauge.gas_factor("R-32") is None
