"""Findings about a cold and a warm hold: the leak that both allow, how the rise grew, and why nothing was concluded."""

from __future__ import annotations

from decay import wording
from decay.fit.warm import LEAST_WARMING, Condition
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer

_FAILED = {
    Condition.TEMPERATURES: "both temperatures have to be known: log them, or give --ambient once for each log",
    Condition.ORDER: "the warm hold has to come after the cold one",
    Condition.DIFFERENCE: f"the second hold has to be at least {LEAST_WARMING:.0f} K warmer",
    Condition.WARMED: "what was warmed has to be told: --warmed all (system and rig), system (the rig stayed cold) or "
    "part",
    Condition.RIG: "the rig stayed cold, so slow outgassing on its side would look like a leak: warm it too, or give "
    "its own hold with --rig-log",
    Condition.CLOCK: "the time between the two holds has to be known: log date and time, or both holds in one log",
    Condition.CLOSED: "air came in between the two holds",
    Condition.WATER: "free water may lie in the system: dry it first",
    Condition.FITS: "one leak and sources that grow with the temperature do not describe both holds",
}
OUTGASSING_ENERGY = 15e3
"""Apparent activation energy from which on a rise is mostly outgassing: what runs dry hides much of it. [J/mol]"""

ALIKE = 0.1
"""Change of the pace within which two holds rose alike: a leak's own share and the noise's. [-]"""


def warm_result(case: Case) -> Answer:
    """
    What it looks for
        Two holds of one system at least 15 K apart, the warm one second. Outgassing grows with the temperature by
        Arrhenius' law, a leak by a few per cent at most: that tells a slow source from a leak.
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
        pairs (developers' guide).
    """
    found = case.warm
    if found is None or found.leak is None or found.temperatures is None:
        return ()
    seen = "a leak is seen" if found.leak.low > 0.0 else "no leak is seen"
    cold, warm = (wording.celsius(t) for t in found.temperatures)
    summary = (
        f"Cold and warm hold together ({cold} and {warm}): {seen}, steady rise {wording.rate_interval(found.leak)} at "
        f"{cold}; the cold hold alone gave {wording.rate_interval(found.alone)}."
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
        most slow sources on its side were.
    When it is wrong
        Never: it says what is missing.
    Example log
        A hold at 22 °C and one at 31 °C.
    What to do
        What it says, and hold again. Each hold is judged by itself meanwhile.
    References
        Counted in simulated pairs (developers' guide).
    """
    found = case.warm
    if found is None or not found.failed:
        return ()
    reasons = "; ".join(_FAILED[condition] for condition in found.failed)
    summary = f"The two holds are at different temperatures, and nothing is concluded from them together: {reasons}."
    return (Finding("J07", Level.CAVEAT, summary),)
