"""A comparison of two holds in words and as a JSON document: the answer, what changed by how much, what it rests on."""

from __future__ import annotations

from collections.abc import Iterable

from decay import wording
from decay.comparison import BeforeAfter, Change, Comparison, Due, Warming
from decay.constants import MICRON
from decay.report.answers import CAUSES, source_in_words
from decay.report.document import SCHEMA_VERSION, document
from decay.report.document_numbers import Json, json_interval, json_number
from decay.wording import MICRON_PER_MINUTE
from decay.wording.lines import Block, Entry, finished, set_blocks, wrapped

LEAK_SAID = {
    Change.BETTER: "the leak is smaller than it was",
    Change.SAME: "the leak is the same",
    Change.WORSE: "the leak is larger than it was",
    Change.CANNOT_TELL: "cannot tell whether it is smaller or larger",
}
DRYNESS_SAID = {
    Change.BETTER: "drier: less gas comes off the walls",
    Change.SAME: "as dry as before",
    Change.WORSE: "damper: more gas comes off the walls",
    Change.CANNOT_TELL: "cannot tell whether drier or damper",
}
IN_A_WORD = {**{change: change.value for change in Change}, Change.CANNOT_TELL: "unclear"}
CHANGE_STYLES = {Change.BETTER: "32;1", Change.SAME: "32;1", Change.WORSE: "31;1", Change.CANNOT_TELL: "33;1"}
DUE = {
    Due.WARMTH: "The difference is what warmth makes of outgassing",
    Due.NOT_WARMTH: "Warmth explains little of the rise: a leak, or outgassing that ran dry between the holds",
    Due.MORE: "That is more than warmth makes: something else changed between the holds",
}
DUE_IN_SHORT = {
    Due.WARMTH: "makes the difference: gas from inside grows so, and dries; a leak does not grow",
    Due.NOT_WARMTH: "explains little of the rise: look for a leak, unless what gave off gas ran dry meanwhile",
    Due.MORE: "does not explain the difference: ask what else changed between the holds",
}
NEVER_SAYS = (
    "A hold never says where it leaks, and never tests the system under its working pressure.",
    "Before charging, check the joints under pressure with dry nitrogen through a regulator, by the maker's "
    "instructions and local codes.",
)


def compare_text(
    comparison: Comparison, *, ascii_only: bool = False, color: bool = False, width: int = 88
) -> str:
    """Return the comparison in words: the two answers first, and again as the last line."""
    width = max(width, 40)
    blocks = [
        Block("Leak", list(_quantity(comparison.leak, wording.rate_size(), wording.rate_unit(),
                                      "steady rise"))),
        Block(
            f"Outgassing within {wording.duration(comparison.span)}",
            list(_quantity(comparison.outgassing, wording.size(), wording.unit(), "levels off")),
        ),
        Block("The two holds", list(_holds(comparison))),
        *(() if comparison.warmth is None else (Block("Warmth", [Entry("growth", warmth_words(comparison.warmth))]),)),
        Block("Keep in mind", [Entry("-", text) for text in (*comparison.remarks, *NEVER_SAYS)]),
    ]
    words = f"leak {IN_A_WORD[comparison.leak.change]}, dryness {IN_A_WORD[comparison.outgassing.change]}"
    warm = () if comparison.warmth is None else (f"WARMTH: {DUE_IN_SHORT[comparison.warmth.due]}",)
    head = [line for text in (*headlines(comparison), *warm) for line in wrapped(text, width)]
    answer = f"VERDICT: {words.upper()}"
    return finished(
        [*head, "", *set_blocks(blocks, width), answer], ascii_only=ascii_only,
        color=CHANGE_STYLES[comparison.leak.change] if color else "", coloured=(*range(len(head)), -1),
        bold={block.title for block in blocks},
    )


def warmth_words(warmth: Warming) -> str:
    """Say what two rises at two temperatures differ by, and what that is due to."""
    kelvin = abs(warmth.after - warmth.before)
    least, most = (wording.number(x, 2) for x in warmth.expected)
    return (
        f"The second hold was {kelvin:.0f} K {'warmer' if warmth.after > warmth.before else 'colder'} and rose "
        f"{wording.number(warmth.growth, 2)} times as fast. Outgassing alone would have changed {least} to {most} "
        f"times, a leak by 5 % at most. {DUE[warmth.due]} (apparent activation energy "
        f"{warmth.energy / 1e3:.0f} kJ/mol)."
    )


def headlines(comparison: Comparison) -> tuple[str, str]:
    """Return the two answers, each with its ground, one line each."""
    leak, gas = comparison.leak, comparison.outgassing
    if comparison.reads_zero:
        return ("LEAK: cannot tell, the gauge reads zero in one of the holds: check it first",
                "DRYNESS: cannot tell, for the same reason")
    if comparison.is_same_hold:
        return ("LEAK: nothing to compare, both are the same hold of the same log",
                "DRYNESS: nothing to compare, for the same reason")
    rate = _proved(leak, wording.rate_size(), wording.rate_unit())
    rise = _proved(gas, wording.size(), f"{wording.unit()} within {wording.duration(comparison.span)}")
    return f"LEAK: {LEAK_SAID[leak.change]}{rate}", f"DRYNESS: {DRYNESS_SAID[gas.change]}{rise}"


def _proved(quantity: BeforeAfter, unit: float, name: str) -> str:
    """Say what the difference proves, in the words that its answer needs."""
    changed = quantity.difference
    least, most = (end.removeprefix("-") for end in wording.span(changed, unit)[1:])
    if quantity.change is Change.BETTER:
        return f", by {most} to {least} {name}"
    if quantity.change is Change.WORSE:
        return f", by {least} to {most} {name}"
    if quantity.change is Change.SAME:
        return f", within {least if -changed.low > changed.high else most} {name}"
    return f": {least} less to {most} more {name}"


def _quantity(quantity: BeforeAfter, unit: float, name: str, label: str) -> Iterable[Entry]:
    level = wording.number(100 * quantity.difference.level)
    yield Entry(f"{label} before", wording.with_interval(quantity.before, unit, name))
    yield Entry(f"{label} after", wording.with_interval(quantity.after, unit, name))
    changed = wording.with_interval(quantity.difference, unit, name)
    yield Entry("difference", f"{changed}, after minus before, {level} % interval")
    yield Entry("same if", f"within {wording.number(quantity.same_within / unit, 2)} {name}")
    yield Entry("change", quantity.change.value)


def _holds(comparison: Comparison) -> Iterable[Entry]:
    pairs = (("before", comparison.before, comparison.rise[0]), ("after", comparison.after, comparison.rise[1]))
    for name, analysis, rise in pairs:
        if analysis.decisive is None:
            continue
        report, basis = analysis.holds[analysis.decisive], analysis.basis
        yield Entry(
            name,
            f"{source_in_words(analysis)}, hold of {wording.duration(report.fit.duration)} from "
            f"{wording.clock(report.fit.start)}: {CAUSES[basis.cause or report.cause]}; rises "
            f"{_rise(rise, report.fit.step)} in {wording.duration(comparison.span)}; smallest leak "
            f"{'all holds together' if basis.is_joint else 'it'} could show "
            f"{wording.bound(basis.detection_limit or report.fit.detection_limit)}",
        )


def _rise(rise: float, step: float) -> str:
    """Return a rise [Pa], no finer than the gauge's step [Pa] shows it."""
    if abs(rise) < step:
        return f"less than {wording.pressure(step)}"
    return wording.pressure(rise)


def compare_document(comparison: Comparison) -> Json:
    """Return the JSON document of a comparison, with the documents of its two logs."""
    return {
        "schema_version": SCHEMA_VERSION,
        "comparison": {
            "reads_zero": comparison.reads_zero,
            "leak": _quantity_document(comparison.leak, MICRON_PER_MINUTE, "rate_micron_per_min"),
            "outgassing": _quantity_document(comparison.outgassing, MICRON, "rise_micron"),
            "compared_over_s": json_number(comparison.span),
            "rise_micron": {
                "before": json_number(comparison.rise[0], MICRON),
                "after": json_number(comparison.rise[1], MICRON),
            },
            "warmth": _warmth_document(comparison.warmth),
            "remarks": list(comparison.remarks),
        },
        "before": document(comparison.before),
        "after": document(comparison.after),
    }


def _warmth_document(warmth: Warming | None) -> Json | None:
    if warmth is None:
        return None
    return {
        "temperature_k": {"before": json_number(warmth.before), "after": json_number(warmth.after)},
        "growth": json_number(warmth.growth),
        "growth_of_outgassing": {"low": json_number(warmth.expected[0]), "high": json_number(warmth.expected[1])},
        "apparent_activation_energy_j_per_mol": json_number(warmth.energy),
        "due": warmth.due.value,
    }


def _quantity_document(quantity: BeforeAfter, unit: float, name: str) -> Json:
    return {
        "before": {name: json_interval(quantity.before, unit)},
        "after": {name: json_interval(quantity.after, unit)},
        "difference": {name: json_interval(quantity.difference, unit)},
        "counts_as_same_within": {name: json_number(quantity.same_within, unit)},
        "change": quantity.change.value.replace(" ", "_"),
    }
