"""The next tests in words: what to do, what it costs, how often it names the leak, and how to warm without harm."""

from __future__ import annotations

import math

from decay import wording
from decay.several.next_test import MORE_PULL, NextTest, TestKind
from decay.several.warm import LEAST_WARMING

WARMING = (
    f"Caution when warming: warm air or blankets, system and rig alike, {LEAST_WARMING:.0f} K or more; never a flame, "
    "and below the makers' limits for oil, valves and hoses."
)
"""What goes with every warm hold that is advised."""

_NAMES = {
    TestKind.LONGER: "hold on",
    TestKind.AGAIN: "second hold",
    TestKind.WARM: "warm hold",
    TestKind.RIG: "rig alone",
    TestKind.SECTION: "sections",
}


def what_to_do(test: NextTest) -> str:
    """Return what a test asks for, with its minutes, as the beginning of a sentence."""
    pull, cost, held = wording.duration(MORE_PULL), _minutes(60.0 * test.minutes), _minutes(test.hold or 0.0)
    return {
        TestKind.LONGER: f"Let the hold go on to {held} ({cost} more), or hold anew for as long",
        TestKind.AGAIN: f"Pull for {pull} more and hold again for {held} ({cost})",
        TestKind.WARM: f"Warm system and rig while you pull for {pull}, and hold warm for {held} ({cost})",
        TestKind.RIG: f"The rig alone, blanked off ({cost})",
        TestKind.SECTION: f"Each section alone ({cost} each)",
    }[test.kind]


def _minutes(t: float) -> str:
    """Return a length of time [s] in full minutes, rounded up: so lengths and what is left of them add up."""
    return wording.duration(60.0 * math.ceil(t / 60.0 - 1e-9))


def name_of(test: NextTest) -> str:
    """Return a test's name, as short as it goes."""
    return _NAMES[test.kind]


def in_short(test: NextTest) -> str:
    """Return a test in a few words: its name, its minutes, and the chance that it names the leak."""
    more = " more" if test.kind is TestKind.LONGER else ""
    chance = "" if test.chance is None else f", names a leak in {wording.chance(test.chance)} of cases"
    return f"{name_of(test)}, {_minutes(60.0 * test.minutes)}{more}{chance}"


def mid_sentence(text: str) -> str:
    """Return words that begin a sentence as they stand within one."""
    return text[0].lower() + text[1:]


def deciding(tests: tuple[NextTest, ...]) -> tuple[NextTest, ...]:
    """Return those that tell whether there is a leak, and not only where; the best first."""
    return tuple(test for test in tests if test.chance is not None)
