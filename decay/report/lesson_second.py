"""What a second and a warm hold would have told of the lesson's systems: in words and as a document."""

from __future__ import annotations

from decay import wording
from decay.analysis import Analysis
from decay.judge.rules.warm import ALIKE, OUTGASSING_ENERGY
from decay.lesson.second_hold import SECOND, SecondHold
from decay.quantities import MICRON
from decay.report.document_numbers import Json, interval, number
from decay.second.next_test import MORE_PULL
from decay.second.words import WARMING

ONCE_MORE = (
    "Held once more, 15 min after 15 min of pull, the same system shows what is left of its moisture and all of its "
    "leak. Warmed between the two, gas from inside comes two to five times as fast, and a leak as fast as before. "
    + WARMING
)
"""What the second hold and the warm one are for."""


def second_hold(second: SecondHold) -> tuple[str, str]:
    """Return what a second hold at the same temperature would have told, and a warm one, in a clause each."""
    pull, held = wording.duration(MORE_PULL), wording.duration(SECOND)
    again = f"{pull} more pull and {held} hold, both holds together: {_leak(second.again)}"
    found = second.warm.warm
    if found is None or found.failed or found.growth is None or found.energy is None:
        return again, "nothing can be concluded from the warmth"
    like = "gas from inside" if found.energy >= OUTGASSING_ENERGY else "a leak"
    return again, f"{second.warmer:.0f} K warmer it rises {pace(second)}, as {like} does: {_leak(second.warm)}"


def pace(second: SecondHold) -> str:
    """Return how fast the warm hold rises beside the cold one."""
    found = second.warm.warm
    if found is None or found.growth is None:
        return "not told"
    if abs(found.growth - 1.0) < ALIKE:
        return "as fast as before"
    return f"{wording.number(found.growth, 2)} times as fast"


def _leak(analysis: Analysis) -> str:
    leak = analysis.basis.leak
    if leak is None:
        return "not told"
    return f"a leak of {wording.rate_interval(leak)}" if leak.low > 0.0 else f"no leak above {wording.bound(leak.high)}"


def second_document(second: SecondHold) -> Json:
    """Return what a second and a warm hold would have told, as a document."""
    found = second.warm.warm
    return {
        "minutes": number(second.minutes),
        "again": {"leak_micron_per_min": interval(second.again.basis.leak, MICRON / 60.0)},
        "warm": {
            "warmer_k": number(second.warmer),
            "leak_micron_per_min": interval(second.warm.basis.leak, MICRON / 60.0),
            "growth": None if found is None else number(found.growth),
            "apparent_activation_energy_kj_per_mol": None if found is None or found.energy is None else number(
                found.energy / 1e3),
            "conditions_failed": [] if found is None else [str(condition) for condition in found.failed],
        },
    }
