"""Findings about the rig held alone: pump, hoses and gauge without the system."""

from __future__ import annotations

from decay import wording
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer


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
            f"{wording.bound(rig.share.high)}: the system's own is between {wording.rate(rig.leak.low)} and "
            f"{wording.bound(rig.leak.high)}."
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
