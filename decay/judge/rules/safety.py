"""Cautions, printed where the next steps could hurt someone."""

from __future__ import annotations

from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.needs import hold_again_for, wants_deeper_pull, wants_drying, wants_locating
from decay.judge.rules.rule import Answer

FLAMMABLE = frozenset(
    ("R32", "R152a", "R143a", "R1234yf", "R1234zeE", "R454A", "R454B", "R454C", "R455A", "R290", "R600a", "R1270",
     "R170", "R600")
)
"""Refrigerants of the classes A2L, A2 and A3 by ASHRAE 34 (from memory: the label on the machine rules)."""
INERT = frozenset(
    ("R134a", "R22", "R410A", "R404A", "R407C", "R407A", "R407F", "R448A", "R449A", "R450A", "R513A", "R507A", "R744",
     "R12", "R502", "R23", "R508B", "R123", "R11", "R1233zdE", "R227ea", "R125", "R236fa")
)
"""Refrigerants of the classes A1 and B1 by ASHRAE 34 (from memory)."""


def _key(name: str) -> str:
    return "".join(letter for letter in name.casefold() if letter.isalnum())


_INERT_KEYS = frozenset(_key(name) for name in INERT)
_FLAMMABLE_KEYS = frozenset(_key(name) for name in FLAMMABLE)


def pressure_caution(case: Case) -> Answer:
    """
    What it looks for
        A next step with dry nitrogen: a sweep, or looking for the leak.
    Why it matters
        A cylinder holds some 200 bar. Oxygen or compressed air with oil explodes.
    When it is wrong
        Never.
    Example log
        Any that leads to N01 or N05.
    What to do
        Recover the refrigerant first. Never use oxygen or compressed air. Dry nitrogen only through a regulator with
        relief, never above the limit of the low side. Nitrogen and refrigerant displace air: ventilate.
    References
        Local codes, the equipment maker's instructions and licensed practice rule.
    """
    if not (wants_drying(case) or wants_locating(case)):
        return ()
    summary = (
        "Recover refrigerant first, by certified people and machines; dry nitrogen only through a regulator "
        "with relief and never above the low-side limit; never oxygen or compressed air; ventilate, for nitrogen and "
        "refrigerant displace air. The maker's instructions, local codes and licensed practice rule."
    )
    brief = "dry nitrogen through a regulator only, never oxygen or compressed air; ventilate"
    return (Finding("S01", Level.CAVEAT, summary, headline=brief),)


def vacuum_caution(case: Case) -> Answer:
    """
    What it looks for
        A next step that pulls again or keeps the system under vacuum.
    Why it matters
        A compressor that runs or is tested for insulation in a vacuum arcs inside. A pump on a pressurised system
        throws its oil. Wet oil is acid, escaping liquid freezes skin.
    When it is wrong
        Never.
    Example log
        Any that leads to another pull or hold.
    What to do
        Never pull a vacuum on a system under pressure; never run or insulation-test a compressor in a vacuum; keep
        the oil of electrically driven compressors clean of any other; wear gloves and glasses.
    References
        Local codes, the equipment maker's instructions and licensed practice rule.
    """
    if not (wants_drying(case) or wants_deeper_pull(case) or hold_again_for(case) is not None or not case.holds):
        return ()
    summary = (
        "Never pull a vacuum on a system under pressure; never run or insulation-test a compressor in a vacuum; "
        "wet oil is acid and escaping refrigerant freezes skin: gloves and glasses. Keep other oils out of "
        "electrically driven compressors."
    )
    brief = "no vacuum on a pressurised system; never run or test a compressor in a vacuum"
    return (Finding("S02", Level.CAVEAT, summary, headline=brief),)


def flammable_caution(case: Case) -> Answer:
    """
    What it looks for
        A flammable refrigerant, or one whose class is not known here, in a job with more work to do.
    Why it matters
        A2L, A2 and A3 refrigerants burn; a pump's switch or motor can light them.
    When it is wrong
        The class is taken from a list that does not know every blend: the label on the machine rules.
    Example log
        Any with --refrigerant R290.
    What to do
        Spark-free pump and detector, ventilation, no flame, people trained for flammable refrigerants.
    References
        ASHRAE 34 for the classes; local codes rule.
    """
    name = case.system.refrigerant
    if name is None or _key(name) in _INERT_KEYS:
        return ()
    known = "is flammable" if _key(name) in _FLAMMABLE_KEYS else "may be flammable (see the label)"
    summary = f"{name} {known}: spark-free pump and detector, ventilation, no flame, trained people only."
    brief = f"{name} {known}: no sparks, no flame, ventilate"
    return (Finding("S03", Level.CAVEAT, summary, headline=brief),)
