"""How numbers enter the JSON document: rounded, in a stated unit, and null where nothing is known."""

from __future__ import annotations

import math
from typing import Any

from decay.impact.assess import Bracket
from decay.interval import Interval
from decay.several.next_test import NextTest

SIGNIFICANT_DIGITS = 9

Json = dict[str, Any]


def json_number(x: float | None, unit: float = 1.0) -> float | None:
    """Return a number in a unit, rounded to what a reader can use; `None` for what is unknown or has no bound."""
    if x is None or not math.isfinite(x / unit):
        return None
    return float(f"{x / unit:.{SIGNIFICANT_DIGITS}g}") + 0.0


def json_interval(estimate: Interval | None, unit: float = 1.0) -> Json | None:
    """Return an estimate in a unit, with both ends and its level; `None` where it is not known."""
    if estimate is None:
        return None
    ends = {name: json_number(getattr(estimate, name), unit) for name in ("value", "low", "high")}
    return {**ends, "level": json_number(estimate.level)}


def by_law(ends: tuple[float, float] | None, unit: float) -> Json | None:
    """Return one number by laminar and one by molecular flow, in a unit; `None` where they are not known."""
    return None if ends is None else {"laminar": json_number(ends[0], unit), "molecular": json_number(ends[1], unit)}


def bracket(ends: Bracket | None, unit: float = 1.0) -> Json | None:
    """Return a quantity under both laws of flow, in a unit; `None` where it is not known."""
    if ends is None:
        return None
    return {"laminar": json_interval(ends.laminar, unit), "molecular": json_interval(ends.molecular, unit)}


def next_test(test: NextTest) -> Json:
    """Return one test that may settle an open hold; ``chance`` is null where it tells where a leak is, not whether."""
    return {"test": str(test.kind), "minutes": json_number(test.minutes), "hold_s": json_number(test.hold),
            "chance": json_number(test.chance)}
