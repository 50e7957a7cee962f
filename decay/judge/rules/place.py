"""Findings about where the gauge sits: on the pump's side of the valve, or beside one that shows something else."""

from __future__ import annotations

from decay import wording
from decay.judge.case import Case
from decay.judge.finding import Cause, Finding, Level
from decay.judge.place import Beside
from decay.judge.rules.reading import notes_of
from decay.judge.rules.rule import Answer
from decay.judge.verdict import NAMED
from decay.quantities import MICRON
from decay.wording import MICRON_PER_MINUTE

PUMPS_SIDE = "the gauge shows the pump, not the system"
"""The headline of such a log."""


def gauge_on_pump_side(case: Case) -> Answer:
    """
    What it looks for
        A quiet stretch after a fall that quickens, though the pull before it had become slow; or another gauge of the
        log that stands higher and rises while the judged one does not.
    Why it matters
        When the valve closes, the pump empties the piece of hose between itself and the valve at once. A gauge that
        sits there shows the pump from then on, and nothing of the system: whatever leaks, it reads low and flat.
    When it is wrong
        Gas ballast that is shut, or a second valve that is opened, makes a pull fall faster as well.
    Example log
        A pull that creeps from 260 to 240 micron in ten minutes, drops to 15 in half a minute, and an hour of 15.
    What to do
        Put the gauge on the system's side of the valve, as far from the pump as can be reached, and hold again.
    References
        Common practice, no source: read the vacuum at the system and not at the pump.
    """
    if case.fall is not None:
        fall = case.fall
        summary = (
            f"The pressure falls at the closing, from {wording.pressure(fall.top)} at {wording.clock(fall.start)} to "
            f"{wording.pressure(fall.bottom)} within a minute, after the pull had become slow: the gauge sits on the "
            "pump's side of the valve and shows nothing of the system."
        )
        evidence = {"top_micron": fall.top / MICRON, "bottom_micron": fall.bottom / MICRON}
        return (Finding("P15", Level.BLOCKS, summary, evidence, (fall.start, fall.end), PUMPS_SIDE),)
    alone = [other for other in case.beside if other.rises_alone]
    if not alone or not case.is_withheld or case.fit is None:
        return ()
    summary = (
        f'The gauge "{alone[0].name}" rises by {wording.rate(alone[0].rate)} while the judged one stands, which thus '
        "sits on the pump's side of the valve and shows nothing of the system. Judge the other with --gauge."
    )
    evidence = {"other_micron_per_min": alone[0].rate / wording.MICRON_PER_MINUTE}
    return (Finding("P15", Level.BLOCKS, summary, evidence, (case.fit.start, case.fit.end), PUMPS_SIDE),)


def gauges_disagree(case: Case) -> Answer:
    """
    What it looks for
        Another gauge of the log whose readings in the hold, or where there is none after the pull, differ by more than
        a tenth from those of the judged one.
    Why it matters
        One of the two is wrong, and the readings do not say which. So the interval holds what either shows.
    When it is wrong
        A thermal gauge reads vapours higher than one that measures force: then the second is right, and the interval
        wider than need be.
    Example log
        Two gauges in one hold, from 300 to 480 micron and from 375 to 600.
    What to do
        Read both at atmosphere and against a third, and judge the better one with --gauge. The interval stays wide.
    References
        Gauges of the trade are good to 5 or 10 %, by their makers' data in general.
    """
    if not any(other.is_apart for other in case.beside):  # elsewhere, or with no hold, what the reader saw
        return tuple(Finding("P16", Level.CAVEAT, text) for text in notes_of(case, "gauges-differ"))
    apart = [other for other in case.beside if other.is_apart and not other.rises_alone]
    return tuple(_apart(case, other) for other in apart)


def gauge_jumps(case: Case) -> Answer:
    """
    What it looks for
        Readings in the hold that jump from one to the next by more than noise, steps and 1.5 % of the pressure, and go
        on as before.
    Why it matters
        No gas does that: the gauge changed its range, was exchanged, or its plug was touched. A jump up looks like a
        part of the rise, one down hides it. So the interval holds what the jumps can feign, and a leak that they may
        have made is not named. A jump beyond 4.5 % is no change of range, and then nothing passes.
    When it is wrong
        When gas came in at once, a valve opened for a moment, say: then the hold ends there.
    Example log
        A hold that creeps from 300 to 310 micron, stands at 350 one reading later, and creeps on.
    What to do
        Judge the longer stretch without the jump with --hold START..END, or hold again with one gauge.
    References
        Gauges jump by one to four per cent where they change their range, by logs of many; for the slope, the least
        squares of a line with a step in it.
    """
    if case.fit is None:
        return None
    if not case.jumps:
        return ()
    largest = max(case.jumps, key=lambda jump: jump.share)
    is_range = largest.is_within_a_range_change
    is_undone = case.hold is not None and case.hold.cause in NAMED and case.cause_of_hold is Cause.UNRESOLVED
    count = "" if len(case.jumps) == 1 else f"{len(case.jumps)} times, most "
    why = "where the gauge may change its range" if is_range else "as where a gauge is exchanged or its plug moved"
    summary = (
        f"The readings jump {'up' if largest.size > 0 else 'down'} {count}by {wording.pressure(abs(largest.size))} at "
        f"{wording.clock(largest.time)}, from one to the next, and go on as before, {why}. That can feign or hide "
        f"{wording.bound(case.feigned)}: the interval includes it."
    )
    evidence = {"largest_micron": largest.size / MICRON, "feigned_micron_per_min": case.feigned / MICRON_PER_MINUTE}
    level = Level.CAVEAT if is_range and not is_undone else Level.BLOCKS
    return (Finding("P18", level, summary, evidence, (case.fit.start, case.fit.end), "the gauge jumps in the hold"),)


def _apart(case: Case, other: Beside) -> Finding:
    more = wording.number(100.0 * abs(other.level - 1.0), 2)
    side = "higher" if other.level > 1.0 else "lower"
    if other.is_on_pump_side:
        summary = (
            f'The gauge "{other.name}" reads {more} % {side} and does not follow the rise: it seems to sit on the '
            "pump's side, and is left aside."
        )
    else:
        summary = (
            f'The gauge "{other.name}" reads {more} % {side} in the hold and rises by {wording.rate(other.rate)}, the '
            f"judged one by {wording.rate(other.own_rate)}: the interval holds what either shows."
        )
    evidence = {"other_over_judged": other.level, "other_micron_per_min": other.rate / wording.MICRON_PER_MINUTE}
    span = None if case.fit is None else (case.fit.start, case.fit.end)
    return Finding("P16", Level.CAVEAT, summary, evidence, span)
