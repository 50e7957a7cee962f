"""The written summary of one analysis: what matters first, the detail after it, the verdict once more at the end."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from decay.analysis import Analysis
from decay.interval import Interval
from decay.judge.answer import Basis
from decay.judge.finding import Cause, Finding, Level, Result
from decay.report import amounts
from decay.report.charset import clean, to_ascii
from decay.report.text_detail import detail
from decay.report.text_layout import Block, Entry

CAUSES = {
    Cause.TIGHT: "no steady rise seen",
    Cause.OUTGASSING: "outgassing that levels off",
    Cause.LEAK: "leak",
    Cause.LEAK_AND_OUTGASSING: "leak and outgassing",
    Cause.FREE_WATER: "free water",
    Cause.UNRESOLVED: "leak or slow source, not told apart",
}
"""What each cause is called in words."""

RISING = (Cause.LEAK, Cause.LEAK_AND_OUTGASSING, Cause.FREE_WATER, Cause.UNRESOLVED)
"""The causes that pass only beside a stated leak that still counts as none."""
REASONS_IN_FRONT = 2
CAVEATS_IN_FRONT = 3
STYLES = {Result.PASS: "32;1", Result.FAIL: "31;1", Result.INCONCLUSIVE: "33;1"}


def summary(
    analysis: Analysis,
    *,
    ascii_only: bool = False,
    color: bool = False,
    verbose: bool = False,
    width: int = 88,
) -> str:
    """Return the summary of one analysis.

    Parameters
    ----------
    analysis : Analysis
        The answer about one log.
    ascii_only : bool
        Write ``u`` for ``µ`` and so on, for terminals that know no more.
    color : bool
        Colour the verdict and embolden the headings with ANSI sequences; nothing else depends on it.
    verbose : bool
        Add the tests of the model, its assumptions and every note about the file.
    width : int
        Longest line. [characters]

    Returns
    -------
    str
        Several lines, ending in a line feed; the last one repeats the verdict. No clock time: the same log gives
        the same text.
    """
    width = max(width, 40)
    blocks = [*_front(analysis), *_behind(analysis), *detail(analysis, verbose=verbose)]
    lines = [_headline(analysis), *_where(analysis, width), ""]
    for block in blocks:
        lines += [*block.lines(width), ""]
    lines.append(f"VERDICT: {analysis.verdict.result.value.upper()}")
    lines = [clean(line) for line in lines]
    if ascii_only:
        lines = [to_ascii(line) for line in lines]
    if color:
        lines = _coloured(lines, analysis.verdict.result, {block.title for block in blocks})
    return "\n".join(lines) + "\n"


def cause_in_words(analysis: Analysis) -> str:
    """Return what the rise is made of, in words."""
    verdict = analysis.verdict
    if verdict.cause is None:
        return "no usable hold"
    words = CAUSES[verdict.cause]
    # Only a stated --allow lets a rise that may be a leak pass: the headline says so.
    return f"{words}, within what was allowed" if verdict.result is Result.PASS and verdict.cause in RISING else words


def _headline(analysis: Analysis) -> str:
    return f"{analysis.verdict.result.value.upper()}: {cause_in_words(analysis)}"


def _where(analysis: Analysis, width: int) -> list[str]:
    name = "standard input" if analysis.log.source == "-" else analysis.log.source
    text = name
    if analysis.decisive is not None:
        fit = analysis.holds[analysis.decisive].fit
        text += f", hold of {amounts.duration(fit.duration)} from {amounts.clock(fit.start)}"
        if len(analysis.holds) > 1:
            text += f" (hold {analysis.decisive + 1} of {len(analysis.holds)})"
    met = {True: "met", False: "not met", None: "not answered"}[analysis.verdict.criterion.met]
    text += f'; practice "{analysis.verdict.criterion.title}" {met}'
    return textwrap.wrap(text, width, break_on_hyphens=False) or [""]


def _front(analysis: Analysis) -> Iterable[Block]:
    verdict = analysis.verdict
    reasons = verdict.reasons[:REASONS_IN_FRONT]
    yield Block("Why", [Entry("-", _worded(finding)) for finding in reasons] or [Entry("-", "no reason given")])
    if analysis.decisive is not None:
        yield Block("Leak", list(_leak(analysis, analysis.decisive)))
    if verdict.next_steps:
        yield Block("Next", [Entry(f"{n}.", _worded(f)) for n, f in enumerate(verdict.next_steps, start=1)])
    if verdict.caveats:
        front = [finding for finding in verdict.caveats if finding.level > Level.NOTE][:CAVEATS_IN_FRONT]
        entries = _bullets(front)
        if len(verdict.caveats) > len(front):
            entries.append(Entry("-", f"{len(verdict.caveats) - len(front)} more below"))
        yield Block("Keep in mind", entries)


def _behind(analysis: Analysis) -> Iterable[Block]:
    """Yield the reasons and caveats for which the first screen has no room: every finding is printed once."""
    verdict = analysis.verdict
    reasons = verdict.reasons[REASONS_IN_FRONT:]
    heavy = [finding for finding in verdict.caveats if finding.level > Level.NOTE]
    notes = [finding for finding in verdict.caveats if finding.level <= Level.NOTE]
    for title, findings in (
        ("Also behind the verdict", reasons),
        ("Further caveats", heavy[CAVEATS_IN_FRONT:]),
        ("Worth knowing", notes),
    ):
        if findings:
            yield Block(title, _bullets(findings))


def _bullets(findings: Sequence[Finding]) -> list[Entry]:
    return [Entry("-", _worded(finding)) for finding in findings]


def _worded(finding: Finding) -> str:
    return f"{finding.summary} [{finding.code}]"


def _leak(analysis: Analysis, index: int) -> Iterable[Entry]:
    basis = analysis.basis
    impact = basis.impact
    if basis.leak is None or basis.detection_limit is None or impact is None:
        return
    label = "holds together" if basis.is_joint else "steady rise"
    estimate = _estimate(basis.leak.low, amounts.rate_interval(basis.leak), basis.leak.level)
    if basis.is_joint and analysis.joint is not None:
        used = ", ".join(str(hold + 1) for hold in analysis.joint.holds_used)
        away = [f"hold {hold + 1} of {source}" for source, hold in analysis.joint.elsewhere]
        estimate += f"; from {' and '.join([f'holds {used}', *away])}"
    yield Entry(label, f"{estimate}; without the rig's share" if basis.is_without_rig else estimate)
    if impact.loss is not None:
        name = analysis.system.refrigerant or "refrigerant"
        low = min(impact.loss.laminar.low, impact.loss.molecular.low)
        high = max(impact.loss.laminar.high, impact.loss.molecular.high)
        yield Entry(
            f"as {name}",
            f"{amounts.between(low, high)}, over the interval and from molecular to laminar flow",
        )
    unseen = [amounts.rate(basis.detection_limit)]
    if impact.detectable_throughput is not None:
        unseen.append(f"{amounts.scientific(impact.detectable_throughput)} Pa·m³/s")
    if impact.detectable_loss is not None:
        unseen.append(amounts.between(*impact.detectable_loss))
    bracketed = f" ({'; '.join(unseen[1:])})" if unseen[1:] else ""
    yield Entry("blind below", f"{unseen[0]}{bracketed}: {_unseen_in_words(basis.leak, basis)}")


def _unseen_in_words(leak: Interval, basis: Basis) -> str:
    """Say what the limit means, and why the interval above may end elsewhere."""
    limit = basis.detection_limit or 0.0
    if basis.is_leak_seen or leak.low > 0:
        return "a smaller leak would not show in such a hold"
    high = amounts.rate(leak.high)
    if leak.high > limit:
        return f"a smaller leak would not show in such a hold; up to {high} one cannot be told from other sources here"
    if amounts.rate(limit) == high:
        return "a smaller leak would not show in such a hold"
    return f"a smaller leak would not show by rising on; above {high} these readings leave no room for one"


def _estimate(low: float, text: str, level: float) -> str:
    covered = f"{amounts.number(100 * level)} % interval in brackets"
    return f"{text}, {covered}" if low > 0 else f"{text}, {covered}; zero is not excluded"


def _coloured(lines: list[str], result: Result, titles: set[str]) -> list[str]:
    ends = (0, len(lines) - 1)
    out = []
    for position, line in enumerate(lines):
        if position in ends:
            out.append(f"\x1b[{STYLES[result]}m{line}\x1b[0m")
        elif line in titles:
            out.append(f"\x1b[1m{line}\x1b[0m")
        else:
            out.append(line)
    return out
