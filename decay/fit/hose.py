"""The hose between gauge and system: beside a leak on its own side a gauge reads the pressure drop along the hose too.

Gas that comes in on the gauge's side flows through the hose into the system, and `p_gauge = p_system + flow / C`. The
conductance `C` grows with the pressure once the flow is no longer molecular, so while a hold rises the drop fades, and
a steady leak looks as if it accelerated.
"""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.fit.bins import Bins
from decay.fit.mixture import Mixture, Solution
from decay.fit.whitening import Whitening
from decay.physics.gas import ROOM
from decay.physics.pump import tube_conductance

BORES = (0.004, 0.010)
"""Bores that stand for the hoses of the trade; a mixture of the two imitates those between. Common practice. [m]"""
_LARGEST_DROP = 0.95
"""The drop as a share of the gauge's pressure: what is left stands in the system, and is never nothing. [-]"""
_LOWEST = 0.01
"""Readings lower than this count as this; the conductance no longer depends on them. [Pa]"""
_EQUALISED_WITHIN = 0.25
"""Share of the hold in which rig and system must come to a steady flow for this model to mean anything. [-]"""
_ROUNDS = 12
_SETTLED = 0.01


def behind_hose(bins: Bins, noise: Whitening, longest: float | FloatArray) -> Mixture:
    """Return the hold's problem with a hose's pressure drop let in, as its last two columns.

    The conductance goes by the mean pressure in the hose, and that depends on the drop: a few rounds settle it.

    Parameters
    ----------
    bins : Bins
        The averaged readings. [Pa, s]
    noise : Whitening
        Noise of the bin means.
    longest : float or ndarray, shape (m,)
        Longest time constant let in, or all of them. [s]

    Returns
    -------
    Mixture
        A model that holds the one without the hose as a special case. [Pa, s]

    References
    ----------
    .. [1] Knudsen, *Annalen der Physik* 28 (1909) 75, for the conductance of a tube between molecular and laminar flow.
    """
    pressure = np.maximum(bins.pressure, _LOWEST)
    drop = np.zeros_like(pressure)
    for _ in range(_ROUNDS):
        fading = _fading(pressure - drop / 2)
        problem = Mixture(bins, noise, longest, extra=fading - 1.0)
        found = fading @ problem.best().amplitudes[-len(BORES) :]
        change = np.clip(found, 0.0, _LARGEST_DROP * pressure) - drop
        if np.max(np.abs(change)) <= _SETTLED * np.max(found):
            break
        drop += change / 2  # all of it would overshoot
    return problem


def is_steady_flow(problem: Mixture, solution: Solution) -> bool:
    """Tell whether a solution of `behind_hose` has the leak that makes its drop.

    A leak `r V` on the gauge's side drops `r V / C` along the hose, and `V / C` is the time in which rig and system
    equalise: a drop without a leak, or with too small a one, stands for something else.
    """
    return drop_at_start(solution) <= _EQUALISED_WITHIN * solution.rate * problem.bins.length


def drop_at_start(solution: Solution) -> float:
    """Return the drop along the hose at the start of the fit, of a solution of `behind_hose`. [Pa]"""
    return float(np.sum(solution.amplitudes[-len(BORES) :]))


def _fading(mean: FloatArray) -> FloatArray:
    """Return the drop of a steady flow as a share of the first, shape (k, 2), by the mean pressure in the hose. [-]"""
    # Its length does not matter: it divides out.
    conductance = np.stack([np.asarray(tube_conductance(bore, 1.0, mean, ROOM)) for bore in BORES], axis=1)
    return np.asarray(conductance[0] / conductance)
