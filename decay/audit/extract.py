"""From the answer about a log to its rows, one a hold: what an audit keeps of it, flat."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np

from decay.analysis import Analysis
from decay.audit import checks
from decay.audit.collect import Target, job_name
from decay.audit.row import EXIT_CODES, Row, told_text
from decay.fit.results import PumpdownFit
from decay.impact.assess import Bracket
from decay.interval import Interval
from decay.judge import practice
from decay.judge.about_hold import pull_before
from decay.judge.answer import HoldReport
from decay.judge.case import Case
from decay.judge.criteria import Criterion
from decay.judge.finding import Cause, Finding
from decay.judge.verdict import NAMED, QUIET
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind, Phase
from decay.quantities import MICRON
from decay.report import answers
from decay.report.document_numbers import Json, json_number
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE, MINUTE


def rows_of(target: Target, analysis: Analysis, criterion: Criterion | None) -> tuple[Row, ...]:
    """Return the rows of one log.

    Parameters
    ----------
    target : Target
        The file.
    analysis : Analysis
        The answer about it.
    criterion : Criterion or None
        The practice that it was held against; ``None`` where each hold is judged by the longest stand that it answers.

    Returns
    -------
    tuple of Row
        One a hold, in order of time, those that could not be fitted included; one without a hold where there is none.
    """
    log, verdict = analysis.log, analysis.verdict
    about_log: Json = {
        "path": target.path,
        "job": job_name(target.path),
        "size_bytes": target.size,
        "modified_us": target.modified,
        "exit_code": EXIT_CODES[verdict.result],
        "told": told_text(target),
        **_result(analysis),
        "gauge": log.gauge,
        "unit": log.unit,
        "rows": log.rows,
        "rows_used": len(log.time),
        "sampling_s": json_number(log.sampling),
        "log_started": log.started,
    }
    fitted = {report.fit.start: index for index, report in enumerate(analysis.holds)}
    phases = [phase for phase in analysis.phases if phase.kind is Kind.HOLD]
    if not phases:
        why = [finding for finding in verdict.reasons if finding.code == "P01"]
        return (Row(**about_log, holds=0, criterion=verdict.criterion.name, practice="not answered",
                    practice_detail=verdict.criterion.detail, findings=_told(why)),)
    rows = []
    for place, phase in enumerate(phases, 1):
        index = fitted.get(phase.start)
        subject = phase if index is None else analysis.holds[index].fit
        is_decisive = index is not None and index == analysis.decisive
        practised = (
            practice.Practice(criterion, verdict.criterion) if is_decisive and criterion is not None
            else practice.held_against(criterion, subject, analysis.pumpdowns, log, analysis.system, doubt=phase.doubt)
        )
        outcome = practised.outcome
        about_hold: Json = {
            **about_log,
            "holds": len(phases),
            "hold": place,
            "is_decisive": is_decisive,
            **_times(log, phase),
            **_pull(log, phase, pull_before(analysis.pumpdowns, phase.start), practised.criterion),
            "criterion": outcome.name,
            "target_micron": _in(practised.criterion.target, MICRON),
            "practice": answers.MET[outcome.met],
            "practice_detail": outcome.detail,
        }
        if index is None:
            why = [f for f in verdict.caveats if f.code == "P02" and f.span is not None and f.span[0] == phase.start]
            short = checks.length_against(outcome, phase)
            rows.append(Row(**about_hold, end_micron=_in(phase.end_pressure, MICRON),
                            isolated_at_micron=_in(phase.start_pressure, MICRON), findings=_told([*why, *short])))
        else:
            rows.append(Row(**about_hold, **_fitted(analysis, index, practised)))
    return tuple(rows)


def _result(analysis: Analysis) -> Json:
    """Return the answer about the log: its result, the first reason, and the leak that it rests on."""
    verdict, basis = analysis.verdict, analysis.basis
    decided = answers.deciding_findings(analysis)
    found: Json = {
        "date": None if analysis.log.started is None else analysis.log.started[:10],
        "result": verdict.result.value,
        "result_cause": None if verdict.cause is None else verdict.cause.value,
        "reason_code": decided[0].code if decided else None,
        "reason": answers.reason_in_words(analysis),
        "leak": answers.leak_answer(analysis),
        "result_leak_seen": None if basis.leak is None else basis.is_leak_seen,
        "result_detection_limit_micron_per_min": _in(basis.detection_limit, MICRON_PER_MINUTE),
        "result_odds_of_leak": json_number(basis.odds_of_leak),
        "result_hold_min": None if basis.span is None else json_number((basis.span[1] - basis.span[0]) / MINUTE),
        **_ends("result_leak", "micron_per_min", basis.leak, MICRON_PER_MINUTE),
    }
    loss = None if basis.impact is None else basis.impact.loss
    if loss is not None:
        found["result_loss_low_g_per_year"] = json_number(loss.least / GRAM_PER_YEAR)
        found["result_loss_high_g_per_year"] = json_number(loss.most / GRAM_PER_YEAR)
    return found


def _told(findings: list[Finding] | tuple[Finding, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((finding.code, finding.summary) for finding in findings)


def _in(value: float | None, unit: float) -> float | None:
    return None if value is None else json_number(value / unit)


def _times(log: PressureLog, phase: Phase) -> Json:
    started = None
    if log.started is not None:
        # Whole seconds: the clock of a gauge knows no more.
        moment = datetime.fromisoformat(log.started) + timedelta(seconds=round(phase.start))
        started = moment.isoformat()
    return {"hold_started": started, "hold_start_s": json_number(phase.start), "hold_end_s": json_number(phase.end),
            "hold_length_s": json_number(phase.duration)}


def _pull(log: PressureLog, phase: Phase, pull: PumpdownFit | None, criterion: Criterion) -> Json:
    """Return what is known of the pull before a hold: how deep, and when it was at the target."""
    if pull is None:
        return {}
    found: Json = {"lowest_micron": json_number(pull.lowest / MICRON)}
    if criterion.target is None:
        return found
    inside = log.within(pull.start, phase.start)
    below = log.pressure[inside] <= criterion.target * (1 + practice.SAME)
    twice = np.flatnonzero(below[:-1] & below[1:])
    found["target_reached"] = bool(len(twice))
    # A log that starts in the middle of a pull does not tell how long the pull took.
    if len(twice) and pull.time_constant is not None:
        found["time_to_target_s"] = json_number(float(log.time[inside][twice[0]]) - pull.start)
    return found


def _fitted(analysis: Analysis, index: int, practised: practice.Practice) -> Json:
    report: HoldReport = analysis.holds[index]
    fit, impact = report.fit, report.impact
    # The hold by itself: what all holds say together stands in the log's verdict.
    case = Case(analysis.log, analysis.system, analysis.phases, analysis.pumpdowns, analysis.holds, (), None, index,
                practised.criterion, practised.outcome, practised.others)
    detectable = impact.detectable_loss
    return {
        "isolated_at_micron": json_number(fit.start_pressure / MICRON),
        "end_micron": json_number(fit.end_pressure / MICRON),
        "proof": _proof(report.cause),
        "cause": report.cause.value,
        "allowed_micron_per_min": _in(impact.allowed_rise, MICRON_PER_MINUTE),
        "allowed": _allowed(case),
        **_ends("leak", "micron_per_min", fit.leak, MICRON_PER_MINUTE),
        **_ends("leak", "pa_m3_per_s", impact.throughput, 1.0),
        **_losses(impact.loss),
        **_ends("outgassing", "micron", fit.outgassing, MICRON),
        "decision_threshold_micron_per_min": json_number(fit.decision_threshold / MICRON_PER_MINUTE),
        "detection_limit_micron_per_min": json_number(fit.detection_limit / MICRON_PER_MINUTE),
        "detection_limit_laminar_g_per_year": None if detectable is None else _in(detectable[0], GRAM_PER_YEAR),
        "detection_limit_molecular_g_per_year": None if detectable is None else _in(detectable[1], GRAM_PER_YEAR),
        "findings": _told(checks.examine_practice(case)),
    }


def _proof(cause: Cause) -> str:
    if cause in NAMED:
        return "leak"
    return "no leak seen" if cause in QUIET else "unresolved"


def _allowed(case: Case) -> str | None:
    if case.system.allow is None:
        return None
    if case.allowed is None or not math.isfinite(case.allowed):
        return "not comparable"
    if case.is_above_allowed:
        return "exceeded"
    return "excluded" if case.is_above_allowed_excluded else "not excluded"


def _ends(name: str, unit_name: str, interval: Interval | None, unit: float) -> Json:
    if interval is None:
        return {}
    return {
        f"{name}_{unit_name}": json_number(interval.value / unit),
        f"{name}_low_{unit_name}": json_number(interval.low / unit),
        f"{name}_high_{unit_name}": json_number(interval.high / unit),
    }


def _losses(loss: Bracket | None) -> Json:
    if loss is None:
        return {}
    return {**_ends("loss_laminar", "g_per_year", loss.laminar, GRAM_PER_YEAR),
            **_ends("loss_molecular", "g_per_year", loss.molecular, GRAM_PER_YEAR)}
