"""Findings about the phases: whether there is a hold to judge, and how whole it is."""

from __future__ import annotations

import numpy as np

from decay import wording
from decay.fit.results import HoldFit
from decay.judge import signs
from decay.judge.about_hold import gaps
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer
from decay.phases.phase import Ended, Kind, Phase

# What a log says in a few words whose holds have too few readings each.
TOO_FEW = "too few readings in the hold"
# A closing in doubt by more than this share of the hold is worth a caveat.
DOUBTFUL = 0.1


def no_usable_hold(case: Case) -> Answer:
    """
    What it looks for
        A log without a hold that could be fitted: no stretch after a pull, or on its own, in which the pressure rises
        or stands undisturbed with enough readings inside the gauge's range.
    Why it matters
        A pumpdown alone proves nothing about a leak: a good pump holds a leaking system at a low pressure.
    When it is wrong
        When the valve was closed and the rise is lost in the tail of the pull, or has three readings or fewer.
    Example log
        A pull from atmosphere to 400 micron that ends with the pump still running.
    What to do
        Log the hold as well, or point at it with --hold START..END. Written down by hand, read the gauge every minute
        at first, and every five minutes later.
    References
        Two US Army technical manuals say that the vacuum pump is not primarily a leak indicator.
    """
    is_explained = case.gross is not None and not case.gross.may_be_let_in
    if case.holds or is_explained or case.if_closed is not None:
        return ()
    if case.unfitted:
        told = f"No hold of this log could be judged: {case.unfitted[-1][1]}."
        return (Finding("P01", Level.BLOCKS, told, {"holds_found": float(len(case.unfitted))}, headline=TOO_FEW),)
    seen = ", ".join(
        f"{phase.kind.value} from {wording.clock(phase.start)} to {wording.clock(phase.end)}"
        for phase in case.phases[:8]
    )
    summary = (
        "No usable hold was found: no stretch after the pump was shut off in which the pressure rises or stands "
        f"undisturbed. Found: {seen or 'nothing that could be recognised'}."
    )
    return (Finding("P01", Level.BLOCKS, summary, {"holds_found": 0.0}, headline="no hold found"),)


def hold_not_fitted(case: Case) -> Answer:
    """
    What it looks for
        A hold, beside others, with too few readings inside the gauge's range for a fit.
    Why it matters
        It is in the log, but says nothing about a leak.
    When it is wrong
        Never: it states what could not be done.
    Example log
        A hold of one minute at one reading in ten seconds.
    What to do
        Hold for longer, or let the gauge log more often.
    References
        None.
    """
    if not case.holds:
        return ()  # P01 says it
    return tuple(
        Finding("P02", Level.CAVEAT, f"Not judged: {reason}.", {}, (phase.start, phase.end))
        for phase, reason in case.unfitted
    )


def readings_missing(case: Case) -> Answer:
    """
    What it looks for
        A gap in the hold: no reading for more than five times the usual distance and a fiftieth of the hold.
    Why it matters
        What happened there is not in the log: a valve could have been touched.
    When it is wrong
        A logger that writes only when the reading changes leaves gaps that mean "no change".
    Example log
        A one-hour hold with nothing between minutes 20 and 32.
    What to do
        Judge the longer undisturbed stretch with --hold START..END, or hold again.
    References
        None.
    """
    fit = case.fit
    if fit is None:
        return None
    starts, lengths = gaps(case.log, fit)
    if not len(starts):
        return ()
    missing = float(lengths.sum())
    count = f"{len(starts)} gaps," if len(starts) > 1 else "a gap of"
    summary = (
        f"Readings are missing in the hold: {count} {wording.duration(missing)} of "
        f"{wording.duration(fit.duration)}."
    )
    evidence = {"missing_s": missing}
    span = (float(starts[0]), float(starts[0] + lengths[0]))
    return (Finding("P03", Level.CAVEAT, summary, evidence, span),)


def over_range_in_hold(case: Case) -> Answer:
    """
    What it looks for
        A hold in which the gauge went above its range.
    Why it matters
        Only the readings within range are fitted; the fastest part of the rise may be lost.
    When it is wrong
        A single over-range word can be a glitch of the logger.
    Example log
        A hold that climbs past 25,000 micron in two minutes and then reads a word instead of a number.
    What to do
        A rise that leaves the range so soon is a gross leak or free water: look for an open fitting first.
    References
        None.
    """
    fit = case.fit
    if fit is None:
        return None
    inside = case.log.within(fit.start, fit.end)
    count = int(np.count_nonzero(case.log.is_over_range & inside))
    phase = _phase_of(case, fit)
    if count == 0 and (phase is None or phase.ended is not Ended.OVER_RANGE):
        return ()
    how = f"The gauge went over range in the hold ({count} readings)" if count else "The hold ends at the gauge's range"
    summary = f"{how}; only what lies within its range is judged."
    return (Finding("P04", Level.CAVEAT, summary, {"over_range_readings": float(count)}, (fit.start, fit.end)),)


def gauge_at_zero(case: Case) -> Answer:
    """
    What it looks for
        More than a fiftieth of a hold's readings at zero.
    Why it matters
        No pump of the trade leaves nothing behind: a gauge that reads zero is below its range, set off, or dead. What
        the pressure did there is not in the log, and a flat line at zero proves nothing.
    When it is wrong
        A gauge of coarse steps may round a few deep readings down to zero; then its steps are the limit, not its zero.
    Example log
        A pull to 0 micron in twelve minutes, and an hour of zeros after it.
    What to do
        Read the gauge at atmosphere, check its zero against another one, and hold again with one that reads.
    References
        Common practice, no source. Oil-sealed rotary pumps end at a few micron (makers' data in general).
    """
    fit = case.fit
    if fit is None:
        return None
    if not signs.reads_zero(fit):
        return ()
    summary = (
        f"The gauge reads zero in {100 * fit.share_at_zero:.0f} % of the hold: it is below its range, misadjusted, or "
        "dead. What the pressure did there is not in the log."
    )
    evidence = {"share_at_zero": fit.share_at_zero}
    return (Finding("P07", Level.BLOCKS, summary, evidence, (fit.start, fit.end), "the gauge reads zero"),)


def never_changes(case: Case) -> Answer:
    """
    What it looks for
        A hold of thirty readings or more that are all the same.
    Why it matters
        A gauge or a logger that hangs looks just like a tight system.
    When it is wrong
        Steps much coarser than noise and rise make equal readings too: then the step is what limits the hold.
    Example log
        An hour of 250 micron at one reading every ten seconds, with steps of one micron.
    What to do
        See that the reading follows when the gauge is warmed by hand, or when the valve is opened after the hold.
    References
        Common practice, no source.
    """
    fit = case.fit
    if fit is None:
        return None
    if not signs.stays_the_same(fit):
        return ()
    summary = (
        f"All {fit.readings} readings of the hold are the same, {wording.pressure(fit.end_pressure)}: a gauge or a "
        "logger that hangs looks just like it."
    )
    return (Finding("P08", Level.CAVEAT, summary, {"equal_readings": float(fit.readings)}, (fit.start, fit.end)),)


def which_hold_decides(case: Case) -> Answer:
    """
    What it looks for
        More than one usable hold.
    Why it matters
        The verdict rests on the last one that is not much shorter than the longest: it shows the system as it will
        be charged. A short remnant after a longer hold does not decide.
    When it is wrong
        When the last hold was only a look at the gauge and an earlier one was the test.
    Example log
        A triple evacuation with holds of 15, 15 and 60 minutes: the third decides.
    What to do
        Choose another with --hold START..END.
    References
        None.
    """
    if case.decisive is None:
        return None
    if len(case.holds) < 2:
        return ()
    fit = case.holds[case.decisive].fit
    summary = (
        f"Of {len(case.holds)} holds number {case.decisive + 1} decides ({wording.duration(fit.duration)} from "
        f"{wording.clock(fit.start)}), the last of usable length."
    )
    return (Finding("P05", Level.NOTE, summary, {"holds": float(len(case.holds))}, (fit.start, fit.end)),)


def hold_disturbed(case: Case) -> Answer:
    """
    What it looks for
        A hold that was ended, with what ended it: a sudden step that stays, gas let in, the pump, the end of the
        gauge's range, a pause. A hold whose closing is in doubt, with by how much. Or a hold without a rise, with
        what showed that it began.
    Why it matters
        What follows is not judged, and what came before may have been touched as well. A pressure that stands still
        because the pump was never shut off proves nothing about a leak.
    When it is wrong
        A gauge that jumps by more than 4.5 % where it changes its range makes such a step by itself.
    Example log
        A hold that drops by 40 micron after 18 minutes because someone cracked the valve.
    What to do
        Look at the plot, and hold again undisturbed. Without a rise: make sure that the valve to the pump was shut.
    References
        None.
    """
    fit = case.fit
    if fit is None:
        return None
    phase = _phase_of(case, fit)
    if phase is None or not phase.remark:
        return ()
    summary, level = f"About the hold: {phase.remark}.", Level.NOTE
    if not phase.has_rise:
        level = Level.CAVEAT
        summary += (
            " A pump or a controller that keeps the pressure there would look much the same: make sure that the valve "
            "was shut."
        )
    elif phase.ended is Ended.STEP or max(phase.earlier, phase.later) > DOUBTFUL * phase.duration:
        level = Level.CAVEAT
    evidence = {"earlier_s": phase.earlier, "later_s": phase.later, "set_aside": float(len(phase.aside))}
    return (Finding("P06", level, summary, evidence, (fit.start, fit.end)),)


def _phase_of(case: Case, fit: HoldFit) -> Phase | None:
    """Return the phase that a fit was made of."""
    return next((p for p in case.phases if p.kind is Kind.HOLD and p.start == fit.start), None)
