"""Was the practice met: one hold against the numbers of one criterion, part by part."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from decay.arrays import FloatArray
from decay.fit.results import HoldFit, PumpdownFit
from decay.judge import signs, wording
from decay.judge.answer import CriterionOutcome
from decay.judge.case import pull_before, temperature_during
from decay.judge.criteria import Criterion
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.system import System

# The last minute before the valve closed: a reading that wanders by a step there still counts as reached.
LAST_MINUTE = 60.0
# The same reading written in torr and in micron differs by 1.4e-7 of itself: on the line is on the line.
SAME = 1e-6


def apply(
    criterion: Criterion,
    hold: HoldFit | Phase | None,
    pumpdowns: Sequence[PumpdownFit],
    log: PressureLog,
    system: System,
) -> CriterionOutcome:
    """Hold one hold against one criterion.

    Parameters
    ----------
    criterion : Criterion
        The practice.
    hold : HoldFit or Phase or None
        The hold: its times, and of a fit whether the gauge read at all; ``None`` where the log has none.
    pumpdowns : sequence of PumpdownFit
        The pulls of the log.
    log : PressureLog
        The readings. [s, Pa]
    system : System
        What the user told us; its ambient temperature where none was logged.

    Returns
    -------
    CriterionOutcome
        Met, not met, or not answered; the first part that is not met decides, then the first that is not answered.
    """
    if hold is None:
        return _outcome(criterion, None, "no hold", "the log has no hold to set against it")
    pull = pull_before(tuple(pumpdowns), hold.start)
    parts = (
        _target(criterion, hold, pull, log),
        _lines(criterion, hold, log),
        _rise(criterion, hold, log),
        _evacuations(criterion, hold, pumpdowns),
        _pump_on(criterion, hold, pull, log),
        _ambient(criterion, temperature_during(log, hold, system)),
        _gauge(hold),
    )
    for wanted in (False, None):
        for met, part, detail in parts:
            if met is wanted:
                return _outcome(criterion, met, part, detail)
    told = [detail for _, _, detail in parts if detail]
    if criterion.unquantified:
        told.append(f'the rule adds "{criterion.unquantified}" without a number; the leak interval answers that')
    return _outcome(criterion, True, "all", "; ".join(told))


_Part = tuple[bool | None, str, str]


def _outcome(criterion: Criterion, met: bool | None, part: str, detail: str) -> CriterionOutcome:
    source = criterion.source if criterion.edition in ("", "none") else f"{criterion.source} ({criterion.edition})"
    return CriterionOutcome(
        name=criterion.name,
        title=criterion.title,
        source=source,
        standing=criterion.standing,
        met=met,
        detail=detail,
        limit=criterion.passes,
        part=part,
    )


def _gauge(hold: HoldFit | Phase) -> _Part:
    if isinstance(hold, HoldFit) and signs.reads_zero(hold):
        return None, "gauge", "a gauge that reads zero shows neither the target nor the lines kept"
    return True, "gauge", ""


def _target(criterion: Criterion, hold: HoldFit | Phase, pull: PumpdownFit | None, log: PressureLog) -> _Part:
    if criterion.target is None:
        return True, "target", ""
    near = (log.time >= hold.start - LAST_MINUTE) & (log.time <= hold.start) & np.isfinite(log.pressure)
    asked = wording.pressure(criterion.target)
    if not near.any():
        return False, "target", f"the target of {asked} was not reached: the gauge was over range at isolation"
    reached = float(np.min(_without_odd_readings(log.pressure[near])))
    found = wording.pressure(reached)
    if reached <= criterion.target * (1 + SAME):
        return True, "target", f"isolated at {found} (target {asked})"
    if pull is None:
        return None, "target", f"the log starts at {found}, after isolation: whether {asked} was reached is not in it"
    return False, "target", f"the target of {asked} was not reached: isolated at {found}"


def _readings(hold: HoldFit | Phase, log: PressureLog, until: float) -> tuple[FloatArray, FloatArray]:
    """Return times and pressures of a hold after isolation, each pressure the median of three; over range is inf."""
    inside = (log.time > hold.start) & (log.time <= min(hold.end, until))
    pressure = np.where(log.is_over_range[inside], np.inf, log.pressure[inside])
    known = ~np.isnan(pressure)
    return log.time[inside][known], _without_odd_readings(pressure[known])


def _without_odd_readings(pressure: FloatArray) -> FloatArray:
    """Return the running median of three: it drops one odd reading and keeps what two in a row say."""
    if len(pressure) < 3:
        return pressure
    padded = np.concatenate((pressure[:1], pressure, pressure[-1:]))
    low, high = np.minimum(padded[:-2], padded[1:-1]), np.maximum(padded[:-2], padded[1:-1])
    median: FloatArray = np.maximum(low, np.minimum(high, padded[2:]))
    return median


def _is_long_enough(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog) -> bool:
    return hold.end - hold.start >= criterion.hold - 1.5 * log.sampling


def _too_short(criterion: Criterion, hold: HoldFit | Phase) -> _Part:
    held, asked = wording.duration(hold.end - hold.start), wording.duration(criterion.hold)
    return None, "hold", f"the hold lasted {held}; the criterion asks for {asked}"


def _lines(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog) -> _Part:
    if criterion.passes is None or criterion.fails is None:
        return True, "line", ""
    time, pressure = _readings(hold, log, hold.start + criterion.hold)
    if len(pressure) == 0:
        return None, "hold", "the hold has no readings"
    reaches = pressure >= criterion.fails * (1 - SAME)
    is_failing = reaches if criterion.fails_on_line else pressure > criterion.fails * (1 + SAME)
    limit = wording.pressure(criterion.fails)
    if is_failing.any() and (criterion.is_watched_throughout or not _is_long_enough(criterion, hold, log)):
        when = wording.duration(float(time[int(np.argmax(is_failing))]) - hold.start)
        return False, "line", f"{limit} was exceeded {when} after isolation"
    if not _is_long_enough(criterion, hold, log):
        return _too_short(criterion, hold)
    judged = float(np.max(pressure)) if criterion.is_watched_throughout else float(pressure[-1])
    shown = "over range" if np.isinf(judged) else wording.pressure(judged)
    after = wording.duration(criterion.hold)
    highest = criterion.passes * (1 + SAME if criterion.passes_on_line else 1 - SAME)
    if judged <= highest:
        verb = "never above" if criterion.is_watched_throughout else "stood at"
        return True, "line", f"{verb} {shown} in {after} (line {wording.pressure(criterion.passes)})"
    if bool(is_failing[-1]):
        return False, "line", f"{shown} at {after}, beyond the line of {limit}"
    return None, "between", f"{shown} at {after} lies between its two lines: {criterion.between or 'undefined'}"


def _rise(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog) -> _Part:
    if criterion.rise is None and not criterion.no_change:
        return True, "rise", ""
    _, pressure = _readings(hold, log, hold.start + criterion.hold)
    start = float(np.interp(hold.start, log.time, log.pressure))
    if len(pressure) == 0 or not np.isfinite(start):
        return None, "rise", "the pressure at isolation is not in the log"
    rise = float(pressure[-1]) - start
    inside = (log.time >= hold.start) & (log.time <= hold.end)
    allowed = float(np.max(log.step[inside])) if criterion.no_change else float(criterion.rise or 0.0)
    on_line = True if criterion.no_change else criterion.rise_on_line
    exceeds = rise > allowed * (1 + SAME) if on_line else rise >= allowed * (1 - SAME)
    shown = "beyond the gauge's range" if np.isinf(rise) else wording.pressure(rise)
    what = "no change within the gauge's step of " if criterion.no_change else "allowed "
    detail = f"rose by {shown} ({what}{wording.pressure(allowed)})"
    if exceeds:
        return False, "rise", detail
    if not _is_long_enough(criterion, hold, log):
        return _too_short(criterion, hold)
    return True, "rise", detail


def _evacuations(criterion: Criterion, hold: HoldFit | Phase, pumpdowns: Sequence[PumpdownFit]) -> _Part:
    if criterion.evacuations <= 1:
        return True, "evacuations", ""
    reached = [
        pull
        for pull in pumpdowns
        if pull.start < hold.start and (criterion.target is None or pull.lowest <= criterion.target * (1 + SAME))
    ]
    shown = f"{len(reached)} of {criterion.evacuations} evacuations to the target are in the log"
    return (True if len(reached) >= criterion.evacuations else None), "evacuations", shown


def _pump_on(criterion: Criterion, hold: HoldFit | Phase, pull: PumpdownFit | None, log: PressureLog) -> _Part:
    if criterion.pump_on <= 0 or criterion.target is None:
        return True, "pump_on", ""
    if pull is None:
        return None, "pump_on", "the pull before the hold is not in the log"
    inside = (log.time >= pull.start) & (log.time <= hold.start)
    below = inside & (log.pressure <= criterion.target * (1 + SAME))
    pumped = hold.start - float(log.time[int(np.argmax(below))]) if below.any() else 0.0
    detail = f"pumped for {wording.duration(pumped)} below the target (asked {wording.duration(criterion.pump_on)})"
    return pumped >= criterion.pump_on - 1.5 * log.sampling, "pump_on", detail


def _ambient(criterion: Criterion, ambient: float | None) -> _Part:
    if criterion.ambient_above is None:
        return True, "ambient", ""
    asked = wording.celsius(criterion.ambient_above)
    if ambient is None:
        return True, "ambient", f"it asks for surroundings above {asked}, which the log does not tell"
    if ambient > criterion.ambient_above:
        return True, "ambient", ""
    return None, "ambient", f"it applies above {asked} only; it was {wording.celsius(ambient)}"
