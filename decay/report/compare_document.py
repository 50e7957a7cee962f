"""The JSON document of a comparison of two holds."""

from __future__ import annotations

from decay.compare.comparison import Comparison, Quantity
from decay.compare.warmth import Warmth
from decay.quantities import MICRON
from decay.report.document import SCHEMA_VERSION, document
from decay.report.document_numbers import Json, interval, number
from decay.wording import MICRON_PER_MINUTE


def compare_document(comparison: Comparison) -> Json:
    """Return the JSON document of a comparison.

    Parameters
    ----------
    comparison : Comparison
        Two holds of one system.

    Returns
    -------
    dict
        Strict JSON; ``before`` and ``after`` are the documents of the two logs.
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "comparison": {
            "reads_zero": comparison.reads_zero,
            "leak": _quantity(comparison.leak, MICRON_PER_MINUTE, "rate_micron_per_min"),
            "outgassing": _quantity(comparison.outgassing, MICRON, "rise_micron"),
            "compared_over_s": number(comparison.span),
            "rise_micron": {
                "before": number(comparison.rise[0] / MICRON),
                "after": number(comparison.rise[1] / MICRON),
            },
            "warmth": _warmth(comparison.warmth),
            "remarks": list(comparison.remarks),
        },
        "before": document(comparison.before),
        "after": document(comparison.after),
    }


def _warmth(warmth: Warmth | None) -> Json | None:
    if warmth is None:
        return None
    return {
        "temperature_k": {"before": number(warmth.before), "after": number(warmth.after)},
        "growth": number(warmth.growth),
        "growth_of_outgassing": {"low": number(warmth.expected[0]), "high": number(warmth.expected[1])},
        "apparent_activation_energy_j_per_mol": number(warmth.energy),
        "due": warmth.due.value,
    }


def _quantity(quantity: Quantity, unit: float, name: str) -> Json:
    return {
        "before": {name: interval(quantity.before, unit)},
        "after": {name: interval(quantity.after, unit)},
        "difference": {name: interval(quantity.difference, unit)},
        "counts_as_same_within": {name: number(quantity.same_within / unit)},
        "change": quantity.change.value.replace(" ", "_"),
    }
