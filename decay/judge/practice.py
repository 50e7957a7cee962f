"""Was the practice met: one hold against the numbers of one criterion, part by part; and which criterion judges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from decay import wording
from decay.arrays import FloatArray
from decay.fit.results import HoldFit, PumpdownFit
from decay.judge import criteria, signs
from decay.judge.about_hold import LAG, READINGS_SHORT, filled, held, missing_of, pull_before, temperature_during
from decay.judge.answer import CriterionOutcome, Part
from decay.judge.criteria import Criterion
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.system import System

# The last minute before the valve closed: a reading that wanders by a step there still counts as reached.
LAST_MINUTE = 60.0
# The same reading written in torr and in micron differs by 1.4e-7 of itself: on the line is on the line.
SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Practice:
    """The question of practice, answered."""

    criterion: Criterion  # the one that judges
    outcome: CriterionOutcome  # how the hold stands against it
    # Where none was chosen: how it stands against the other stands, the longest first
    others: tuple[CriterionOutcome, ...] = ()


def held_against(
    wanted: Criterion | None,
    hold: HoldFit | Phase | None,
    pumpdowns: Sequence[PumpdownFit],
    log: PressureLog,
    system: System,
    *,
    doubt: tuple[float, float] = (0.0, 0.0),
) -> Practice:
    """Hold one hold against the criterion that was chosen, or the one that judges where none was.

    Parameters
    ----------
    wanted : Criterion or None
        The user's choice; ``None`` for the longest of `criteria.unasked` that the hold is long enough to answer, or
        the shortest where it is long enough for none.
    hold : HoldFit or Phase or None
        As for `outcome_of`, like all that follows.
    pumpdowns : sequence of PumpdownFit
        The pulls of the log.
    log : PressureLog
        The readings. [s, Pa]
    system : System
        What the user told us.
    doubt : tuple of float
        By how much the valve may have closed before and after the hold is seen to begin. [s]
    """
    if wanted is not None:
        return Practice(wanted, outcome_of(wanted, hold, pumpdowns, log, system, doubt=doubt))
    known = criteria.default_criteria()
    outcomes = [outcome_of(criterion, hold, pumpdowns, log, system, doubt=doubt) for criterion in known]
    enough = (i for i, outcome in enumerate(outcomes) if hold is not None and outcome.missing == 0.0)
    chosen = next(enough, len(known) - 1)
    return Practice(known[chosen], outcomes[chosen], (*outcomes[:chosen], *outcomes[chosen + 1 :]))


def outcome_of(
    criterion: Criterion,
    hold: HoldFit | Phase | None,
    pumpdowns: Sequence[PumpdownFit],
    log: PressureLog,
    system: System,
    *,
    doubt: tuple[float, float] = (0.0, 0.0),
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
    doubt : tuple of float
        By how much the valve may have closed before and after the hold is seen to begin. [s]

    Returns
    -------
    CriterionOutcome
        Met, not met, or not answered; the first part that is not met decides, then the first that is not answered.
    """
    if hold is None:
        missing = criterion.hold
        return _outcome(criterion, missing, _Part(None, Part.NO_HOLD, "the log has no hold to judge", "no hold found"))
    missing = missing_of(criterion, hold, log, doubt)
    pull = pull_before(tuple(pumpdowns), hold.start)
    parts = (
        _target(criterion, hold, pull, log),
        _lines(criterion, hold, log, missing),
        _rise(criterion, hold, log, missing),
        _evacuations(criterion, hold, pumpdowns),
        _pump_on(criterion, hold, pull, log),
        _ambient(criterion, temperature_during(log, hold, system)),
        _gauge(hold),
    )
    for wanted in (False, None):
        for part in parts:
            if part.met is wanted:
                return _outcome(criterion, missing, part)
    told = [part.detail for part in parts if part.detail]
    if criterion.unquantified:
        told.append(f'the rule adds "{criterion.unquantified}" without a number; the leak\'s interval answers that')
    lacking = criterion.hold - held(log, hold)
    lent = lacking if lacking > READINGS_SHORT * log.sampling + LAG else 0.0
    if lent:
        told.append(f"{wording.duration(lent)} of the stand lie within what its closing is uncertain")
    return _outcome(criterion, missing, _Part(True, Part.ALL, "; ".join(told)), lent)


@dataclass(frozen=True, slots=True)
class _Part:
    """One part of a criterion: met or not, which, with its numbers, and in a few words where that is shorter."""

    met: bool | None
    part: Part
    detail: str = ""
    brief: str = ""


def _outcome(criterion: Criterion, missing: float, decided: _Part, lent: float = 0.0) -> CriterionOutcome:
    source = criterion.source if criterion.edition in ("", "none") else f"{criterion.source} ({criterion.edition})"
    return CriterionOutcome(
        name=criterion.name,
        title=criterion.title,
        short=criterion.short,
        source=source,
        standing=criterion.standing,
        met=decided.met,
        detail=decided.detail,
        brief=decided.brief or decided.detail,
        limit=criterion.passes,
        part=decided.part,
        asked=criterion.hold,
        missing=missing,
        lent=lent,
    )


def _gauge(hold: HoldFit | Phase) -> _Part:
    if isinstance(hold, HoldFit) and signs.reads_zero(hold):
        return _Part(None, Part.GAUGE, "the gauge reads zero: it shows neither the target nor the line",
                     "gauge reads zero")
    return _Part(True, Part.GAUGE)


def _target(criterion: Criterion, hold: HoldFit | Phase, pull: PumpdownFit | None, log: PressureLog) -> _Part:
    if criterion.target is None:
        return _Part(True, Part.TARGET)
    _, near = log.readings(hold.start - LAST_MINUTE, hold.start)
    asked = wording.pressure(criterion.target)
    bare = wording.pressure_number(criterion.target)
    if not near.size:
        return _Part(False, Part.TARGET, f"over range at isolation; the target is {asked}",
                     f"isolated over range, target {bare}")
    reached = float(np.min(_without_odd_readings(near)))
    at_closing = float(near[-1])
    # The lowest of the last minute counts; the pressure at closing is what reports call the start of the hold.
    is_same_side = (at_closing <= criterion.target * (1 + SAME)) == (reached <= criterion.target * (1 + SAME))
    found = wording.pressure(at_closing if is_same_side else reached)
    if reached <= criterion.target * (1 + SAME):
        return _Part(True, Part.TARGET, f"isolated at {found} (target {bare})")
    if pull is None:
        return _Part(None, Part.TARGET, f"the log starts at {found}, after isolation: it does not show whether the "
                     f"target of {asked} was reached", f"pull to {asked} not logged")
    return _Part(False, Part.TARGET, f"isolated at {found}; the target is {asked}",
                 f"isolated at {found}, target {bare}")


def _readings(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog) -> tuple[FloatArray, FloatArray]:
    """Return times since isolation and pressures of a criterion's stand, gaps left out.

    Each pressure is the median of three; over range is ``inf``.
    """
    time, elapsed = filled(log, hold)
    index = np.searchsorted(log.time, time)
    pressure = np.where(log.is_over_range[index], np.inf, log.pressure[index])
    inside = (time > hold.start) & (elapsed <= criterion.hold * (1 + SAME))
    return time[inside] - hold.start, _without_odd_readings(pressure[inside])


def _without_odd_readings(pressure: FloatArray) -> FloatArray:
    """Return the running median of three: it drops one odd reading and keeps what two in a row say."""
    if len(pressure) < 3:
        return pressure
    padded = np.concatenate((pressure[:1], pressure, pressure[-1:]))
    low, high = np.minimum(padded[:-2], padded[1:-1]), np.maximum(padded[:-2], padded[1:-1])
    median: FloatArray = np.maximum(low, np.minimum(high, padded[2:]))
    return median


def _too_short(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog, missing: float) -> _Part:
    asked = wording.duration(criterion.hold)
    sure = max(criterion.hold - missing, 0.0)
    if sure < held(log, hold) - READINGS_SHORT * log.sampling:
        return _Part(None, Part.LENGTH, f"when the valve closed is too uncertain for a stand of {asked}: "
                     f"{wording.duration(sure)} are sure", "when the valve closed is not clear")
    lasted = wording.duration(held(log, hold))
    without = " without its gaps" if held(log, hold) < hold.end - hold.start else ""
    return _Part(None, Part.LENGTH, f"the hold lasted {lasted}{without}; {asked} are asked for, "
                 f"{wording.duration(missing)} more", f"held {lasted} of {asked}")


def _lines(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog, missing: float) -> _Part:
    if criterion.passes is None or criterion.fails is None:
        return _Part(True, Part.LINE)
    since, pressure = _readings(criterion, hold, log)
    if len(pressure) == 0:
        return _Part(None, Part.LENGTH, "the hold has no readings")
    reaches = pressure >= criterion.fails * (1 - SAME)
    is_failing = reaches if criterion.fails_on_line else pressure > criterion.fails * (1 + SAME)
    limit = wording.pressure(criterion.fails)
    if is_failing.any() and (criterion.is_watched_throughout or missing):
        if hold.start_pressure > criterion.fails * (1 + SAME):
            return _Part(False, Part.LINE, f"stood above {limit} from the start", f"above {limit} from the start")
        when = wording.duration(float(since[int(np.argmax(is_failing))]))
        return _Part(False, Part.LINE, f"rose above {limit} {when} after isolation", f"above {limit} after {when}")
    if missing:
        return _too_short(criterion, hold, log, missing)
    judged = float(np.max(pressure)) if criterion.is_watched_throughout else float(pressure[-1])
    shown = "over range" if np.isinf(judged) else wording.pressure(judged)
    after = wording.duration(criterion.hold)
    highest = criterion.passes * (1 + SAME if criterion.passes_on_line else 1 - SAME)
    if judged <= highest:
        verb = "never above" if criterion.is_watched_throughout else "stood at"
        bare = wording.pressure_number(criterion.passes)
        return _Part(True, Part.LINE, f"{verb} {shown} in {after} (line {bare})")
    if bool(is_failing[-1]):
        return _Part(False, Part.LINE, f"{shown} at {after}, above the line of {limit}",
                     f"{shown} at {after}, line {wording.pressure_number(criterion.fails)}")
    return _Part(None, Part.BETWEEN, f"{shown} at {after} lies between its two lines: "
                 f"{criterion.between or 'undefined'}", f"{shown} at {after}, between its two lines")


def _rise(criterion: Criterion, hold: HoldFit | Phase, log: PressureLog, missing: float) -> _Part:
    if criterion.rise is None and not criterion.no_change:
        return _Part(True, Part.RISE)
    _, pressure = _readings(criterion, hold, log)
    start = float(np.interp(hold.start, log.time, log.pressure))
    if len(pressure) == 0 or not np.isfinite(start):
        return _Part(None, Part.RISE, "the pressure at isolation is not in the log")
    rise = float(pressure[-1]) - start
    inside = log.within(hold.start, hold.end)
    allowed = float(np.max(log.step[inside])) if criterion.no_change else float(criterion.rise or 0.0)
    on_line = True if criterion.no_change else criterion.rise_on_line
    exceeds = rise > allowed * (1 + SAME) if on_line else rise >= allowed * (1 - SAME)
    shown = "beyond the gauge's range" if np.isinf(rise) else f"by {wording.pressure(rise)}"
    what = "no change within the gauge's step of " if criterion.no_change else "allowed "
    detail = f"rose {shown} ({what}{wording.pressure(allowed)})"
    if exceeds:
        return _Part(False, Part.RISE, detail, f"rose {shown}, allowed {wording.pressure(allowed)}")
    if missing:
        return _too_short(criterion, hold, log, missing)
    return _Part(True, Part.RISE, detail)


def _evacuations(criterion: Criterion, hold: HoldFit | Phase, pumpdowns: Sequence[PumpdownFit]) -> _Part:
    if criterion.evacuations <= 1:
        return _Part(True, Part.EVACUATIONS)
    reached = [
        pull
        for pull in pumpdowns
        if pull.start < hold.start and (criterion.target is None or pull.lowest <= criterion.target * (1 + SAME))
    ]
    shown = f"{len(reached)} of {criterion.evacuations} evacuations to the target are in the log"
    return _Part(True if len(reached) >= criterion.evacuations else None, Part.EVACUATIONS, shown,
                 f"{len(reached)} of {criterion.evacuations} evacuations logged")


def _pump_on(criterion: Criterion, hold: HoldFit | Phase, pull: PumpdownFit | None, log: PressureLog) -> _Part:
    if criterion.pump_on <= 0 or criterion.target is None:
        return _Part(True, Part.PUMP_ON)
    if pull is None:
        return _Part(None, Part.PUMP_ON, "the pull before the hold is not in the log", "pull not logged")
    inside = log.within(pull.start, hold.start)
    below = inside & (log.pressure <= criterion.target * (1 + SAME))
    pumped = hold.start - float(log.time[int(np.argmax(below))]) if below.any() else 0.0
    asked = wording.duration(criterion.pump_on)
    detail = f"pumped for {wording.duration(pumped)} below the target (asked {asked})"
    return _Part(pumped >= criterion.pump_on - 1.5 * log.sampling, Part.PUMP_ON, detail,
                 f"pumped {wording.duration(pumped)} below the target, asked {asked}")


def _ambient(criterion: Criterion, ambient: float | None) -> _Part:
    if criterion.ambient_above is None:
        return _Part(True, Part.AMBIENT)
    asked = wording.celsius(criterion.ambient_above)
    if ambient is None:
        return _Part(True, Part.AMBIENT, f"it asks for surroundings above {asked}; the temperature is not known")
    if ambient > criterion.ambient_above:
        return _Part(True, Part.AMBIENT)
    found = wording.celsius(ambient)
    return _Part(None, Part.AMBIENT, f"it applies above {asked} only; it was {found}",
                 f"{found}, applies above {asked}")
