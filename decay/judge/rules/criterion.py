"""Findings about practice: whether the criterion is met, which part decided, and how far to trust the criterion."""

from __future__ import annotations

from decay import wording
from decay.judge.answer import CriterionOutcome, Part
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer


def _span(case: Case) -> tuple[float, float] | None:
    return None if case.fit is None else (case.fit.start, case.fit.end)


def _finding(case: Case, code: str, level: Level, words: str) -> tuple[Finding, ...]:
    summary = f"{case.outcome.title}, {words}: {case.outcome.detail}."
    brief = case.outcome.brief if level >= Level.BLOCKS else ""
    return (Finding(code, level, summary, {}, _span(case), brief),)


def criterion_met(case: Case) -> Answer:
    """
    What it looks for
        Every part of the criterion met: target, hold length, line or rise, and what else it asks for.
    Why it matters
        It answers whether the practice was followed. It does not answer whether the system leaks.
    When it is wrong
        The rates that published criteria tolerate span four orders of magnitude, and none scales with volume: a
        leaking large system meets them all.
    Example log
        Isolated at 280 micron, at most 430 in one hour, against a line of 500.
    What to do
        Read the leak's interval beside it.
    References
        The source of each criterion is printed with it.
    """
    if case.outcome.met is not True:
        return ()
    return _finding(case, "C01", Level.NOTE, "met")


def criterion_not_met(case: Case) -> Answer:
    """
    What it looks for
        A line that was exceeded, a rise that was too large, or pumping that was too short for the criterion.
    Why it matters
        The practice that was asked for was not met, whatever the cause.
    When it is wrong
        A tight but damp system fails it too: the cause beside it says so.
    Example log
        Isolated at 280 micron, 500 exceeded after 22 minutes.
    What to do
        See the cause: dry further, or look for the leak.
    References
        The source of each criterion is printed with it.
    """
    if case.outcome.met is not False or case.outcome.part is Part.TARGET:
        return ()
    return _finding(case, "C02", Level.FAILS, "not met")


def target_not_reached(case: Case) -> Answer:
    """
    What it looks for
        A hold that began above the pressure that the criterion asks for before isolation.
    Why it matters
        Then the criterion does not apply, and its hold proves nothing: a wet system is quiet at a high pressure.
    When it is wrong
        When the gauge sits at a hose end that the pump does not reach well.
    Example log
        Isolated at 640 micron where the criterion asks for 300.
    What to do
        Pull deeper: fresh pump oil, shorter and wider hoses, cores removed, warmth, time, a sweep with dry nitrogen.
    References
        The source of each criterion is printed with it.
    """
    if case.outcome.met is not False or case.outcome.part is not Part.TARGET:
        return ()
    return _finding(case, "C03", Level.FAILS, "not met")


def hold_too_short(case: Case) -> Answer:
    """
    What it looks for
        A hold that is shorter than the criterion asks for and did not break it before it ended.
    Why it matters
        What the missing minutes would have shown nobody knows.
    When it is wrong
        When the log was stopped early and someone watched on: that cannot be read from it.
    Example log
        Twelve quiet minutes, where the criterion asks for an hour.
    What to do
        Hold again for the full length.
    References
        The source of each criterion is printed with it.
    """
    if case.outcome.met is not None or case.outcome.part is not Part.LENGTH:
        return ()
    return _finding(case, "C04", Level.BLOCKS, "not answered")


def criterion_not_answered(case: Case) -> Answer:
    """
    What it looks for
        Another part of the criterion that the log does not answer: no hold, the target not in the log, fewer
        evacuations than asked for, a cold day, or a reading between two lines that its source leaves undefined.
    Why it matters
        Not answered is not met.
    When it is wrong
        When the missing part is in another log of the same job.
    Example log
        740 micron at fifteen minutes, where below 700 passes and 800 fails.
    What to do
        Log the whole job, or hold again.
    References
        The source of each criterion is printed with it.
    """
    if case.outcome.met is not None or case.outcome.part is Part.LENGTH:
        return ()
    return _finding(case, "C05", Level.BLOCKS, "not answered")


def teaching_only(case: Case) -> Answer:
    """
    What it looks for
        A criterion that is kept for teaching: rules for dial gauges that tolerate thousands of micron a minute.
    Why it matters
        They show what such rules let pass. No pass rests on one.
    When it is wrong
        Never: it states the status of a rule.
    Example log
        Any hold against "older-car-dial".
    What to do
        Choose another criterion with --criterion, or the equipment maker's own in a file.
    References
        Workshop texts of 1989 to 1994; US Army TM 5-3805-296-23-4 and TM 5-2420-230-24-1.
    """
    if not case.criterion.teaching_only:
        return ()
    summary = f"{case.criterion.title} is for teaching only: no pass rests on it."
    return (Finding("C06", Level.BLOCKS, summary, headline=f"{case.criterion.short} is for teaching only"),)


def other_stands(case: Case) -> Answer:
    """
    What it looks for
        A job for which no criterion was chosen: the longest shipped stand that the hold is long enough to answer
        judges, and how the hold stands against the others is said here.
    Why it matters
        No one stand is right for every circuit. A quarter of an hour answers the customary ten minutes and not an
        hour; both is worth knowing.
    When it is wrong
        Where the maker of the machine asks for another one.
    Example log
        A hold of twelve minutes: the ten-minute line judges, the one-hour stand needs 48 minutes more.
    What to do
        Choose a criterion with --criterion, or hold for as long as the one that counts asks for.
    References
        The source of each criterion is printed by `decay criteria`.
    """
    if not case.others:
        return ()
    if case.outcome.part is Part.NO_HOLD:
        return (Finding("C09", Level.NOTE, "No criterion was chosen: the longest that a hold can answer judges."),)
    summary = (
        f"No criterion was chosen, so the {case.outcome.short} judges, the longest that this hold can answer. The "
        f"others: {'; '.join(_stands(other) for other in case.others)}."
    )
    return (Finding("C09", Level.NOTE, summary),)


def _stands(outcome: CriterionOutcome) -> str:
    """Return how a hold stands against a criterion that does not judge, in a few words."""
    if outcome.met is None and outcome.part is Part.LENGTH:
        return f"{outcome.short} needs {wording.duration(outcome.missing)} more"
    word = {True: "met", False: "not met", None: "not answered"}[outcome.met]
    return f"{outcome.short} {word}" if outcome.met else f"{outcome.short} {word} ({outcome.brief})"


def ambient_asked(case: Case) -> Answer:
    """
    What it looks for
        A criterion that asks for a lowest ambient temperature, in a job whose temperature nobody stated or logged.
    Why it matters
        In the cold, water freezes and keeps still: a hold then passes a wet system.
    When it is wrong
        When everyone on site knows that it was warm.
    Example log
        Any log without a temperature, against the default criterion.
    What to do
        State it with --ambient.
    References
        UFGS 15182, 3.3.3.
    """
    if case.criterion.ambient_above is None or case.ambient is not None:
        return ()
    asked = wording.celsius(case.criterion.ambient_above)
    summary = f"The criterion applies above {asked} only; the temperature is not known. Add --ambient."
    return (Finding("C07", Level.CAVEAT, summary),)


def standing(case: Case) -> Answer:
    """
    What it looks for
        How well the criterion is founded, and what is known to be wrong with it.
    Why it matters
        Some customary lines have no source at all. None of them scales with volume.
    When it is wrong
        A sentence that was read in an excerpt may have changed in a later edition.
    Example log
        Any.
    What to do
        The equipment maker's instructions, local codes and licensed practice come first: put theirs in a file and give
        it with --criterion FILE.toml.
    References
        The ASHRAE Refrigeration Handbook (2014, chapter 8) sets no number: criteria are specific to each machine.
    """
    criterion = case.criterion
    founded = "" if criterion.source == "none" else f"{case.outcome.source}; "
    summary = f"{criterion.title} ({criterion.name}): {founded}{criterion.standing}."
    if criterion.warning:
        summary += f" Mind: {criterion.warning}."
    summary += " The equipment maker's instructions, local codes and licensed practice come first."
    weak = bool(criterion.warning) or criterion.source == "none"
    return (Finding("C08", Level.CAVEAT if weak else Level.NOTE, summary),)
