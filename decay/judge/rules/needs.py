"""What a job still needs, by cause, and when its valve may have been closed: what next steps and cautions share."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from decay import wording
from decay.constants import DAY
from decay.impact.hold_length import hold_to_show
from decay.judge import signs
from decay.judge.answer import IfClosed, Part
from decay.judge.case import Case
from decay.judge.finding import Cause
from decay.judge.verdict import NAMED
from decay.phases.phase import Kind, Phase

SAME_MOMENT = 30.0
"""Nobody remembers a closing better than this. [s]"""
LONGEST_HOLD = DAY
"""A hold beyond a day is no advice. [s]"""


def wants_drying(case: Case) -> bool:
    """Tell whether drying further is the next step."""
    if case.cause in (Cause.FREE_WATER, Cause.LEAK_AND_OUTGASSING):
        return True
    if case.is_withheld or may_have_been_opened(case):
        return False
    if any(pull.water_suspected for pull in case.pumpdowns):
        return True
    is_done = case.outcome.met is True and (case.system.allow is None or case.is_above_allowed_excluded)
    return case.cause in (Cause.OUTGASSING, Cause.UNRESOLVED) and not is_done


def may_have_been_opened(case: Case) -> bool:
    """Tell whether the log ends with gas let in, or with a leak as fast: then what happened comes first."""
    return case.gross is not None and case.gross.may_be_let_in


def wants_locating(case: Case) -> bool:
    """Tell whether looking for the leak is the next step."""
    return case.cause in NAMED and not case.is_above_allowed_excluded


def wants_deeper_pull(case: Case) -> bool:
    """Tell whether the target was missed."""
    return case.outcome.met is False and case.outcome.part in (Part.TARGET, Part.PUMP_ON)


def hold_again_for(case: Case) -> float | None:
    """Return the hold length that would answer what this one left open; ``None`` where none would. [s]

    Where noise rules, the smallest detectable slope falls as length^-3/2 at a constant sampling; where outgassing
    rules, at least as 1/length, since what levels off is spread over a longer time. For an allowed leak the hold that
    would have shown it is asked for as well, and the longer of the two counts.
    """
    fit = case.fit
    wanted = [case.criterion.hold] if case.outcome.part is Part.LENGTH else []
    if fit is not None and case.cause is not Cause.FREE_WATER:
        power = 1.0 if fit.is_outgassing_seen or case.cause is Cause.UNRESOLVED else 2.0 / 3.0
        if case.allowed is not None and case.leak is not None and case.leak.low <= case.allowed < case.leak.high:
            aim = max(fit.detection_limit, case.leak.high) / max(case.allowed, 1e-12)
            shown_by = hold_to_show(fit, case.log, case.allowed, case.ambient)
            wanted.append(max(fit.duration * max(1.5, aim**power), shown_by.length))
        is_open = case.cause is Cause.UNRESOLVED and not case.is_withheld and case.gross is None and not case.next_tests
        if is_open and not case.is_above_allowed_excluded:
            steady = signs.steady_rate(fit)
            aim = fit.detection_limit / steady if steady > 0 else 2.0
            wanted.append(fit.duration * max(2.0, aim**power))
    return wording.clean_minutes(max(wanted)) if wanted else None


def closings(phases: Sequence[Phase], told: IfClosed | None, most: int = 4) -> list[float]:
    """Return the moments at which the valve may have been closed in a log without a hold, the likeliest first. [s]

    Where a flat stretch may begin, then where a pull ends before the log does.
    """
    if told is not None:
        return [told.closed_by]
    last = phases[-1].end if phases else 0.0
    flat = [t for phase in phases if phase.closings is not None for t in phase.closings]
    ends = [phase.end for phase in phases if phase.kind is Kind.PUMPDOWN and phase.end < last]
    moments: list[float] = []
    for t in (*flat, *ends):
        if all(abs(t - other) > SAME_MOMENT for other in moments):
            moments.append(t)
    return moments[:most]


def hold_option(moments: Sequence[float], started: str | None, end: float | None = None) -> str:
    """Return the option that points at a hold from the first moment [s] on, by the log's clock if it has one.

    It reaches to another moment [s], or to the end of the log.
    """
    if not moments:
        return "--hold START..END"
    return f"--hold {_by_clock(moments[0], started)}..{'end' if end is None else _by_clock(end, started)}"


def _by_clock(t: float, started: str | None) -> str:
    if started is not None:
        begun = datetime.fromisoformat(started)
        moment = begun + timedelta(seconds=round(t))
        if moment.date() == begun.date():  # past midnight a time of day alone would point at the day before
            return f"{moment:%H:%M:%S}"
    return wording.clock(t)
