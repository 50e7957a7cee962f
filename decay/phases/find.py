"""The one way from a log to its phases: prepare, find the turns, label, check that nothing is left out."""

from __future__ import annotations

from typing import Any

import numpy as np

from decay.log.pressure_log import PressureLog
from decay.phases.between import make_phase
from decay.phases.label import label
from decay.phases.phase import Kind, Phase, Untold
from decay.phases.readings import prepare

# Fewer readings than these show no shape.
FEWEST = 5


def find_phases(log: PressureLog, quality: Any = None) -> tuple[Phase, ...]:
    """Return what each stretch of a log is.

    Parameters
    ----------
    log : PressureLog
        The readings.
    quality : Quality, optional
        Flags of the readings; those at the upper end of a gauge's range count as over range.

    Returns
    -------
    tuple of Phase
        In order of time and without gaps: every reading belongs to one phase. Empty for an empty log.

    Notes
    -----
    Turning points are found on log pressure with a hysteresis from the noise and the step of the gauge; the moment
    the valve closed is the best cut between a line and a line with a settling step; the ends of a hold are the last
    readings on its curve. A hold needs a rise beyond noise and wandering, or a fall that ends too soon; what is merely
    flat is unclear at the end of a log, and pumping before a further fall.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(0.0, 900.0)
    >>> fall = 1e5 * np.exp(-np.minimum(time, 600.0) / 25.0) + 40.0
    >>> log = PressureLog("-", time, fall + 0.1 * np.maximum(time - 600.0, 0.0), np.arange(900),
    ...                   np.zeros(900, bool), np.full(900, 0.1), "g", "Pa", 900)
    >>> phases = find_phases(log)
    >>> [phase.kind.value for phase in phases], abs(phases[1].start - 600.0) <= 2.0
    (['pumpdown', 'hold'], True)
    """
    count = len(log.time)
    if count == 0:
        return ()
    if count < FEWEST:
        return (make_phase(log, Kind.UNCLEAR, 0, count - 1, untold=Untold.FEW),)
    readings = prepare(log, quality)
    if readings.is_above.all():
        return (make_phase(log, Kind.UNCLEAR, 0, count - 1, untold=Untold.OVER_RANGE),)
    phases = []
    first = 0
    for piece in label(readings):
        told = {name: getattr(piece, name) for name in ("begun", "ended", "untold", "earlier", "later")}
        told["set_aside"] = int(np.count_nonzero(readings.is_odd[first : piece.last + 1]))
        if piece.closings is not None:
            told["closings"] = tuple(float(log.time[index]) for index in piece.closings)
        phases.append(make_phase(log, piece.kind, first, piece.last, **told))
        first = piece.last + 1
    return tuple(phases)
