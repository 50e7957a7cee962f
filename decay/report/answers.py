"""The answer in few words: headline, hold, the two answers; every report that opens with them takes them from here."""

from __future__ import annotations

import math
from textwrap import shorten

from decay import wording
from decay.fit.odds import LIKELY
from decay.judge.about_hold import CLOSING_SHARE
from decay.judge.answer import Basis, CriterionOutcome, Judged, Part
from decay.judge.finding import Cause, Finding, Level, Result
from decay.judge.verdict import NAMED, QUIET
from decay.log import WRITTEN
from decay.phases.phase import Kind, Phase
from decay.wording.lines import wrapped

CAUSES = {
    Cause.TIGHT: "no steady rise seen",
    Cause.OUTGASSING: "outgassing that levels off",
    Cause.LEAK: "leak",
    Cause.LEAK_AND_OUTGASSING: "leak and outgassing",
    Cause.FREE_WATER: "free water",
    Cause.UNRESOLVED: "leak or slow outgassing, not distinguishable",
}
"""What each cause is called in words."""

MET = {True: "met", False: "not met", None: "not answered"}
"""How a job stands against a criterion."""
LONGEST_NOTE = 150
"""Characters of a user's own note that a short answer has room for; the detail has all of it. [-]"""
DECIDING = {Result.FAIL: Level.FAILS, Result.INCONCLUSIVE: Level.BLOCKS}
"""The level of the findings that make a result what it is."""
ABOUT_LEAK = frozenset("HJRI")
"""Families of findings whose headline says what is known of the leak."""
REASONS = 2
"""Reasons that a headline names; of more it says how many. [-]"""


def headline(analysis: Judged) -> str:
    """Return the result with its reason, like ``FAIL: isolated at 2,850 micron, target 300; leak not ruled out``."""
    result = analysis.verdict.result
    if result is Result.PASS:
        allowed = next((f for f in analysis.verdict.reasons if f.code == "H05"), None)
        first = leak_in_words(analysis.basis) if allowed is None else _brief(allowed)
        parts = [first, f"{analysis.verdict.criterion.short} met"]
    else:
        reasons = deciding_findings(analysis)
        briefs = list(dict.fromkeys(_brief(finding) for finding in reasons))
        parts = briefs[:REASONS]
        if len(briefs) > REASONS:
            parts.append(f"{len(briefs) - REASONS} more")
        if not any(finding.code[0] in ABOUT_LEAK for finding in reasons):
            # A rise off the range is what is known of the leak, though it may be no leak and so fails nothing.
            gross = next((_brief(f) for f in analysis.verdict.reasons if f.code == "H25"), None)
            parts.append(gross or leak_in_words(analysis.basis))
    return f"{result.value.upper()}: {'; '.join(part for part in parts if part)}"


def reason_in_words(analysis: Judged) -> str:
    """Return the first reason for the result alone, for a row of a table."""
    if analysis.verdict.result is Result.PASS:
        return f"{analysis.verdict.criterion.short} met"
    return next((_brief(finding) for finding in deciding_findings(analysis)), leak_in_words(analysis.basis))


def deciding_findings(analysis: Judged) -> list[Finding]:
    """Return the findings that make the result what it is; none for a pass."""
    verdict = analysis.verdict
    level = DECIDING.get(verdict.result)
    found = [f for f in (*verdict.reasons, *verdict.caveats) if f.level is level]
    # That a question was not answered, or no hold was found, says less than why that is so.
    said = {"V01", "P01", "C05"} if any(f.code == "P17" for f in found) else {"V01"}
    return [f for f in found if f.code not in said] or found


def _brief(finding: Finding) -> str:
    """Return a finding in a few words: its own, else what its summary begins with."""
    if finding.headline:
        return finding.headline
    first = min((finding.summary.partition(end)[0] for end in (": ", "; ", ". ")), key=len).rstrip(".")
    return f"{first[:1].lower()}{first[1:]}" if first[1:2].islower() or first[1:2] == " " else first


def leak_in_words(basis: Basis) -> str:
    """Return what is known of the leak, in a few words; empty where there is no hold."""
    if basis.leak is None or basis.cause is None or basis.if_closed is not None:
        return ""
    if basis.cause in QUIET:
        edge = ruled_out_above(basis)
        return f"no leak seen above {_edge(basis)}" if math.isfinite(edge) else "no leak of any size would show"
    if basis.cause is Cause.UNRESOLVED:
        return "leak likely" if _is_likely(basis) else "leak not ruled out"
    return "free water" if basis.cause is Cause.FREE_WATER else f"{CAUSES[basis.cause]} seen"


def leak_answer(analysis: Judged) -> str:
    """Return how much leaks or which leak is ruled out, like ``none above 0.14 micron/min (0.9 to 19 g/year)``."""
    basis = analysis.basis
    if basis.if_closed is not None:
        return f"none above {wording.bound(basis.if_closed.ruled_out_above)}, {_if(analysis)}"
    if basis.leak is None or basis.cause is None:
        return "not judged"
    origin = ", all holds together" if basis.is_joint else ""
    origin += ", without the rig's share" if basis.is_without_rig else ""
    if basis.cause in QUIET:
        return _none_above(analysis) + origin
    loss = basis.impact.loss if basis.impact is not None else None
    if basis.cause in NAMED:
        meant = "" if loss is None else f"; {wording.loss_range(*loss.laws)}{_of(analysis)}"
        besides = "; outgassing as well" if basis.cause is Cause.LEAK_AND_OUTGASSING else ""
        rate = wording.rate_interval(basis.leak)
        if math.isinf(basis.leak.high):
            rate, meant = f"at least {wording.rate_low(basis.leak)}", ""
        return f"{rate}{origin}{meant}{besides}"
    if basis.cause is Cause.FREE_WATER:
        return f"not judged{origin}: free water; dry it, then test again for leaks"
    most = f"up to {wording.rate_high(basis.leak)}" if math.isfinite(basis.leak.high) else "of any size"
    if loss is not None and math.isfinite(loss.most):
        most += f" (at most {wording.loss_high(*loss.laws)}{_of(analysis)})"
    grade = "" if basis.odds_of_leak is None else f"; odds of a leak {wording.chance(basis.odds_of_leak)}"
    return f"{'likely' if _is_likely(basis) else 'not ruled out'}, {most}{origin}{grade}"


def _why_none(analysis: Judged) -> str:
    """Return why no hold is judged, in a few words."""
    return next((_brief(f) for f in analysis.verdict.reasons if f.code == "P01"), "no hold found")


def _if(analysis: Judged) -> str:
    """Return the condition under which a log without a marked hold proves something."""
    told = analysis.basis.if_closed
    closed_by = 0.0 if told is None else told.closed_by
    return f"if the valve was closed by {wording.moment(closed_by, analysis.log.started)}"


def _none_above(analysis: Judged) -> str:
    basis = analysis.basis
    edge = ruled_out_above(basis)
    if not math.isfinite(edge):
        return "none seen, but this hold would show no leak of any size"
    impact = basis.impact
    meant = ""
    if impact is not None and impact.detectable_loss is not None and impact.loss is not None:
        is_limit = edge == basis.detection_limit
        lost = wording.between(*impact.detectable_loss) if is_limit else wording.loss_highs(*impact.loss.laws)
        meant = f" ({lost}{_of(analysis)})"
    return f"none above {_edge(basis)}{meant}"


def _edge(basis: Basis) -> str:
    """Return the rate above which a leak is ruled out, spelled as the interval or the limit that it comes from."""
    edge = ruled_out_above(basis)
    if basis.leak is not None and basis.leak.high == edge != basis.detection_limit:
        return wording.rate_high(basis.leak)
    return wording.bound(edge)


def ruled_out_above(basis: Basis) -> float:
    """Return the rate above which a leak is ruled out and would have shown; ``inf`` where none is. [Pa/s]"""
    high = math.inf if basis.leak is None else basis.leak.high
    return max(high, math.inf if basis.detection_limit is None else basis.detection_limit)


def _is_likely(basis: Basis) -> bool:
    return basis.odds_of_leak is not None and basis.odds_of_leak >= LIKELY


def _of(analysis: Judged) -> str:
    return f" of {analysis.system.refrigerant}" if analysis.system.refrigerant else ""


def practice_answer(analysis: Judged) -> str:
    """Return which stands are met, like ``ten-minute line met; one-hour stand needs 33 min more``."""
    criterion, others = analysis.verdict.criterion, analysis.verdict.others
    if analysis.basis.if_closed is not None:
        return f"{_stand(analysis.basis.if_closed.outcome, in_full=True)}, if so"
    if criterion.part is Part.NO_HOLD:
        return "not judged"
    return "; ".join([_stand(criterion, in_full=True), *(_stand(other) for other in others)])


def _stand(outcome: CriterionOutcome, *, in_full: bool = False) -> str:
    name = outcome.short or outcome.title
    if outcome.met is None and outcome.part is Part.LENGTH:
        return f"{name} needs {wording.duration(outcome.missing)} more"
    word = MET[outcome.met]
    if outcome.lent:
        word += f" ({wording.duration(outcome.lent)} short, within the doubt of the closing)"
    return f"{name} {word} ({outcome.brief})" if in_full and outcome.met is not True else f"{name} {word}"


def hold_in_words(analysis: Judged) -> str:
    """Return which hold was judged: when the valve closed, how long it was held, from which pressure to which."""
    if analysis.decisive is None:
        return _why_none(analysis)
    fit = analysis.holds[analysis.decisive].fit
    phase, started = deciding_phase(analysis), analysis.log.started
    earlier, later = (0.0, 0.0) if phase is None else phase.doubt
    valve = "valve closed" if analysis.basis.if_closed is None else "valve perhaps closed"
    closed, lasted = f"{valve} at {wording.moment(fit.start, started)}", wording.duration(fit.duration)
    if later > CLOSING_SHARE * fit.duration:
        closed = (f"{valve} between {wording.moment(fit.start - earlier, started)} and "
                  f"{wording.moment(fit.start + later, started)}")
        lasted = wording.durations(fit.duration - later, fit.duration + earlier)
    elif earlier > 0.0 or later > 0.0:
        closed += f", give or take {wording.duration(max(earlier, later))}"
    start = wording.pressure_number(fit.start_pressure)
    parts = [closed, f"held {lasted}", f"{start} to {wording.pressure(fit.end_pressure)}"]
    if len(analysis.holds) > 1:
        parts.append(f"hold {analysis.decisive + 1} of {len(analysis.holds)}")
    return ", ".join(parts)


def deciding_phase(analysis: Judged) -> Phase | None:
    """Return the phase of the hold that decides; ``None`` where it was pointed at or there is none."""
    span = analysis.basis.span
    if span is None:
        return None
    return next((p for p in analysis.phases if p.kind is Kind.HOLD and p.start == span[0]), None)


def source_in_words(analysis: Judged) -> str:
    """Return the log's name."""
    return source_name(analysis.log.source)


def written_in_words(analysis: Judged) -> str:
    """Return how what the user wrote of the log in the job's record begins; nothing where there is none."""
    written = next((note.text for note in analysis.log.notes if note.code == WRITTEN), "")
    return f"Your note: {shorten(written, LONGEST_NOTE, placeholder=' ...')}" if written else ""


def source_name(source: str) -> str:
    """Return what a log's source is called."""
    return "standard input" if source == "-" else source


def opening(analysis: Judged, width: int, note: str = "") -> list[str]:
    """Return the lines with which a text of one log opens: headline, log and hold, a note, and the two answers."""
    head, hold, *answers = picture_text(analysis)
    lines = [line for text in (head, hold, note) for line in wrapped(text, width, hanging="  ")]
    lines.append("")
    for label, _, answer in (text.partition(" ") for text in answers):
        lines += wrapped(answer, width, label.ljust(10), " " * 10)
    return lines


def picture_text(analysis: Judged) -> tuple[str, ...]:
    """Return what a picture says above its panels, unwrapped: headline, log and hold, leak, practice."""
    return (
        headline(analysis),
        f"{source_in_words(analysis)}: {hold_in_words(analysis)}",
        f"Leak: {leak_answer(analysis)}",
        f"Practice: {practice_answer(analysis)}",
    )
