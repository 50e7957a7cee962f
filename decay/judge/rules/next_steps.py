"""What to do next, by cause."""

from __future__ import annotations

from decay import wording
from decay.judge import signs
from decay.judge.case import Case
from decay.judge.finding import Cause, Finding, Level
from decay.judge.rules.needs import (
    LONGEST_HOLD,
    closings,
    hold_again_for,
    hold_option,
    may_have_been_opened,
    wants_deeper_pull,
    wants_drying,
    wants_locating,
)
from decay.judge.rules.rule import Answer
from decay.judge.verdict import QUIET


def dry_further(case: Case) -> Answer:
    """
    What it looks for
        Outgassing or water that keeps the hold from an answer, or from meeting the criterion.
    Why it matters
        Gas from surfaces and oil hides a small leak; water also makes acid and ice.
    When it is wrong
        Where a leak feeds the rise, drying changes nothing: if a second pull brings no gain, look for the leak.
    Example log
        A hold that levels off at 900 micron where 500 was asked for.
    What to do
        In this order: fresh pump oil; warm the system gently (never an open flame); more time; a sweep with dry
        nitrogen through a regulator, then pull again. Change the filter drier last, just before the final pull.
    References
        Common practice, no source, for the order; the cautions S01 and S02 apply.
    """
    if not wants_drying(case):
        return ()
    summary = (
        "Dry further: fresh pump oil, warmth, time, a sweep with dry nitrogen through a regulator. Then pull and hold "
        "again."
    )
    return (Finding("N01", Level.NOTE, summary),)


def hold_again(case: Case) -> Answer:
    """
    What it looks for
        A question that a longer hold would answer: a criterion whose time was not reached, an allowed leak that is not
        excluded, slow outgassing that looks like a leak.
    Why it matters
        Time is the cheapest instrument: what hides a leak fades, and what leaks goes on.
    When it is wrong
        The length is computed from this hold's noise and outgassing; a wetter or warmer day needs longer.
    Example log
        A ten-minute hold that excludes 2 micron/min where 0.5 was asked for.
    What to do
        Pull again and hold for the time that it says.
    References
        For a slope with constant sampling the limit falls as length^-3/2; for a rise that levels off, as 1/length.
    """
    length = hold_again_for(case)
    if length is None:
        return ()
    if length > LONGEST_HOLD:
        summary = (
            "No hold within a day answers this: dry further, test a smaller section, log the temperature, or hold at a "
            "lower pressure."
        )
        return (Finding("N02", Level.NOTE, summary),)
    return (Finding("N02", Level.NOTE, f"Hold again for {length / 60:.0f} min.", {"hold_s": length}),)


def isolate_sections(case: Case) -> Answer:
    """
    What it looks for
        A leak that is seen.
    Why it matters
        A hold on each half shows which half leaks, and a smaller volume shows a leak sooner.
    When it is wrong
        A valve between sections can itself leak through.
    Example log
        A steady 8 micron/min in a split system with service valves.
    What to do
        Shut the service valves and hold each section by itself.
    References
        Q = V dp/dt: the same leak rises faster in a smaller volume.
    """
    if not wants_locating(case):
        return ()
    summary = "Isolate sections and hold each by itself: the one that rises has the leak."
    return (Finding("N03", Level.NOTE, summary),)


def blank_off_rig(case: Case) -> Answer:
    """
    What it looks for
        A steady rise that could be the rig's.
    Why it matters
        Hoses and seals leak more often than brazed joints.
    When it is wrong
        When the rig was proved on the same day.
    Example log
        A steady 3 micron/min with hoses at the manifold.
    What to do
        Blank off the hoses, pull the rig down, shut the pump's valve and hold the rig alone.
    References
        US Army TM 10-8145-222-23, 0014.
    """
    is_open = case.cause is Cause.UNRESOLVED and not may_have_been_opened(case) and not case.is_closing_open
    if case.rig is not None or case.next_tests or not (wants_locating(case) or is_open):
        return ()
    summary = "Test the rig alone first: blank off the hoses, pull it down and hold it."
    return (Finding("N04", Level.NOTE, summary),)


def locate(case: Case) -> Answer:
    """
    What it looks for
        A leak that is seen and matters.
    Why it matters
        A pressure-rise test does not say where.
    When it is wrong
        A leak that opens only under vacuum, such as a seal that is pushed outwards by pressure, may not be found so.
    Example log
        Any with the cause "leak".
    What to do
        Pressurise with dry nitrogen through a regulator, within the low-side limit, and look with bubbles; or add a
        tracer gas for an electronic detector; or use a dye that the equipment maker permits. Mend, pull, hold again.
    References
        The cautions S01 apply.
    """
    if not wants_locating(case):
        return ()
    summary = (
        "Locate it under dry nitrogen: bubbles, an electronic detector with tracer gas, or a dye that the maker "
        "permits. Repair it, pull and hold again."
    )
    return (Finding("N05", Level.NOTE, summary),)


def log_the_pull(case: Case) -> Answer:
    """
    What it looks for
        A hold whose pull was not logged, and whose cause the pull could settle.
    Why it matters
        Only the pull can exclude free water far below its saturation pressure.
    When it is wrong
        When the pull is in another file: analyse that one as well.
    Example log
        A log that begins at the closed valve.
    What to do
        Start the gauge's log before the pump, and let it run through the hold.
    References
        See H10.
    """
    if case.fit is None or case.pull is not None or case.cause in (Cause.TIGHT, Cause.OUTGASSING):
        return ()
    return (Finding("N06", Level.NOTE, "Log the pull too: start the gauge's log before the pump."),)


def pull_deeper(case: Case) -> Answer:
    """
    What it looks for
        A target that was not reached, or pumping below it that was too short.
    Why it matters
        The hold says little before the system is empty.
    When it is wrong
        A gauge far from the pump, behind a closed core, never sees what the pump reaches.
    Example log
        Isolated at 900 micron where 300 was asked for.
    What to do
        Fresh pump oil, short wide hoses, cores removed, warmth, time. Blank off the pump to see its own limit.
    References
        Common practice, no source.
    """
    if not wants_deeper_pull(case):
        return ()
    summary = (
        "Pull deeper: fresh pump oil, short wide hoses, valve cores removed, warmth, time. If the pump alone, blanked "
        "off, reaches the target, the system is wet or leaks."
    )
    return (Finding("N07", Level.NOTE, summary),)


def hold_still(case: Case) -> Answer:
    """
    What it looks for
        A hold that accelerates, falls, does not follow the model, or is contradicted by the rest of the log.
    Why it matters
        Its numbers rest on nothing.
    When it is wrong
        See H12, H13, H14 and P12.
    Example log
        A hold during which the sun came round.
    What to do
        Shade or wait, leave valves and hoses alone, shut off heaters, let the gauge warm up; then hold again.
    References
        None.
    """
    fit = case.fit
    if fit is None or case.gross is not None:
        return ()
    is_undisturbed = fit.tests.adequate and not signs.falls(fit) and not signs.accelerates(fit)
    if is_undisturbed and (case.is_closing_open or not case.is_withheld):
        return ()
    summary = "Hold again undisturbed: steady temperature, valves and hoses left alone, pump valve shut."
    return (Finding("N08", Level.NOTE, summary),)


def check_gauge(case: Case) -> Answer:
    """
    What it looks for
        A hold that reads zero, or the same from end to end.
    Why it matters
        Before the system is trusted the gauge has to be.
    When it is wrong
        Where the gauge's steps are coarse and the system is quiet.
    Example log
        An hour of zeros.
    What to do
        See that it reads atmosphere as over range and follows on the way down; clean it, let it warm up, hold it
        against another gauge on the same fitting.
    References
        The gauge maker's instructions.
    """
    fit = case.fit
    if fit is None or not (signs.reads_zero(fit) or signs.stays_the_same(fit)):
        return ()
    summary = (
        "Check the gauge first: does it follow a valve that is opened, does another gauge on the same fitting read the "
        "same? Then hold again."
    )
    return (Finding("N12", Level.NOTE, summary),)


def tell_more(case: Case) -> Answer:
    """
    What it looks for
        Volume, temperature or refrigerant that was not given.
    Why it matters
        With them the same log says more, without any more work on the system.
    When it is wrong
        Where only the criterion matters.
    Example log
        Any that was analysed with no options.
    What to do
        Give --volume, --ambient and --refrigerant.
    References
        None.
    """
    if case.fit is None:
        return ()
    told = (
        ("--volume", case.system.volume),
        ("--ambient", case.ambient),
        ("--refrigerant", case.system.refrigerant),
    )
    missing = [option for option, value in told if value is None]
    if not missing:
        return ()
    summary = f"Add {', '.join(missing)}: the same log then says what the rise means in grams a year."
    return (Finding("N09", Level.NOTE, summary),)


def log_a_hold(case: Case) -> Answer:
    """
    What it looks for
        A log without a usable hold.
    Why it matters
        Nothing can be said about a leak without one.
    When it is wrong
        When the hold is there but was not recognised: point at it.
    Example log
        A pull that ends with the pump running.
    What to do
        Reach the target, shut the valve between pump and system, keep the gauge on the system's side, log at least
        one reading in ten seconds, and leave it alone for the whole hold.
    References
        The length is the criterion's.
    """
    if case.holds:
        return ()
    summary = (
        "Log a hold: reach the target, shut the valve to the pump, keep the gauge on the system's side and leave it "
        f"alone for {wording.duration(case.criterion.hold)}."
    )
    if case.if_closed is None:  # else finding P17 says when and how
        option = hold_option(closings(case.phases, None), case.log.started)
        summary += f" If the hold is in this log, say when it began: {option}."
    return (Finding("N10", Level.NOTE, summary),)


def before_charging(case: Case) -> Answer:
    """
    What it looks for
        A hold that met the criterion with no leak seen, or with none that is larger than allowed.
    Why it matters
        The vacuum test is one of several; the joints have not seen pressure yet.
    When it is wrong
        When the pressure test was done before the pull.
    Example log
        A quiet hour at 300 micron.
    What to do
        Follow the maker's instructions for charging, and check the joints under working pressure when it runs.
    References
        The equipment maker's instructions and local codes rule.
    """
    if case.outcome.met is not True or not (case.cause in QUIET or case.is_above_allowed_excluded):
        return ()
    summary = "Before and after charging, check the joints under pressure, by the maker's instructions and local codes."
    return (Finding("N11", Level.NOTE, summary),)
