"""Findings that hold the answer against the whole log, whatever was taken for pulls and holds."""

from __future__ import annotations

from datetime import datetime, timedelta

from decay import wording
from decay.judge.answer import IfClosed
from decay.judge.around import Where, end_above
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer
from decay.judge.verdict import QUIET
from decay.log.quality import AT_BOTTOM
from decay.quantities import MICRON


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
        When gas was let in slowly, or before anything told that the valve had been closed. A sudden rise off the range
        or to a twentieth of an atmosphere counts as gas let in, where the closing before it is known.
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
        f"from {wording.pressure(found.bottom)} to {top} ({wording.rate(found.rate)}). That {side} the judged stretch, "
        f"{judged}, which allows {wording.rate(case.stretch.upper)}."
    )
    evidence = {
        "rise_micron": (found.top - found.bottom) / MICRON,
        "rise_micron_per_min": found.rate / wording.MICRON_PER_MINUTE,
        "claimed_high_micron_per_min": case.stretch.upper / wording.MICRON_PER_MINUTE,
    }
    brief = f"the rest of the log contradicts {claim}"
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
        f"{wording.bound(case.hidden)} may hide in {wording.duration(case.fit.duration)}, and nothing finer is said."
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
        None: it follows from what the readings cannot tell.
    """
    told = case.if_closed
    if told is None or case.fall is not None:
        return ()
    limit = max(told.leak.high, told.detection_limit)
    met = {True: "met", False: "not met", None: "not answered"}[told.outcome.met]
    at, option = closing_words(case, told)
    summary = (
        f"Nothing marks the closing: a hold at the pump's limit and a running pump look alike. If the valve was closed "
        f'by {at}: no leak above {wording.bound(limit)}, and "{told.outcome.title}" {met}. Add {option} if so.'
    )
    evidence = {
        "closed_by_s": told.closed_by,
        "leak_high_micron_per_min": told.leak.high / wording.MICRON_PER_MINUTE,
        "smallest_detectable_micron_per_min": told.detection_limit / wording.MICRON_PER_MINUTE,
    }
    brief = "nothing marks when the valve was closed"
    return (Finding("P17", Level.BLOCKS, summary, evidence, (told.closed_by, told.end), brief),)


def closing_words(case: Case, told: IfClosed) -> tuple[str, str]:
    """Return the moment of the closing and the option that confirms it: by the log's clock where it has one."""
    if case.log.started:
        first = datetime.fromisoformat(case.log.started)
        moments = [first + timedelta(seconds=s) for s in (told.closed_by, told.end)]
        if moments[0].date() == moments[1].date() == first.date():
            begin, end = (f"{m:%H:%M:%S}" for m in moments)
            return begin.removesuffix(":00"), f"--hold {begin}..{end}"
    return f"{wording.clock(told.closed_by)} of the log", f"--hold {told.closed_by:.0f}..{told.end:.0f}"
