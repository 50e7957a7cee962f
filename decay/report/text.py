"""The whole summary of one analysis: the answers first, every finding and number after them, the result at the end."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from decay import wording
from decay.analysis import Analysis
from decay.judge.finding import Finding, Level
from decay.report.answers import headline, hold_in_words, leak_answer, practice_answer, source_in_words
from decay.report.summary import CAUTION, STYLES
from decay.report.text_detail import detail
from decay.wording.lines import NARROWEST, Block, Entry, finished, wrapped


def summary(
    analysis: Analysis,
    *,
    ascii_only: bool = False,
    color: bool = False,
    verbose: bool = False,
    width: int = 80,
) -> str:
    """Return everything that is known about one log.

    Parameters
    ----------
    analysis : Analysis
        The answer about one log.
    ascii_only : bool
        Write ``u`` for ``µ`` and so on, for terminals that know no more.
    color : bool
        Colour the result and embolden the headings with ANSI sequences; nothing else depends on it.
    verbose : bool
        Add the tests of the model, its assumptions and every note about the file.
    width : int
        Longest line. [characters]

    Returns
    -------
    str
        Several lines, ending in a line feed; the last one repeats the result. No clock time: the same log gives
        the same text.
    """
    width = max(width, NARROWEST)
    blocks = [*_findings(analysis), Block("Leak", list(_leak(analysis))), *detail(analysis, verbose=verbose)]
    blocks = [block for block in blocks if block.entries]
    lines = wrapped(headline(analysis), width, hanging="  ")
    lines += wrapped(f"{source_in_words(analysis)}: {hold_in_words(analysis)}", width, hanging="  ")
    lines += ["", *wrapped(f"Leak:     {leak_answer(analysis)}", width, hanging=" " * 10)]
    lines += [*wrapped(f"Practice: {practice_answer(analysis)}", width, hanging=" " * 10), ""]
    for block in blocks:
        lines += [*block.lines(width), ""]
    lines.append(f"VERDICT: {analysis.verdict.result.value.upper()}")
    style = STYLES[analysis.verdict.result] if color else ""
    return finished(lines, ascii_only=ascii_only, color=style, coloured=(0, -1), bold={b.title for b in blocks})


def _findings(analysis: Analysis) -> Iterable[Block]:
    """Yield every finding once: why, what to do, what to mind, what is worth knowing."""
    verdict = analysis.verdict
    steps = [finding for finding in verdict.next_steps if finding.code[0] != CAUTION]
    cautions = [finding for finding in verdict.next_steps if finding.code[0] == CAUTION]
    yield Block("Why", _bullets(verdict.reasons))
    yield Block("Next", [Entry(f"{n}.", _worded(f)) for n, f in enumerate(steps, start=1)])
    yield Block("Cautions", _bullets(cautions))
    yield Block("Keep in mind", _bullets([f for f in verdict.caveats if f.level > Level.NOTE]))
    yield Block("Worth knowing", _bullets([f for f in verdict.caveats if f.level <= Level.NOTE]))


def _bullets(findings: Sequence[Finding]) -> list[Entry]:
    return [Entry("-", _worded(finding)) for finding in findings]


def _worded(finding: Finding) -> str:
    return f"{finding.summary} [{finding.code}]"


def _leak(analysis: Analysis) -> Iterable[Entry]:
    """Yield the leak that the verdict rests on, with its interval, meaning and limit."""
    basis = analysis.basis
    if basis.leak is None or basis.detection_limit is None or basis.impact is None:
        return
    estimate = f"{wording.rate_interval(basis.leak)}, {wording.number(100 * basis.leak.level)} % interval in brackets"
    if basis.leak.low <= 0:
        estimate += "; may be zero"
    if basis.is_joint and analysis.joint is not None:
        used = ", ".join(str(hold + 1) for hold in analysis.joint.holds_used)
        away = [f"hold {hold + 1} of {source}" for source, hold in analysis.joint.elsewhere]
        estimate += f"; from {' and '.join([f'holds {used}', *away])}"
    yield Entry("steady rise", f"{estimate}; without the rig's share" if basis.is_without_rig else estimate)
    impact = basis.impact
    if impact.loss is not None:
        low = min(impact.loss.laminar.low, impact.loss.molecular.low)
        high = max(impact.loss.laminar.high, impact.loss.molecular.high)
        yield Entry(
            f"as {analysis.system.refrigerant or 'refrigerant'}",
            f"{wording.between(low, high)}, over the interval and from molecular to laminar flow",
        )
    if math.isinf(basis.detection_limit):
        yield Entry("smallest", "this hold could show no leak of any size")
        return
    unseen = [wording.bound(basis.detection_limit)]
    if impact.detectable_throughput is not None:
        unseen.append(f"{wording.number(impact.detectable_throughput, 2)} Pa·m³/s")
    if impact.detectable_loss is not None:
        unseen.append(wording.between(*impact.detectable_loss))
    bracketed = f" ({'; '.join(unseen[1:])})" if unseen[1:] else ""
    yield Entry("smallest", f"{unseen[0]}{bracketed} is the smallest leak this hold could show{_beyond(analysis)}")


def _beyond(analysis: Analysis) -> str:
    """Say what the interval's end adds to the limit."""
    basis = analysis.basis
    if basis.leak is None or basis.is_leak_seen or basis.leak.low > 0 or basis.detection_limit is None:
        return ""
    high = wording.bound(basis.leak.high)
    if basis.leak.high > basis.detection_limit:
        return f"; up to {high} a leak is not distinguishable from slow outgassing"
    is_same = wording.bound(basis.leak.high) == wording.bound(basis.detection_limit)
    return "" if is_same else f"; a leak above {high} is ruled out"
