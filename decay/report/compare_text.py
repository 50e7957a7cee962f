"""The written comparison of two holds: the answer, what changed by how much, and what it rests on."""

from __future__ import annotations

from collections.abc import Iterable

from decay.compare.comparison import Change, Comparison, Quantity
from decay.quantities import MICRON
from decay.report import amounts
from decay.report.amounts import MICRON_PER_MINUTE
from decay.report.charset import clean, to_ascii
from decay.report.text import CAUSES
from decay.report.text_layout import Block, Entry

STYLES = {Change.BETTER: "32;1", Change.SAME: "32;1", Change.WORSE: "31;1", Change.CANNOT_TELL: "33;1"}
NEVER_SAYS = (
    "A pressure-rise test never says where it leaks, and never tests the system under its working pressure.",
    "Before charging, check the joints under pressure with dry nitrogen through a regulator, by the maker's "
    "instructions and local codes.",
)


def compare_text(
    comparison: Comparison, *, ascii_only: bool = False, color: bool = False, width: int = 88
) -> str:
    """Return the comparison in words.

    Parameters
    ----------
    comparison : Comparison
        Two holds of one system.
    ascii_only : bool
        Plain ASCII.
    color : bool
        Colour the answer and embolden the headings with ANSI sequences.
    width : int
        Longest line. [characters]

    Returns
    -------
    str
        Several lines, ending in a line feed; the last one repeats the answer.
    """
    width = max(width, 40)
    blocks = [
        Block("Leak", list(_quantity(comparison.leak, MICRON_PER_MINUTE, "micron/min", "steady rise"))),
        Block(
            f"Outgassing within {amounts.duration(comparison.span)}",
            list(_quantity(comparison.outgassing, MICRON, "micron", "levels off")),
        ),
        Block("The two holds", list(_holds(comparison))),
        Block("Keep in mind", [Entry("-", text) for text in (*comparison.remarks, *NEVER_SAYS)]),
    ]
    answer = f"VERDICT: {comparison.change.value.upper()}"
    lines = [headline(comparison), ""]
    for block in blocks:
        lines += [*block.lines(width), ""]
    lines = [clean(line) for line in [*lines, answer]]
    if ascii_only:
        lines = [to_ascii(line) for line in lines]
    if color:
        titles = {clean(block.title) for block in blocks}
        lines = [f"\x1b[1m{line}\x1b[0m" if line in titles else line for line in lines]
        for i in (0, -1):
            lines[i] = f"\x1b[{STYLES[comparison.change]}m{lines[i]}\x1b[0m"
    return "\n".join(lines) + "\n"


def headline(comparison: Comparison) -> str:
    """Return the answer and its reason in one line."""
    return f"{comparison.change.value.upper()}: {comparison.because}"


def _quantity(quantity: Quantity, unit: float, name: str, label: str) -> Iterable[Entry]:
    level = amounts.number(100 * quantity.difference.level)
    yield Entry(f"{label} before", amounts.with_interval(quantity.before, unit, name))
    yield Entry(f"{label} after", amounts.with_interval(quantity.after, unit, name))
    changed = amounts.with_interval(quantity.difference, unit, name)
    yield Entry("difference", f"{changed}, after minus before, {level} % interval")
    yield Entry("counts as same", f"within {amounts.number(quantity.same_within / unit, 2)} {name}")
    yield Entry("change", quantity.change.value)


def _holds(comparison: Comparison) -> Iterable[Entry]:
    pairs = (("before", comparison.before, comparison.rise[0]), ("after", comparison.after, comparison.rise[1]))
    for name, analysis, rise in pairs:
        if analysis.decisive is None:
            continue
        report = analysis.holds[analysis.decisive]
        source = "standard input" if analysis.log.source == "-" else analysis.log.source
        yield Entry(
            name,
            f"{source}, hold of {amounts.duration(report.fit.duration)} from {amounts.clock(report.fit.start)}: "
            f"{CAUSES[report.cause]}; rises {amounts.pressure(rise)} in {amounts.duration(comparison.span)}; "
            f"smallest detectable leak {amounts.rate(report.fit.detection_limit)}",
        )
