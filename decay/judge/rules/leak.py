"""Findings about the steady rise: seen, above what is allowed, not excluded, or not seen and how small it could be."""

from __future__ import annotations

import math

from decay import wording
from decay.impact.hold_length import RestsOn, hold_to_show
from decay.interval import Interval
from decay.judge.case import Case
from decay.judge.finding import Cause, Finding, Level
from decay.judge.rules.rule import Answer
from decay.judge.verdict import NAMED, QUIET
from decay.system import AllowKind


def _evidence(leak: Interval) -> dict[str, float]:
    unit = wording.MICRON_PER_MINUTE
    return {
        "leak_micron_per_min": leak.value / unit,
        "leak_low_micron_per_min": leak.low / unit,
        "leak_high_micron_per_min": leak.high / unit,
    }


def _span(case: Case) -> tuple[float, float] | None:
    return None if case.fit is None else (case.fit.start, case.fit.end)


def detectable(case: Case) -> str:
    """Return the smallest leak that the hold could have shown, in words: its rise, throughput and grams a year.

    Where a leak was allowed that is smaller, the hold that would have shown it stands behind.
    """
    limit, impact = case.detection_limit, case.impact
    if limit is None or impact is None:
        return ""
    parts = []
    if impact.detectable_throughput is not None and math.isfinite(impact.detectable_throughput):
        parts.append(f"{wording.up(impact.detectable_throughput)} Pa·m³/s")
    if impact.detectable_loss is not None and math.isfinite(max(impact.detectable_loss)):
        parts.append(f"{wording.between(*impact.detectable_loss)}, by flow regime")
    text = wording.bound(limit)
    if parts:
        text += f" ({'; '.join(parts)})"
    return text + _hold_for_the_allowed(case, limit)


def _hold_for_the_allowed(case: Case, limit: float) -> str:
    if case.fit is None or case.allowed is None or limit <= case.allowed:
        return ""
    wanted = hold_to_show(case.fit, case.log, case.allowed, case.ambient)
    if math.isfinite(wanted.length):
        return f"; a hold of about {wording.duration(wanted.length)} would show the allowed {_allow_text(case)}"
    is_drift = wanted.rests_on is RestsOn.TEMPERATURE
    drift = f"a temperature drift of {wording.number(wanted.drift * wording.HOUR, 2)} K in an hour looks the same"
    why = drift if is_drift else "a week is not enough"
    return f"; no hold would show the allowed {_allow_text(case)}: {why}"


def leak_seen(case: Case) -> Answer:
    """
    What it looks for
        A steady part of the rise: what is left when everything that levels off within ten holds is taken away. It is
        seen when the estimate exceeds the decision threshold and its whole interval lies above zero.
    Why it matters
        Air that gets in steadily gets in for ever, and refrigerant gets out by the same path. A rise that stays under
        a customary line can still empty the system within a season.
    When it is wrong
        Outgassing slower than ten holds looks the same. So does free water far below its saturation pressure where the
        pull was not logged, and a rig that leaks: the rig is part of the test.
    Example log
        One hour at one reading a second, from 300 to 480 micron in a straight line: 3 micron/min.
    What to do
        Test the rig alone, isolate sections, then locate the leak under dry nitrogen.
    References
        L. A. Currie, Analytical Chemistry 40 (1968) 586, for the decision threshold; ISO 11929.
    """
    if case.fit is None or case.leak is None or case.cause is None:
        return None
    if case.gross is not None:
        return ()  # finding H25 names it
    if case.cause not in NAMED or not case.is_leak_seen:
        return ()
    level = Level.FAILS if case.system.allow is None and case.leak.low > 0 else Level.NOTE
    summary = f"A leak is seen: the pressure rises steadily by {wording.rate_interval(case.leak)}."
    brief = f"leak of {wording.rate_interval(case.leak)}"
    return (Finding("H01", level, summary, _evidence(case.leak), _span(case), brief),)


def leak_above_allowed(case: Case) -> Answer:
    """
    What it looks for
        The lower end of the leak's interval above the leak that was allowed; for an allowed loss, in both flow
        regimes.
    Why it matters
        Then the leak is too large whatever the noise, the outgassing and the volume were.
    When it is wrong
        When volume, refrigerant or temperature were stated wrongly.
    Example log
        --allow "1 micron/min" with a steady rise of 3.0 micron/min (2.8 to 3.2).
    What to do
        Test the rig alone, isolate sections, then locate the leak under dry nitrogen.
    References
        JCGM 106 and ILAC-G8:09/2019 on deciding with an uncertainty.
    """
    if case.leak is None:
        return None
    if not case.is_above_allowed or case.cause is Cause.FREE_WATER:
        return ()
    summary = (
        f"The leak is larger than allowed: at least {wording.rate_low(case.leak)} (allowed {_allow_text(case)})."
    )
    brief = f"leak above the allowed {_stated(case)}"
    return (Finding("H02", Level.FAILS, summary, _evidence(case.leak) | _allowed(case), _span(case), brief),)


def _allow_text(case: Case) -> str:
    """Return the allowed leak as it was stated, and as a rate where that is another quantity."""
    allow = case.system.allow
    if allow is None or allow.kind is AllowKind.RISE:
        return _stated(case)
    return f"{allow.text}, here {wording.rate(case.allowed or 0.0)}"


def _stated(case: Case) -> str:
    """Return the allowed leak as the user stated it."""
    return "" if case.system.allow is None else case.system.allow.text


def _allowed(case: Case) -> dict[str, float]:
    return {"allowed_micron_per_min": (case.allowed or 0.0) / wording.MICRON_PER_MINUTE}


def allowed_not_excluded(case: Case) -> Answer:
    """
    What it looks for
        A leak whose upper end is above what was allowed and whose lower end is not; for an allowed loss, a leak that is
        larger than allowed in one flow regime and smaller in the other.
    Why it matters
        The hold does not show that the leak is too large; it does not show that it is small enough either.
    When it is wrong
        The upper end is robust, since outgassing only adds to a rise. It is too low only if something took gas up, or
        the system cooled, during the hold.
    Example log
        --allow "1 micron/min" with a ten-minute hold that gives 0.6 micron/min (0 to 2.1).
    What to do
        Hold again for longer (finding N02 says how long), or dry further first.
    References
        ISO 10576: "inconclusive" is a legitimate result.
    """
    if case.leak is None:
        return None
    if case.allowed is None or case.leak.high <= case.allowed or case.is_above_allowed:
        return ()
    summary = (
        f"A leak larger than allowed is not ruled out: it may be up to {wording.rate_high(case.leak)} (allowed "
        f"{_allow_text(case)})."
    )
    brief = f"leak above the allowed {_stated(case)} not ruled out"
    return (Finding("H03", Level.BLOCKS, summary, _evidence(case.leak) | _allowed(case), _span(case), brief),)


def no_leak_seen(case: Case) -> Answer:
    """
    What it looks for
        A hold without a steady rise that counts as seen. The smallest leak that such a hold would have shown in 95 of
        100 cases stands beside it, always.
    Why it matters
        "None seen" means nothing without it: five minutes in a large volume see no leak at all.
    When it is wrong
        When gas was re-adsorbed, or the system cooled, and so hid a rise; when the gauge was shut off from the system.
    Example log
        One hour that stays between 290 and 300 micron in steps of one: none seen, smallest detectable 0.2 micron/min.
    What to do
        Compare the smallest detectable leak with the one that matters; hold longer if it is not small enough.
    References
        L. A. Currie, Analytical Chemistry 40 (1968) 586; ISO 11929.
    """
    if case.leak is None or case.cause is None or case.detection_limit is None:
        return None
    if case.cause not in QUIET:
        return ()
    limit = case.detection_limit / wording.MICRON_PER_MINUTE
    summary = (
        f"No leak is seen: steady rise {wording.rate_interval(case.leak)}. The smallest leak this hold could show: "
        f"{detectable(case)}."
    )
    evidence = _evidence(case.leak) | {"smallest_detectable_micron_per_min": limit}
    return (Finding("H04", Level.NOTE, summary, evidence, _span(case)),)


def allowed_excluded(case: Case) -> Answer:
    """
    What it looks for
        The whole interval of the leak at or below the leak that was allowed.
    Why it matters
        Then whatever leaks, it leaks less than what was said to matter.
    When it is wrong
        When the allowed leak was turned into a rise with a wrong volume, refrigerant or temperature; when a leak opens
        only under pressure, cold, or vibration.
    Example log
        --allow "1 micron/min" with a one-hour hold that gives 0.1 micron/min (0 to 0.3).
    What to do
        Nothing more for this question. The joints still have to be checked under working pressure.
    References
        JCGM 106 on deciding with an uncertainty.
    """
    if case.leak is None:
        return None
    if case.allowed is None or not case.is_above_allowed_excluded:
        return ()
    seen = " A smaller leak is seen." if case.is_leak_seen else ""
    summary = (
        f"Every leak larger than allowed is ruled out: it is at most {wording.rate_high(case.leak)} (allowed "
        f"{_allow_text(case)}).{seen}"
    )
    brief = f"every leak above the allowed {_stated(case)} ruled out"
    return (Finding("H05", Level.NOTE, summary, _evidence(case.leak) | _allowed(case), _span(case), brief),)
