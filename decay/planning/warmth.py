"""Whether the surroundings are warm enough for the target: what water and ice can still do at that temperature."""

from __future__ import annotations

from dataclasses import dataclass

from decay.judge.criteria import Criterion
from decay.physics import water


@dataclass(frozen=True, slots=True)
class Warmth:
    """The surroundings against the target."""

    ambient: float  # temperature of the surroundings [K]
    saturation: float  # pressure of water there: free water holds a pull at it at first [Pa]
    # Temperature at which water or ice stands at the target: a wet spot colder than that never dries [K]
    coldest_spot: float
    margin: float  # how much warmer the surroundings are than that [K]
    is_warm_enough: bool  # the surroundings are above freezing, above that spot, and above what the criterion asks for
    is_ice_likely: bool  # below the published line under which free water tends to freeze in the pull
    asked: float | None  # temperature that the criterion asks for; ``None`` where it says nothing [K]


def warmth(ambient: float, target: float, criterion: Criterion) -> Warmth:
    """Return whether it is warm enough.

    Parameters
    ----------
    ambient : float
        Temperature of the surroundings. [K]
    target : float
        Pressure to reach. [Pa]
    criterion : Criterion
        It may ask for a temperature.

    Examples
    --------
    >>> from decay.judge import criteria
    >>> found = warmth(296.15, 66.661, criteria.load())
    >>> round(found.coldest_spot - 273.15, 1), found.is_warm_enough, found.is_ice_likely
    (-24.5, True, False)
    """
    spot = water.saturation_temperature(target)
    asked = criterion.ambient_above
    is_warm = ambient > max(spot, water.TRIPLE_POINT_TEMPERATURE, asked if asked is not None else 0.0)
    return Warmth(
        ambient=ambient,
        saturation=float(water.saturation_pressure(ambient)),
        coldest_spot=spot,
        margin=ambient - spot,
        is_warm_enough=is_warm,
        is_ice_likely=ambient < water.ICE_BELOW,
        asked=asked,
    )
