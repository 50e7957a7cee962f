"""Free water as its own hypothesis: a rise towards its saturation pressure, with no leak at all."""

from __future__ import annotations

import numpy as np

from decay.fit.mixture import Mixture, Solution, rise_shapes
from decay.fit.results import WaterFit
from decay.interval import Interval

# A thermal-conductivity gauge reads water vapour up to twice its true pressure (general laboratory gauge
# manuals: true = 0.5 to 0.65 of indicated), so the ceiling on the gauge may stand so much higher.
VAPOUR_READING = 2.0
_WARMING = 0.12
"""Share of the ceiling by which water that warms by two kelvin makes up for a rise towards it: 6 % a kelvin. [-]"""
_NOTHING = 1e-12
"""Rise, as a share of the ceiling, that needs no water. [-]"""


def free_water(problem: Mixture, best: Solution, saturation: Interval, threshold: float) -> WaterFit:
    """Test whether free water alone explains a hold as well as leak and outgassing do.

    Water evaporates into the closed volume at a rate that falls as its own saturation pressure is approached:
    `p = p0 + (ceiling - p0)(1 - exp(-t/tau))`. Far below the ceiling that is a straight line.

    Parameters
    ----------
    problem : Mixture
        The hold. [Pa, s]
    best : Solution
        Its best fit with leak and outgassing. [Pa/s, Pa]
    saturation : Interval
        Saturation pressure of water at the coldest and warmest temperature that the hold may have had. [Pa]
    threshold : float
        Growth of the misfit that counts as worse. [-]

    Returns
    -------
    WaterFit
        What the comparison says.
    """
    bins = problem.bins
    start, end = float(bins.pressure[0]), float(bins.pressure[-1])
    highest = saturation.high * VAPOUR_READING
    rise = end - start
    if end > highest:
        return WaterFit(saturation, False, True, False, float("inf"))
    if rise <= _NOTHING * highest:
        return WaterFit(saturation, False, False, False, float("inf"))
    span = bins.length
    # Water that alone would make the observed rise, for each ceiling: with a free height it may share the rise with
    # other sources, and its own ceiling may lie lower, as evaporation cools it.
    rooms = np.array([c - start for c in (saturation.low, saturation.value, highest) if c - start > 1.001 * rise])
    shapes = rise_shapes(problem.bins.time, span / -np.log1p(-rise / rooms))
    if rise < _WARMING * highest:
        # So far below the ceiling a degree or two more in the water's own temperature makes up for the bend.
        shapes = np.column_stack((shapes, problem.bins.time / span))
    wet = Mixture(bins, problem.noise, problem.time_constants, extra=np.column_stack((problem.extra, shapes)))
    growth = wet.at(0.0).misfit - best.misfit
    plateau = start + float(np.sum(best.amplitudes[: len(problem.time_constants)]))
    bending = best.rate * span < 0.2 * rise and saturation.low * 0.7 <= plateau <= highest
    return WaterFit(
        saturation=saturation,
        is_possible=growth <= threshold,
        is_crossed=False,
        is_bending=bending and rise > 0.1 * saturation.low,
        misfit_growth=growth,
    )
