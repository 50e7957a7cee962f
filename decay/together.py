"""What the holds of one log, or of the logs of one job, say together: repeated ones, or a cold and a warm one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from decay.examine import ExaminedLog, time_under_vacuum
from decay.fit.results import HoldFit, JointFit
from decay.interval import Interval
from decay.judge import signs
from decay.judge.about_hold import temperature_during
from decay.judge.finding import Cause
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Begun, Kind, Phase
from decay.several.joint import GROWTH, WORST_MISFIT, Member, fit_joint
from decay.several.rig import RigTest
from decay.several.warm import Warmed, WarmFit, WarmMember, as_joint, fit_warm, warm_pair

SHARED_WORSE = 25.0
"""Growth of the weighted sum of squares from which on holds do not share their sources: five standard deviations of one
number. Of some 100 invented jobs of one leak each it was 14 or less in all but four. [-]"""


def all_holds(
    stages: Sequence[ExaminedLog], starts: Sequence[float], rig: RigTest | None, warmed: Warmed | None, *,
    is_clock_known: bool = True,
) -> tuple[JointFit | None, WarmFit | None]:
    """Fit the holds of one log or job together: as a cold and a warm one where their temperatures differ."""
    held = [(number, i, hold) for number, stage in enumerate(stages) for i, hold in enumerate(stage.fitted)]
    known = [temperature_during(stages[n].log, hold.report.fit, stages[n].system) for n, _, hold in held]
    pair = warm_pair(known)
    if pair is None:
        return _together(stages, starts), None
    (first, index, cold), (second, _, warm) = held[pair[0]], held[pair[1]]
    phases = tuple(
        replace(p, start=p.start + start, end=p.end + start)
        for stage, start in zip(stages, starts, strict=True) for p in stage.phases
    )
    members = [
        WarmMember(
            hold.measured, hold.report.fit, hold.phase.start + starts[number], known[at],
            is_wet=hold.report.cause is Cause.FREE_WATER or signs.water_is_open(hold.report.fit, hold.pull),
        )
        for number, hold, at in ((first, cold, pair[0]), (second, warm, pair[1]))
    ]
    found = fit_warm(
        members[0], members[1], warmed=warmed, is_rig_known=rig is not None,
        is_clock_known=is_clock_known or first == second,
        is_opened=_was_open(phases, cold.phase.end + starts[first], members[1].isolated),
    )
    aside = len(held) - 2
    remarks = (f"{aside} more holds stand aside: two temperatures are compared by two holds.",) if aside else ()
    here = tuple(i for n, i, hold in held if hold in (cold, warm) and n == len(stages) - 1)
    away = ((stages[first].log.source, index),) if first != len(stages) - 1 else ()
    return as_joint(found, cold.report.fit, warm.report.fit, here, away, remarks), found


def _together(stages: Sequence[ExaminedLog], starts: Sequence[float] = (0.0,)) -> JointFit | None:
    """Return what the fitted holds of one log or job say together; ``None`` where there are not two."""
    if sum(len(stage.holds) for stage in stages) < 2:
        return None
    phases: list[Phase] = []
    used: list[tuple[int, int, Phase]] = []
    members: list[Member] = []
    remarks: list[str] = []
    for number, (stage, start) in enumerate(zip(stages, starts, strict=True)):
        phases += [replace(p, start=p.start + start, end=p.end + start) for p in stage.phases]
        for i, hold in enumerate(stage.fitted):
            phase, fit = hold.phase, hold.report.fit
            name = f"Hold {i + 1}" if number == len(stages) - 1 else f"Hold {i + 1} of {stage.log.source}"
            if _was_pumped_on(fit, phase, stage):
                remarks.append(f"{name} is left out of the joint fit: by what follows, the pump may have been at work.")
                continue
            if fit.plain_inflation > WORST_MISFIT:
                remarks.append(f"{name} is left out of the joint fit: sources that fade do not describe it.")
                continue
            shifted = replace(phase, start=phase.start + start, end=phase.end + start)
            members.append(
                Member(
                    hold=hold.measured,
                    isolated=shifted.start,
                    inflation=fit.plain_inflation,
                    is_refreshed=bool(used) and _was_open(tuple(phases), used[-1][2].end, shifted.start),
                    under_vacuum=time_under_vacuum(tuple(phases), shifted),
                )
            )
            used.append((number, i, shifted))
    if len(members) < 2:
        return None
    here = len(stages) - 1
    joint = fit_joint(members)
    # What a hold gives alone is what its own fit says, wherever it stands.
    fits = [stages[number].holds[i].fit for number, i, _ in used]
    each = tuple(fit.leak for fit in fits)
    opened = _opened(joint, fits, [member.is_refreshed for member in members])
    return replace(
        joint,
        each=each,
        opened=opened,
        is_homogeneous=joint.is_homogeneous and opened is None,
        without=each[::-1] if len(each) == 2 and joint.without else joint.without,
        holds_used=tuple(i for number, i, _ in used if number == here),
        elsewhere=tuple((stages[number].log.source, i) for number, i, _ in used if number != here),
        remarks=(*remarks, *joint.remarks),
    )


def _opened(joint: JointFit, fits: Sequence[HoldFit], is_refreshed: Sequence[bool]) -> tuple[Interval, Interval] | None:
    """Return what goes on in an earlier hold, and in a later one in which it is more than sources that fade can make.

    A hold says it by its look at sources no slower than itself. Holds of very different length call different sources
    slow; so it counts only where the sources that they should share fit them much worse than their own, or where air
    came in between: that fills sources anew, which then explain any rise, and what was opened may leak anew as well.
    """
    if not joint.is_homogeneous:
        return None
    for place, later in enumerate(fits):
        last = max((i for i in range(place + 1) if is_refreshed[i]), default=0)
        before = fits[: place if joint.growth >= SHARED_WORSE else last]
        least = min((fit.short for fit in before), key=lambda short: short.high, default=later.short)
        if later.short.low > GROWTH * least.high:
            return least, later.short
    return None


def _was_pumped_on(fit: HoldFit, phase: Phase, stage: ExaminedLog) -> bool:
    """Tell whether a stretch that does not rise may be the pull itself, standing at the pump's limit."""
    after = next((p for p in stage.phases if p.start > phase.start), None)
    if after is not None and after.kind is Kind.HOLD and after.begun is Begun.MARK:
        return True  # the log itself says that the valve was closed only then
    if after is None or after.kind is not Kind.PUMPDOWN:
        return False
    return signs.is_within_noise(fit) or signs.falls(fit)


def _was_open(phases: tuple[Phase, ...], start: float, end: float) -> bool:
    """Tell whether air came in between two moments. [s]"""
    return any(p.kind in (Kind.ATMOSPHERE, Kind.VENT) and start <= p.start < end for p in phases)


def order_of(logs: Sequence[PressureLog]) -> list[int]:
    """Return the places of logs in order of the time at which they started; as given where one does not tell it."""
    began = began_of(logs)
    return list(range(len(logs))) if began is None else sorted(range(len(logs)), key=lambda i: began[i])


def began_of(logs: Sequence[PressureLog]) -> list[float] | None:
    """Return each log's start in seconds after the first one's; ``None`` where the clocks do not tell. [s]"""
    try:
        stamps = [datetime.fromisoformat(log.started) for log in logs if log.started]
        if len(stamps) < len(logs):
            return None
        return [(stamp - stamps[0]).total_seconds() for stamp in stamps]
    except (TypeError, ValueError):  # one clock with a zone, another without
        return None


def starts_of(logs: Sequence[PressureLog]) -> list[float]:
    """Return each log's start on the clock of the first. [s]

    Where no clock tells it, one follows upon the other without a pause: the least time that can have passed, and so
    the least that sources can have faded.
    """
    began = began_of(logs)
    starts = [0.0]
    for i in range(1, len(logs)):
        soonest = starts[-1] + logs[i - 1].duration
        starts.append(soonest if began is None else max(began[i] - began[0], soonest))
    return starts
