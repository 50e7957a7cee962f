"""Findings about the pull before the hold: water in it, a stall, and whether it was long enough."""

from __future__ import annotations

from decay import wording
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer
from decay.quantities import MICRON

# A tail that would fall by this share with the next step of pumping has not settled.
STILL_FALLING = 0.1


def pull_stood_at_water(case: Case) -> Answer:
    """
    What it looks for
        A pull that stood at the saturation pressure of water at the ambient temperature, or of ice.
    Why it matters
        A pump cannot get below that pressure while liquid is left; its cold spot may freeze, and ice then gives off
        vapour so slowly that the gauge looks dry.
    When it is wrong
        Pump, hose or gauge can stop at the same pressure for their own reasons; so can refrigerant boiling from oil.
    Example log
        A pull that stays between 17,000 and 18,500 micron for fifteen minutes at 20 °C, then falls on.
    What to do
        Dry: warm the system, open the low points, sweep with dry nitrogen, change the pump oil.
    References
        IAPWS R7-97 and R14-08 for saturation pressures; freezing at 611.657 Pa (4,588 micron).
    """
    pulls = [pull for pull in case.pumpdowns if pull.water_suspected]
    findings = []
    for pull in pulls:
        plateau = next((p for p in pull.plateaus if p.is_water), None)
        where = f" at {wording.pressure(plateau.pressure)} ({plateau.meaning})" if plateau is not None else ""
        span = (plateau.start, plateau.end) if plateau is not None else (pull.start, pull.end)
        findings.append(Finding("E01", Level.CAVEAT, f"Free water is suspected: the pull stood{where}.", {}, span))
    return tuple(findings)


def pull_stalled(case: Case) -> Answer:
    """
    What it looks for
        A pull that stood at a pressure that is not water's.
    Why it matters
        It shows the limit of pump, oil, hose or gauge, or a leak that the pump only just keeps up with.
    When it is wrong
        A gauge that is slow, or a technician who throttled the valve, makes a stall as well.
    Example log
        A pull that stays at 900 micron for ten minutes with a hot pump and milky oil.
    What to do
        Change the pump oil, blank off the pump to see its own limit, use shorter and wider hoses, remove valve cores.
    References
        Common practice, no source.
    """
    pull = case.pull
    if pull is None:
        return () if case.fit is not None else None
    stalls = [p for p in pull.plateaus if not p.is_water]
    return tuple(
        Finding(
            "E02",
            Level.NOTE,
            f"The pull stood at {wording.pressure(stall.pressure)} for {wording.duration(stall.end - stall.start)} "
            f"({stall.meaning}).",
            {"plateau_micron": stall.pressure / MICRON},
            (stall.start, stall.end),
        )
        for stall in stalls
    )


def isolated_too_early(case: Case) -> Answer:
    """
    What it looks for
        A pull whose tail was still falling by more than a tenth a step when the valve was closed.
    Why it matters
        What the pump would have taken in the next minutes comes out in the hold instead and hides the leak.
    When it is wrong
        The tail of the pull is a power law only roughly; its extrapolation is no promise.
    Example log
        A pull that falls from 600 to 480 micron in its last five minutes and is isolated there.
    What to do
        Pull on until the gauge hardly moves, then isolate.
    References
        Outgassing falls about as 1/t for unbaked metal (order of magnitude, general vacuum practice).
    """
    pull = case.pull
    if pull is None:
        return () if case.fit is not None else None
    if not pull.longer_pull:
        return ()
    extra, expected = pull.longer_pull[0]
    if expected > (1 - STILL_FALLING) * pull.end_pressure:
        return ()
    summary = (
        f"Isolated while the pressure was still falling: {wording.duration(extra)} more would have taken it from "
        f"{wording.pressure(pull.end_pressure)} to about {wording.pressure(expected)}."
    )
    return (Finding("E03", Level.CAVEAT, summary, {"expected_micron": expected / MICRON}, (pull.start, pull.end)),)


def longer_pull(case: Case) -> Answer:
    """
    What it looks for
        What the tail of the pull says a longer one would have reached, where the hold still gave off gas or the
        target was not reached.
    Why it matters
        It tells whether time alone will do, or whether the pump, the hoses or water stand in the way.
    When it is wrong
        It carries the tail on as it was; a leak, or a pump at its limit, stops it sooner.
    Example log
        A pull at 520 micron, falling: 30 minutes more would have brought about 410.
    What to do
        Pull for longer, or mend what limits the pull.
    References
        The tail is taken as p - p_ultimate proportional to t^-n.
    """
    pull = case.pull
    if pull is None:
        return () if case.fit is not None else None
    if not pull.longer_pull or case.outcome.met is True:
        return ()
    extra, expected = pull.longer_pull[-1]
    summary = f"A pull {wording.duration(extra)} longer would have reached about {wording.pressure(expected)}."
    return (Finding("E04", Level.NOTE, summary, {"expected_micron": expected / MICRON}, (pull.start, pull.end)),)


def no_pull_logged(case: Case) -> Answer:
    """
    What it looks for
        A hold without a pull before it in the log.
    Why it matters
        The pull shows whether water stood in the system and how long it was under vacuum; without it a slow source
        is harder to tell from a leak.
    When it is wrong
        Never: it states what is not in the log.
    Example log
        A log that begins at the closed valve.
    What to do
        Start the log before the pump.
    References
        None.
    """
    if case.fit is None:
        return None
    if case.pull is not None:
        return ()
    summary = "The log shows no pull before the hold: free water and slow outgassing are harder to rule out."
    return (Finding("E05", Level.CAVEAT, summary, {}, (case.fit.start, case.fit.end)),)
