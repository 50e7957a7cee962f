"""The criteria of practice in words and as JSON: their numbers, each in full, and which of them a hold meets."""

from __future__ import annotations

from collections.abc import Sequence

from decay import wording
from decay.constants import MICRON
from decay.judge.answer import CriterionOutcome, Judged, Part
from decay.judge.criteria import Criterion
from decay.report.answers import MET, hold_in_words, source_in_words
from decay.report.document_numbers import Json, json_number
from decay.wording.lines import columns, finished, wrapped

CRITERIA_VERSION = 1


def criteria_table(
    known: Sequence[Criterion], unasked: Sequence[Criterion], *, ascii_only: bool = False, width: int = 80
) -> str:
    """Return the numbers of criteria, one row each; those that judge ``unasked`` are marked."""
    marked = {criterion.name for criterion in unasked}
    rows = [(f"{c.name}{' *' if c.name in marked else ''}", _target(c), wording.duration(c.hold), limit_in_words(c))
            for c in known]
    lines = columns((("name", "target", "stand", f"limit, {wording.unit()}"), *rows), width)
    names = ", then ".join(criterion.name for criterion in unasked)
    lines += ["", *wrapped(f"* Where none is chosen, the longest that the hold can answer judges: {names}.", width),
              *wrapped(f"Pressures in {wording.unit()}. Source and status of one: decay criteria NAME. Which of them "
                       "a hold meets: decay criteria LOG.", width)]
    return finished(lines, ascii_only=ascii_only)


def _target(criterion: Criterion) -> str:
    if criterion.target is None:
        return "-"
    return f"{'3 x ' if criterion.evacuations == 3 else ''}{wording.pressure_number(criterion.target)}"


def limit_in_words(criterion: Criterion) -> str:
    """Return what a criterion lets a hold do, in a few words without the unit."""
    if criterion.no_change:
        return "no change in the gauge's last digit"
    if criterion.passes is None:
        least = "at most" if criterion.rise_on_line else "less than"
        return f"rise {least} {wording.pressure_number(criterion.rise or 0.0)}"
    least = "at most" if criterion.passes_on_line else "below"
    text = f"{least} {wording.pressure_number(criterion.passes)}"
    if criterion.fails is not None and criterion.fails != criterion.passes:
        text += f", fails {'from' if criterion.fails_on_line else 'above'} {wording.pressure_number(criterion.fails)}"
    return text if criterion.is_watched_throughout else f"{text}, at the end"


def criterion_page(criterion: Criterion, *, ascii_only: bool = False, width: int = 80) -> str:
    """Return everything about one criterion: its numbers, source, status and what is wrong with it."""
    source = ", ".join(part for part in (criterion.source, criterion.edition) if part not in ("", "none"))
    told = [("target", "none" if criterion.target is None else wording.pressure(criterion.target)),
            ("stand", wording.duration(criterion.hold)), ("limit", f"{limit_in_words(criterion)} ({wording.unit()})"),
            ("for", criterion.equipment), ("source", source or "none"), ("status", criterion.standing),
            ("also asks", criterion.unquantified.removeprefix("and ")), ("between", criterion.between),
            ("mind", criterion.warning)]
    if criterion.ambient_above is not None:
        told.insert(3, ("ambient", f"above {wording.celsius(criterion.ambient_above)}"))
    if criterion.evacuations > 1:
        told.insert(3, ("pulls", f"{criterion.evacuations} to the target"))
    if criterion.pump_on > 0:
        told.insert(3, ("pump on", f"{wording.duration(criterion.pump_on)} below the target"))
    if criterion.teaching_only:
        told.append(("use", "for teaching only: too coarse for a verdict"))
    lines = wrapped(f"{criterion.name}: {criterion.title}", width)
    for label, text in told:
        if text:
            lines += wrapped(text, width, f"  {label:<11}", " " * 13)
    return finished(lines, ascii_only=ascii_only)


def criteria_of_hold(
    analysis: Judged, outcomes: Sequence[CriterionOutcome], *, ascii_only: bool = False, width: int = 80
) -> str:
    """Return the hold, and one row for each criterion that it meets or misses."""
    rows = [(outcome.name, *_standing(outcome)) for outcome in outcomes]
    lines = [*wrapped(f"{source_in_words(analysis)}: {hold_in_words(analysis)}", width, hanging="  "), ""]
    return finished([*lines, *columns((("name", "practice", "because"), *rows), width)], ascii_only=ascii_only)


def _standing(outcome: CriterionOutcome) -> tuple[str, str]:
    if outcome.met is None and outcome.part is Part.LENGTH:
        return "too short", f"needs {wording.duration(outcome.missing)} more"
    return MET[outcome.met], "" if outcome.met else outcome.brief


def criteria_document(known: Sequence[Criterion], unasked: Sequence[Criterion]) -> Json:
    """Return criteria as a JSON document, with ``null`` for what a criterion does not ask."""
    return {"schema_version": CRITERIA_VERSION, "judge_unasked": [criterion.name for criterion in unasked],
            "criteria": [_criterion(criterion) for criterion in known]}


def _criterion(criterion: Criterion) -> Json:
    return {
        "name": criterion.name, "title": criterion.title,
        "source": None if criterion.source in ("", "none") else criterion.source,
        "edition": None if criterion.edition in ("", "none") else criterion.edition,
        "equipment": criterion.equipment, "standing": criterion.standing,
        "target_micron": json_number(criterion.target, MICRON), "hold_s": json_number(criterion.hold),
        "passes_micron": json_number(criterion.passes, MICRON), "passes_on_line": criterion.passes_on_line,
        "fails_micron": json_number(criterion.fails, MICRON), "fails_on_line": criterion.fails_on_line,
        "is_watched_throughout": criterion.is_watched_throughout,
        "rise_micron": json_number(criterion.rise, MICRON), "rise_on_line": criterion.rise_on_line,
        "no_change": criterion.no_change, "ambient_above_k": json_number(criterion.ambient_above),
        "evacuations": criterion.evacuations, "pump_on_s": json_number(criterion.pump_on),
        "teaching_only": criterion.teaching_only, "between": criterion.between or None,
        "unquantified": criterion.unquantified or None, "warning": criterion.warning or None,
    }


def outcomes_document(analysis: Judged, outcomes: Sequence[CriterionOutcome]) -> Json:
    """Return which criteria a hold meets as a JSON document."""
    span = analysis.basis.span
    return {
        "schema_version": CRITERIA_VERSION, "path": analysis.log.source,
        "hold_s": None if span is None else [json_number(moment) for moment in span],
        "criteria": [{"name": outcome.name, "met": outcome.met, "decided_by": outcome.part.value,
                      "missing_s": json_number(outcome.missing), "because": outcome.detail} for outcome in outcomes],
    }
