"""Findings that hold the answer against the whole log: what contradicts it, and where the gauge sits."""

from __future__ import annotations

import math

from decay import wording
from decay.judge.about_hold import pull_before
from decay.judge.around import Where, end_above
from decay.judge.case import Case
from decay.judge.finding import Cause, Finding, Level
from decay.judge.gross import GrossRise
from decay.judge.place import Beside
from decay.judge.rules.log_reading import notes_of
from decay.judge.rules.needs import hold_option
from decay.judge.rules.rule import Answer
from decay.judge.verdict import NAMED, QUIET
from decay.log.quality import AT_BOTTOM
from decay.phases.phase import ClosingEvidence
from decay.quantities import MICRON
from decay.wording import MICRON_PER_MINUTE


def log_contradicts(case: Case) -> Answer:
    """
    What it looks for
        A judged stretch that shows no leak, and beside it, without a pull between, readings that rise faster than the
        stretch allows: before it, so that it is a piece of what was held or the end of the gauge's range; or after it.
        After it also where the stretch leaves a leak open, or shows one that is small enough to be allowed.
    Why it matters
        "No leak seen" is said of a system, and so the whole log must agree. A gross leak runs from base to the end of
        the gauge's range within seconds, and what stands still after it is the range and not the system.
    When it is wrong
        When gas was let in slowly, or before anything showed that the valve had been closed. A sudden rise off the
        range or to a twentieth of an atmosphere counts as gas let in, where the closing before it is known.
    Example log
        A pull to 80 micron, 20,000 micron forty seconds later, and twenty minutes of 20,000.
    What to do
        Say what was held with --hold START..END. If the rise is the hold, look for an open fitting.
    References
        None: it follows from what "no leak" means.
    """
    found = case.contradiction
    if found is None or case.stretch is None or case.fit is None:
        return ()
    if case.gross is not None and found.start <= case.gross.end and found.end >= case.gross.start:
        return ()  # finding H25 names the same rise
    claim = "a quiet hold" if case.cause_of_hold in QUIET else "the hold's upper end"
    side = "leads up to" if found.where is Where.BEFORE else "follows"
    top = ("off the gauge's range, " if found.is_over_range else "") + wording.pressure(found.top)
    judged = f"{wording.clock(case.fit.start)} to {wording.clock(case.fit.end)}"
    summary = (
        f"The log contradicts {claim}: from {wording.clock(found.start)} to {wording.clock(found.end)} it rises "
        f"from {wording.pressure(found.bottom)} to {top} ({wording.rate(found.rate)}). That {side} the judged hold, "
        f"{judged}, which shows {wording.rate(case.stretch.upper)} at most."
    )
    evidence = {
        "rise_micron": (found.top - found.bottom) / MICRON,
        "rise_micron_per_min": found.rate / wording.MICRON_PER_MINUTE,
        "claimed_high_micron_per_min": case.stretch.upper / wording.MICRON_PER_MINUTE,
    }
    brief = f"a rise {found.where.value} the hold contradicts {claim}"
    return (Finding("P12", Level.BLOCKS, summary, evidence, (found.start, found.end), brief),)


def ends_above_line(case: Case) -> Answer:
    """
    What it looks for
        A hold that meets the criterion in a log that ends above the criterion's line, where nobody let gas in.
    Why it matters
        Whatever the judged stretch says, a system that stands above its line at the end has not passed.
    When it is wrong
        When the system was opened slowly after the hold, or the gauge was changed.
    Example log
        Ten minutes below 1,000 micron, and 1,200 micron when the log ends half an hour later.
    What to do
        Say with --hold START..END what belongs to the test.
    References
        None.
    """
    line = case.outcome.limit
    if line is None or case.stretch is None or case.fit is None:
        return ()
    if case.outcome.met is not True or not (case.cause in QUIET or case.is_above_allowed_excluded):
        return ()
    end = end_above(case.log, case.stretch, line)
    if end is None:
        return ()
    summary = (
        f"The log ends at {wording.pressure(end)}, above the line of {wording.pressure(line)}, and shows no gas let in "
        f"after the hold, which ends at {wording.clock(case.fit.end)}."
    )
    evidence = {"end_micron": end / MICRON, "line_micron": line / MICRON}
    brief = f"the log ends at {wording.pressure(end)}, above the line"
    return (Finding("P13", Level.BLOCKS, summary, evidence, (case.fit.end, float(case.log.time[-1])), brief),)


def gauge_at_bottom(case: Case) -> Answer:
    """
    What it looks for
        A hold that stands at the gauge's lowest number: a tenth of it where the number is as low as gauges go and stays
        for a minute; all of it where the pull stopped there at full speed, or the hold shows no other number.
    Why it matters
        Below its range a gauge says how high the pressure was at most. A leak may lift it unseen from nothing to that
        number, so that the interval reaches at least so far: "tight" means tight to that.
    When it is wrong
        When the pressure stood just there: then the true limit is finer.
    Example log
        A pull that drops from 40 to 10 micron within ten seconds, and half an hour of 10.
    What to do
        Hold for longer, or use a gauge that reads lower.
    References
        None: it follows from what the end of a range means.
    """
    if case.fit is None:
        return None
    bottom = case.bottom
    if bottom is None:
        return ()
    part = "" if bottom.share >= AT_BOTTOM else f" in {100.0 * bottom.share:.0f} % of the hold"
    summary = (
        f"The gauge stands at its lowest number, {wording.pressure(bottom.pressure)}{part}: below it a leak of up to "
        f"{wording.bound(case.hidden)} may hide in {wording.duration(case.fit.duration)}."
    )
    evidence = {"bottom_micron": bottom.pressure / MICRON, "share_at_bottom": bottom.share,
                "hidden_micron_per_min": case.hidden / wording.MICRON_PER_MINUTE}
    return (Finding("P14", Level.CAVEAT, summary, evidence, (case.fit.start, case.fit.end)),)


def nothing_marks_closing(case: Case) -> Answer:
    """
    What it looks for
        A log that ends flat, at the limit of the pump or of the gauge, with no hold in it: nothing shows when the valve
        was closed, or whether it was.
    Why it matters
        The best jobs look like this: dry, tight, pulled to the limit. So does a pump that was never shut off. What the
        log proves if the valve was closed by some moment is worked out, and waits for somebody to say so.
    When it is wrong
        Where the pump ran to the end, the whole "if" is empty: then log a hold.
    Example log
        A pull that reaches 45 micron in half an hour, and forty minutes more of 45 micron.
    What to do
        If the valve was closed by then, say so with the option that the finding names.
    References
        None: it follows from what the readings cannot show.
    """
    told = case.if_closed
    if told is None or case.fall is not None:
        return ()
    met = {True: "met", False: "not met", None: "not answered"}[told.outcome.met]
    at = wording.moment(told.closed_by, case.log.started)
    option = hold_option([told.closed_by], case.log.started)
    summary = (
        f"Nothing marks the closing: a hold at the pump's limit and a running pump look alike. If the valve was closed "
        f"by {at}: no leak above {wording.bound(told.ruled_out_above)}, {told.outcome.short or told.outcome.title} "
        f"{met}. Add {option} if so."
    )
    evidence = {
        "closed_by_s": told.closed_by,
        "leak_high_micron_per_min": told.leak.high / wording.MICRON_PER_MINUTE,
        "smallest_detectable_micron_per_min": told.detection_limit / wording.MICRON_PER_MINUTE,
    }
    brief = "nothing marks when the valve was closed"
    return (Finding("P17", Level.BLOCKS, summary, evidence, (told.closed_by, told.end), brief),)


def closing_not_shown(case: Case) -> Answer:
    """
    What it looks for
        A hold that nobody said to be one, and that soon comes to rest or rises by less than 30 % of its pressure: a
        step or the end of a fall is all that marks the closing. Where not even that does, as where the rise begins
        somewhere within minutes, or the log with the hold, the answer waits for somebody to say so.
    Why it matters
        Whatever happens under a running pump, the pressure goes to another balance and stays there: when its ballast is
        opened, a valve is half closed, a gauge is exchanged or changes its range, or a leak opens. Its limit creeps up
        as its oil warms. A pump keeps a leaking system as still as a tight one.
    When it is wrong
        Most tight and dry systems leave a log like this. Whoever closed the valve knows.
    Example log
        A pull to 40 micron, a step to 52 within half a minute, and an hour of 52.
    What to do
        Check that the pump was shut off by a valve at that moment. Say so with the option that the finding names, or
        let the log itself say it.
    References
        None: it follows from the balance of a pump and a source. By how much the limit of a pump drifts is assumed.
    """
    if case.fit is None:
        return None
    if case.closing is ClosingEvidence.SHOWN:
        return ()
    fit = case.fit
    option = hold_option([fit.start], None, fit.end if fit.end < float(case.log.time[-1]) else None)
    confirm = f"Confirm with {option} that the valve was closed at {wording.clock(fit.start)}: "
    like = "A running pump leaves such readings, too: its ballast or a valve is turned, its oil warms, or the gauge"
    evidence = {"closed_s": fit.start}
    if not case.is_closing_open:
        summary = f"{confirm}the readings alone do not prove it. {like} changes; then they prove nothing."
        return (Finding("P19", Level.CAVEAT, summary, evidence, (fit.start, fit.end)),)
    is_first = fit.start <= float(case.log.time[0])
    shown = "the log begins there" if is_first else "no step marks it, only a small rise that begins within minutes"
    summary = f"{confirm}{shown}. {like} changes."
    if case.if_confirmed is not None:
        evidence["leak_high_micron_per_min"] = case.if_confirmed.ruled_out_above / wording.MICRON_PER_MINUTE
    return (Finding("P19", Level.BLOCKS, summary, evidence, (fit.start, fit.end), NO_STEP),)


NO_STEP = "the readings do not show that the valve was closed"
"""The headline of a hold that only a small rise tells, somewhere within minutes."""


WATER = "free water close to the gauge"


def gross_leak(case: Case) -> Answer:
    """
    What it looks for
        A log that ends at the end of the gauge's range, and came there from base in one rise, within seconds or some
        minutes, when no hold was seen before it.
    Why it matters
        What stands still afterwards is the gauge and not the system. The few readings between are the evidence: the
        rise began after the last reading at base, so that the whole rise over that time is a lower bound of the leak.
    When it is wrong
        When gas was let in slowly, or the system was opened a little, without a hold before it. A rise faster than
        100,000 micron/min may be gas let in, where the log does not say that the valve was closed. Where the rise slows
        down towards a pressure that water reaches, where too few readings show whether it does, or where the pull
        stood where water stands, water may make it. Then it blocks, names what it may be, and fails nothing.
    Example log
        A pull to 80 micron; 6,100, 12,400 and 18,300 micron in the next fifteen seconds; then the end of the range.
    What to do
        Look for an open fitting, core or service valve first. If gas was let in, point at the hold before it with
        --hold START..END.
    References
        Q = V dp/dt; saturation of water by IAPWS R7-97.
    """
    rise = case.gross
    if rise is None:
        return ()
    seen = {0: "no reading", 1: "one reading"}.get(rise.readings, f"{rise.readings} readings")
    way = (
        f"from {wording.pressure(rise.base)} at {wording.clock(rise.start)} to the end of the gauge's range, "
        f"{wording.pressure(rise.top)}, at {wording.clock(rise.end)}, {seen} between"
    )
    low = wording.rate(rise.leak.low)
    if case.is_gross_leak:
        level = Level.FAILS if case.system.allow is None or case.is_above_allowed else Level.BLOCKS
        brief = f"gross leak of at least {low}"
        summary = f"A gross leak: {way}. It is at least {low}."
    else:
        level = Level.BLOCKS
        names = _candidates(case, rise)
        names[-1] += f" of at least {low}"
        brief = _any_of(names).replace(WATER, "free water")
        summary = f"{_any_of(names).capitalize()}: {way}."
    evidence = {"leak_low_micron_per_min": rise.leak.low / wording.MICRON_PER_MINUTE, "top_micron": rise.top / MICRON}
    if math.isfinite(rise.leak.value):
        evidence["leak_micron_per_min"] = rise.leak.value / wording.MICRON_PER_MINUTE
    return (Finding("H25", level, summary, evidence, (rise.start, rise.end), brief),)


def _candidates(case: Case, rise: GrossRise) -> list[str]:
    """Return what a rise may be that is not told to be a leak, a leak last."""
    pull = pull_before(case.pumpdowns, rise.start)
    names = ["gas let in"] if rise.may_be_let_in else []
    if not rise.is_beyond_water or (pull is not None and pull.water_suspected):
        names.append(WATER)
    return [*names, "a gross leak"]


def _any_of(names: list[str]) -> str:
    return f"{', '.join(names[:-1])}{',' if len(names) > 2 else ''} or {names[-1]}"


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
        f"{wording.clock(largest.time)}, from one to the next, and go on as before, {why}. That can look like, or "
        f"hide, {wording.bound(case.feigned)}: the interval includes it."
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
