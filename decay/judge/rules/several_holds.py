"""Findings about more than one hold: repeated ones, a cold and a warm one, and the rig held alone."""

from __future__ import annotations

from decay import wording
from decay.fit.results import JointFit
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer
from decay.judge.verdict import QUIET
from decay.several.joint import WORST_MISFIT
from decay.several.warm import LEAST_WARMING, Condition


def joint_result(case: Case) -> Answer:
    """
    What it looks for
        Several holds fitted with one leak, while their outgassing may shrink from hold to hold.
    Why it matters
        It is the strongest evidence there is: what stays the same is the leak.
    When it is wrong
        When something was opened, mended or warmed between the holds; the test of homogeneity looks for that.
    Example log
        Holds of a triple evacuation that rise by 120, 60 and 45 micron in ten minutes each.
    What to do
        Trust it before any single hold.
    References
        See H01 for when a leak counts as seen.
    """
    joint = case.joint
    if case.is_withheld or case.gross is not None:
        return ()
    if joint is None or not joint.is_homogeneous or case.warm is not None:
        return ()
    all_of = "Both" if len(joint.each) == 2 else f"All {len(joint.each)}"
    says = "show a leak" if joint.is_leak_seen else "show no leak" if case.cause in QUIET else "leave a leak open"
    summary = (
        f"{all_of} holds together {says}: steady rise {wording.rate_interval(joint.leak)}; the smallest leak they "
        f"could show is {wording.bound(joint.detection_limit)}."
    )
    return (Finding("J01", Level.NOTE, summary, {"homogeneity_probability": joint.homogeneity_p}),)


def holds_contradict(case: Case) -> Answer:
    """
    What it looks for
        Holds that one leak cannot explain.
    Why it matters
        Something changed between them: a fitting opened, a repair, a valve left open.
    When it is wrong
        A gauge that was changed or re-zeroed between holds looks the same. So do walls that took up moisture from air
        that came in.
    Example log
        A hold at 0.5 micron/min (0.3 to 0.7) and, after a valve core was changed, one at 4 (3.8 to 4.2).
    What to do
        Find out what changed, and judge the last hold by itself.
    References
        A chi-squared test of homogeneity.
    """
    joint = case.joint
    if joint is None or joint.is_homogeneous:
        return ()
    each = "; ".join(
        f"{name} {wording.rate_interval(leak)}" for name, leak in zip(joint_names(joint), joint.each, strict=True)
    )
    p = wording.number(joint.homogeneity_p, 2)
    test = f"chi-squared test of homogeneity, p = {p}"
    if joint.misfit > WORST_MISFIT:
        test = f"fitted together they miss the readings {wording.number(joint.misfit**0.5, 2)} times the noise; {test}"
    if joint.opened is not None:
        before, later = (wording.rate_interval(goes_on) for goes_on in joint.opened)
        test = (f"what does not level off within the hold went from {before} to {later}; a leak stays, and outgassing "
                "fades unless air comes in")
    summary = (
        f"The holds disagree: no single leak explains them ({each}). Something changed between them: a fitting, a "
        f"repair, a valve ({test})."
    )
    evidence = {"homogeneity_probability": joint.homogeneity_p}
    return (Finding("J02", Level.BLOCKS, summary, evidence, headline="the holds disagree"),)


def each_adds(case: Case) -> Answer:
    """
    What it looks for
        The joint interval without each hold in turn.
    Why it matters
        It shows which hold the answer hangs on. A hold without which the leak is no longer seen deserves a second look.
    When it is wrong
        Never: it states what the fit says without that hold.
    Example log
        Three holds that give 3.1 micron/min (2.6 to 3.4); without the first, 3.0 (0 to 3.5).
    What to do
        Look at that hold's caveats: was anything touched, did the temperature drift?
    References
        Leaving one out, as in any check of influence.
    """
    joint = case.joint
    if joint is None or not joint.is_homogeneous or not joint.without:
        return ()
    names = joint_names(joint)
    parts = [f"without {name}, {wording.rate_interval(rest)}" for name, rest in zip(names, joint.without, strict=True)]
    return (Finding("J03", Level.NOTE, f"With one hold left out: {'; '.join(parts)}."),)


def holds_aside(case: Case) -> Answer:
    """
    What it looks for
        Holds that were not fitted together with the others.
    Why it matters
        What was left out is said, never dropped silently.
    When it is wrong
        A hold that was truly without any rise, and from which the pull went on, looks like a pull that stood.
    Example log
        A pull that stands at 20 micron for half an hour with the pump on, and then a hold.
    What to do
        If it was a hold, judge it by itself with --hold START..END.
    References
        None.
    """
    joint = case.joint
    return () if joint is None else tuple(Finding("J04", Level.NOTE, remark) for remark in joint.remarks)


def joint_names(joint: JointFit) -> tuple[str, ...]:
    """Return a name for every hold of a joint fit, in its order."""
    away = tuple(f"hold {index + 1} of {source}" for source, index in joint.elsewhere)
    return (*away, *(f"hold {index + 1}" for index in joint.holds_used))


NOT_MET = {
    Condition.TEMPERATURES: "both temperatures have to be known: log them, or give --ambient once for each log",
    Condition.ORDER: "the warm hold has to come after the cold one",
    Condition.DIFFERENCE: f"the second hold has to be at least {LEAST_WARMING:.0f} K warmer",
    Condition.WARMED: "what was warmed has to be given: --warmed all (system and rig), system (the rig stayed cold) or "
    "part",
    Condition.RIG: "the rig stayed cold, so slow outgassing on its side would look like a leak: warm it too, or give "
    "its own hold with --rig-log",
    Condition.CLOCK: "the time between the two holds has to be known: log date and time, or both holds in one log",
    Condition.CLOSED: "air came in between the two holds",
    Condition.WATER: "free water may lie in the system: dry it first",
    Condition.FITS: "one leak and sources that grow with the temperature do not describe both holds",
}
"""What a warm hold lacks, by the condition that it does not meet."""
OUTGASSING_ENERGY = 15e3
"""Apparent activation energy from which on a rise is mostly outgassing: what runs dry hides much of it. [J/mol]"""

ALIKE = 0.1
"""Change of the pace within which two holds rose alike: a leak's own share and the noise's. [-]"""


def warm_result(case: Case) -> Answer:
    """
    What it looks for
        Two holds of one system at least 15 K apart, the warm one second. Outgassing grows with the temperature by
        Arrhenius' law, a leak by a few per cent at most: that separates slow outgassing from a leak.
    Why it matters
        It settles in half an hour what a single hold could not in a day.
    When it is wrong
        Where something slow stayed cold: a compressor's oil, a rig outside the blanket, the far end of a line. Where
        a leak opens or closes as metal moves.
    Example log
        21 °C: 3.0 micron/min (0 to 3.4). 38 °C: 3.1 (0 to 3.5). Together 3.0 (2.6 to 3.3): a leak.
    What to do
        Trust it before either hold alone. How to warm, and what must not get warm, says N15.
    References
        Arrhenius, Zeitschrift für physikalische Chemie 4 (1889) 226. What it costs and brings was counted in simulated
        pairs (contributors' guide).
    """
    found = case.warm
    if found is None or found.leak is None or found.temperatures is None:
        return ()
    says = "show a leak" if found.leak.low > 0.0 else "show no leak" if case.cause in QUIET else "leave a leak open"
    cold, warm = (wording.celsius(t) for t in found.temperatures)
    summary = (
        f"Cold and warm hold together ({cold} and {warm}) {says}: steady rise {wording.rate_interval(found.leak)} "
        f"at {cold}; the cold hold alone gave {wording.rate_interval(found.alone)}."
    )
    return (Finding("J05", Level.NOTE, summary),)


def growth(case: Case) -> Answer:
    """
    What it looks for
        By how much a warm hold rose faster than a cold one, and the activation energy that this would mean.
    Why it matters
        A leak's energy is about zero. Water has 44 kJ/mol as it evaporates, 46 to 60 as it leaves rubber, 90 to 105 on
        steel. What lies between is a mixture, or a source that ran dry meanwhile.
    When it is wrong
        It is a sign, not the evidence: longer pumping lowers it, water that warmth set free raises it.
    Example log
        40 micron in a quarter of an hour at 21 °C and 95 at 38 °C: 2.4 times, 38 kJ/mol.
    What to do
        Far above zero: dry. About zero: look for the leak.
    References
        Krongauz, Bennett and Ling, J. Therm. Anal. Calorim. 125 (2016) 231 (rubber); IAPWS-IF97 (evaporation).
    """
    found = case.warm
    if found is None or found.growth is None or found.energy is None:
        return ()
    alike = abs(found.growth - 1.0) < ALIKE
    pace = "as fast as the cold one" if alike else f"{wording.number(found.growth, 2)} times as fast as the cold one"
    grows = found.energy >= OUTGASSING_ENERGY
    meaning = "as outgassing does" if grows else "as a leak would, or a source that ran dry meanwhile"
    summary = (
        f"The warm hold rose {pace}, {meaning}: apparent activation energy {found.energy / 1e3:.0f} kJ/mol (about 0 "
        "for a leak, 40 to 110 for gas given off)."
    )
    return (Finding("J06", Level.NOTE, summary, {"growth": found.growth, "energy_j_per_mol": found.energy}),)


def warm_refused(case: Case) -> Answer:
    """
    What it looks for
        Holds at two temperatures from which nothing may be concluded: a condition is not met.
    Why it matters
        Each condition was found necessary: at 10 K one tight system in a hundred was named a leak; with a cold rig
        most slow outgassing on its side was.
    When it is wrong
        Never: it says what is missing.
    Example log
        A hold at 22 °C and one at 31 °C.
    What to do
        What it says, and hold again. Each hold is judged by itself meanwhile.
    References
        Counted in simulated pairs (contributors' guide).
    """
    found = case.warm
    if found is None or not found.failed:
        return ()
    reasons = "; ".join(NOT_MET[condition] for condition in found.failed)
    summary = f"The two holds are at different temperatures, and nothing is concluded from them together: {reasons}."
    return (Finding("J07", Level.CAVEAT, summary),)


def rig_alone(case: Case) -> Answer:
    """
    What it looks for
        A log of the rig alone, blanked off: its own steady rise, its ultimate pressure, and what of the system's rise
        is left without it.
    Why it matters
        The hold tests system and rig together. What the rig leaks is no loss of refrigerant.
    When it is wrong
        When other hoses, another gauge or other valve positions were used than in the system's hold.
    Example log
        A rig of 0.2 L that rises by 30 micron/min alone makes 1.2 micron/min in a system of 5 L.
    What to do
        State both volumes, --volume and --rig-volume: the rig's leak is a throughput, and the same throughput rises
        more slowly in the larger volume.
    References
        Q = V dp/dt. The difference of the two intervals after Zou and Donner, Statistics in Medicine 27 (2008) 1693.
    """
    rig = case.rig
    if rig is None:
        return ()
    test = rig.test
    ultimate = "" if test.ultimate is None else f", lowest pressure {wording.pressure(test.ultimate)}"
    alone = f"The rig alone rises by {wording.rate_interval(test.leak)}{ultimate}"
    unit = wording.MICRON_PER_MINUTE
    evidence = {
        "rig_micron_per_min": test.leak.value / unit,
        "rig_high_micron_per_min": test.leak.high / unit,
        "rig_smallest_detectable_micron_per_min": test.fit.detection_limit / unit,
        "left_micron_per_min": rig.leak.value / unit,
        "left_low_micron_per_min": rig.leak.low / unit,
        "left_high_micron_per_min": rig.leak.high / unit,
    }
    if rig.is_bounded_only:
        missing = [
            option
            for option, known in (("--volume", case.system.volume), ("--rig-volume", test.volume))
            if known is None
        ]
        summary = (
            f"{alone}. Without {' and '.join(missing)} its share of the system's rise is only known to be at most "
            f"{wording.rate_high(rig.share)}: the system's own is between {wording.rate_low(rig.leak)} and "
            f"{wording.rate_high(rig.leak)}."
        )
    else:
        summary = (
            f"{alone}; that makes {wording.rate_interval(rig.share)} in the system's volume, and leaves "
            f"{wording.rate_interval(rig.leak)} for the system itself."
        )
    return (Finding("R01", Level.NOTE, summary, evidence),)


def rig_leaks_as_much(case: Case) -> Answer:
    """
    What it looks for
        A rig that itself makes half of the steady rise or more, or a steady rise of which none is left to see once the
        rig's share is off.
    Why it matters
        Then the rig is the finding: the system cannot be judged with it, neither as leaking nor as tight.
    When it is wrong
        When the rig's log was taken with other hoses, or the rig's volume was stated too large.
    Example log
        A rise of 6 micron/min in 2 L, and 55 micron/min in the rig's 0.2 L alone.
    What to do
        Mend the rig: seals, hose ends, valve packings, the gauge's fitting. Then hold it alone again, and the system.
    References
        US Army TM 10-8145-222-23, 0014: the rig is proved before the system.
    """
    rig = case.rig
    if rig is None or not (rig.explains_all or rig.leaks_as_much):
        return ()
    if rig.is_bounded_only:
        how = "may explain the whole steady rise, as far as the volumes are known"
    elif rig.explains_all:
        how = "explains the whole steady rise within its uncertainty"
    else:
        how = f"makes about {wording.number(100 * min(rig.share.value / rig.whole.value, 1.0), 2)} % of the steady rise"
    summary = f"The rig's own leak {how}: repair the rig first, then hold the system again."
    evidence = {
        "rig_share_micron_per_min": rig.share.value / wording.MICRON_PER_MINUTE,
        "whole_micron_per_min": rig.whole.value / wording.MICRON_PER_MINUTE,
    }
    return (Finding("R02", Level.BLOCKS, summary, evidence, headline="the rig itself leaks"),)
