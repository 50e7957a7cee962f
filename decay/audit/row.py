"""One row a hold: what an audit keeps of an analysis, flat, in the units that its column names say."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, fields
from datetime import datetime, timedelta

import numpy as np

from decay.analysis import Analysis
from decay.audit import checks
from decay.audit.collect import Target, job_name
from decay.fit.results import PumpdownFit
from decay.impact.assess import Bracket
from decay.interval import Interval
from decay.judge import practice
from decay.judge.answer import HoldReport
from decay.judge.case import Case, pull_before
from decay.judge.criteria import Criterion
from decay.judge.finding import Cause, Finding, Result
from decay.judge.verdict import NAMED, QUIET
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind, Phase
from decay.quantities import MICRON
from decay.report import answers
from decay.report.document_numbers import Json, number
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE, MINUTE

EXIT_CODES = {Result.PASS: 0, Result.FAIL: 1, Result.INCONCLUSIVE: 3}
"""The exit code that analysing one log alone would end in."""
UNREADABLE = 4
INTERNAL = 70
SAME = 1e-6  # the same reading written in two units differs by less


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One hold of one log; or a log without a hold, or one that could not be read, most of its fields ``None``.

    A field whose name ends in ``_low`` or ``_high`` is an end of the 95 % interval of the field before it; ``None``
    there is an end without a bound.

    Parameters
    ----------
    path, job : str
        The file, and its name without folder and endings.
    size_bytes, modified_us : int or None
        By which the file is known again.
    exit_code : int
        What the analysis of this log alone ends in.
    error : str or None
        Why the log could not be read.
    is_to_retry : bool
        Whether it may be readable another time: what stood in the way was not the file's content.
    told : str or None
        What the job list says of this log.
    date : str or None
        Day of the log, where it tells one.
    result, result_cause : str or None
        Verdict on the whole log, and the cause it rests on; all holds together where there are several.
    reason_code, reason : str or None
        The first reason of the result; a pass has no code.
    leak : str or None
        What is known of the leak, in words, as the summary of the log alone says it.
    result_leak_micron_per_min : float or None
        Steady rise that the result rests on, with its ends.
    result_leak_seen : bool or None
        Whether it counts as seen.
    result_detection_limit_micron_per_min : float or None
        Smallest leak that the same holds would have shown.
    result_odds_of_leak : float or None
        How likely a leak is, where the interval leaves one open; it grades and decides nothing.
    result_loss_low_g_per_year, result_loss_high_g_per_year : float or None
        The least and the most that such a leak would lose in a year, over both flow regimes.
    result_hold_min : float or None
        Length of the hold that the result rests on.
    gauge, unit : str or None
        Column that was read, and its unit.
    rows, rows_used : int or None
        Data rows of the file, and those that the analysis used.
    sampling_s : float or None
        Time between readings.
    log_started : str or None
        Date and time of the log's first row, as the file gives them.
    holds, hold : int or None
        Number of holds in the log, and which of them this is, from 1.
    is_decisive : bool or None
        Whether the log's verdict rests on this hold.
    hold_started : str or None
        Date and time at which the valve closed.
    hold_start_s, hold_end_s, hold_length_s : float or None
        The same since the first row of the log, the end, and the length.
    target_micron : float or None
        Pressure that the criterion asks for before isolation.
    target_reached : bool or None
        Whether the pull before the hold reached it.
    time_to_target_s : float or None
        From the start of that pull to its first two readings in a row at or below the target.
    lowest_micron : float or None
        Lowest pressure of that pull.
    isolated_at_micron, end_micron : float or None
        Pressure at the start and at the end of the hold.
    criterion, practice, practice_detail : str or None
        The criterion, "met", "not met" or "not answered", and what decided.
    proof : str or None
        "leak", "no leak seen" or "unresolved", for this hold by itself.
    cause : str or None
        What its rise is made of.
    allowed_micron_per_min : float or None
        The leak that matters.
    allowed : str or None
        "exceeded", "excluded", "not excluded" or "not comparable".
    leak_micron_per_min : float or None
        Steady rise, with its ends.
    leak_pa_m3_per_s, loss_laminar_g_per_year, loss_molecular_g_per_year : float or None
        The same as gas flow and as loss of refrigerant under both flow regimes, with their ends.
    outgassing_micron : float or None
        Rise of the hold that levels off, with its ends.
    decision_threshold_micron_per_min, detection_limit_micron_per_min : float or None
        Smallest rise that counts as seen, and smallest leak that shows in 95 % of such holds.
    detection_limit_laminar_g_per_year, detection_limit_molecular_g_per_year : float or None
        The detection limit as loss of refrigerant.
    findings : tuple of (str, str)
        Code and text of each finding of practice.
    """

    path: str
    job: str
    size_bytes: int | None
    modified_us: int | None
    exit_code: int
    error: str | None = None
    is_to_retry: bool = False
    told: str | None = None
    date: str | None = None
    result: str | None = None
    result_cause: str | None = None
    reason_code: str | None = None
    reason: str | None = None
    leak: str | None = None
    result_leak_micron_per_min: float | None = None
    result_leak_low_micron_per_min: float | None = None
    result_leak_high_micron_per_min: float | None = None
    result_leak_seen: bool | None = None
    result_detection_limit_micron_per_min: float | None = None
    result_odds_of_leak: float | None = None
    result_loss_low_g_per_year: float | None = None
    result_loss_high_g_per_year: float | None = None
    result_hold_min: float | None = None
    gauge: str | None = None
    unit: str | None = None
    rows: int | None = None
    rows_used: int | None = None
    sampling_s: float | None = None
    log_started: str | None = None
    holds: int | None = None
    hold: int | None = None
    is_decisive: bool | None = None
    hold_started: str | None = None
    hold_start_s: float | None = None
    hold_end_s: float | None = None
    hold_length_s: float | None = None
    target_micron: float | None = None
    target_reached: bool | None = None
    time_to_target_s: float | None = None
    lowest_micron: float | None = None
    isolated_at_micron: float | None = None
    end_micron: float | None = None
    criterion: str | None = None
    practice: str | None = None
    practice_detail: str | None = None
    proof: str | None = None
    cause: str | None = None
    allowed_micron_per_min: float | None = None
    allowed: str | None = None
    leak_micron_per_min: float | None = None
    leak_low_micron_per_min: float | None = None
    leak_high_micron_per_min: float | None = None
    leak_pa_m3_per_s: float | None = None
    leak_low_pa_m3_per_s: float | None = None
    leak_high_pa_m3_per_s: float | None = None
    loss_laminar_g_per_year: float | None = None
    loss_laminar_low_g_per_year: float | None = None
    loss_laminar_high_g_per_year: float | None = None
    loss_molecular_g_per_year: float | None = None
    loss_molecular_low_g_per_year: float | None = None
    loss_molecular_high_g_per_year: float | None = None
    outgassing_micron: float | None = None
    outgassing_low_micron: float | None = None
    outgassing_high_micron: float | None = None
    decision_threshold_micron_per_min: float | None = None
    detection_limit_micron_per_min: float | None = None
    detection_limit_laminar_g_per_year: float | None = None
    detection_limit_molecular_g_per_year: float | None = None
    findings: tuple[tuple[str, str], ...] = ()

    def record(self) -> Json:
        """Return the row as it stands in a line of JSON."""
        made = asdict(self)
        made["findings"] = [{"code": code, "text": text} for code, text in self.findings]
        return made


COLUMNS: tuple[str, ...] = tuple(field.name for field in fields(Row))
"""Names of a row's fields, in order."""


def told_text(target: Target) -> str | None:
    """Return what the job list says of a log, as it stands in its row."""
    return "; ".join(f"{name} {text}" for name, text in target.told) or None


def failed(target: Target, code: int, error: str, *, is_to_retry: bool = False) -> Row:
    """Return the row of a log that could not be read.

    Parameters
    ----------
    target : Target
        The file.
    code : int
        Exit code that this log alone would end in. [-]
    error : str
        What went wrong.
    is_to_retry : bool
        Whether it may be readable another time.

    Returns
    -------
    Row
        With everything unknown.
    """
    return Row(path=target.path, job=job_name(target.path), size_bytes=target.size, modified_us=target.modified,
               exit_code=code, error=error, is_to_retry=is_to_retry, told=told_text(target))


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
        "sampling_s": number(log.sampling),
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
        practised = practice.answer(criterion, subject, analysis.pumpdowns, log, analysis.system,
                                    doubt=phase.doubt)
        outcome = practised.outcome
        about_hold: Json = {
            **about_log,
            "holds": len(phases),
            "hold": place,
            "is_decisive": index is not None and index == analysis.decisive,
            **_times(log, phase),
            **_pull(log, phase, pull_before(analysis.pumpdowns, phase.start), practised.criterion),
            "criterion": outcome.name,
            "target_micron": _in(practised.criterion.target, MICRON),
            "practice": {True: "met", False: "not met", None: "not answered"}[outcome.met],
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
    decided = answers.deciding(analysis)
    found: Json = {
        "date": None if analysis.log.started is None else analysis.log.started[:10],
        "result": verdict.result.value,
        "result_cause": None if verdict.cause is None else verdict.cause.value,
        "reason_code": decided[0].code if decided else None,
        "reason": answers.reason_in_words(analysis),
        "leak": answers.leak_answer(analysis),
        "result_leak_seen": None if basis.leak is None else basis.is_leak_seen,
        "result_detection_limit_micron_per_min": _in(basis.detection_limit, MICRON_PER_MINUTE),
        "result_odds_of_leak": number(basis.odds_of_leak),
        "result_hold_min": None if basis.span is None else number((basis.span[1] - basis.span[0]) / MINUTE),
        **_ends("result_leak", "micron_per_min", basis.leak, MICRON_PER_MINUTE),
    }
    loss = None if basis.impact is None else basis.impact.loss
    if loss is not None:
        ends = (loss.laminar.low, loss.molecular.low, loss.laminar.high, loss.molecular.high)
        found["result_loss_low_g_per_year"] = number(min(ends[:2]) / GRAM_PER_YEAR)
        found["result_loss_high_g_per_year"] = number(max(ends[2:]) / GRAM_PER_YEAR)
    return found


def _told(findings: list[Finding] | tuple[Finding, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((finding.code, finding.summary) for finding in findings)


def _in(value: float | None, unit: float) -> float | None:
    return None if value is None else number(value / unit)


def _times(log: PressureLog, phase: Phase) -> Json:
    started = None
    if log.started is not None:
        # Whole seconds: the clock of a gauge knows no more.
        moment = datetime.fromisoformat(log.started) + timedelta(seconds=round(phase.start))
        started = moment.isoformat()
    return {"hold_started": started, "hold_start_s": number(phase.start), "hold_end_s": number(phase.end),
            "hold_length_s": number(phase.duration)}


def _pull(log: PressureLog, phase: Phase, pull: PumpdownFit | None, criterion: Criterion) -> Json:
    """Return what is known of the pull before a hold: how deep, and when it was at the target."""
    if pull is None:
        return {}
    found: Json = {"lowest_micron": number(pull.lowest / MICRON)}
    if criterion.target is None:
        return found
    inside = (log.time >= pull.start) & (log.time <= phase.start)
    below = log.pressure[inside] <= criterion.target * (1 + SAME)
    twice = np.flatnonzero(below[:-1] & below[1:])
    found["target_reached"] = bool(len(twice))
    # A log that starts in the middle of a pull does not tell how long the pull took.
    if len(twice) and pull.time_constant is not None:
        found["time_to_target_s"] = number(float(log.time[inside][twice[0]]) - pull.start)
    return found


def _fitted(analysis: Analysis, index: int, practised: practice.Practice) -> Json:
    report: HoldReport = analysis.holds[index]
    fit, impact = report.fit, report.impact
    # The hold by itself: what all holds say together stands in the log's verdict.
    case = Case(analysis.log, analysis.system, analysis.phases, analysis.pumpdowns, analysis.holds, (), None, index,
                practised.criterion, practised.outcome, practised.others)
    detectable = impact.detectable_loss
    return {
        "isolated_at_micron": number(fit.start_pressure / MICRON),
        "end_micron": number(fit.end_pressure / MICRON),
        "proof": _proof(report.cause),
        "cause": report.cause.value,
        "allowed_micron_per_min": _in(impact.allowed_rise, MICRON_PER_MINUTE),
        "allowed": _allowed(case),
        **_ends("leak", "micron_per_min", fit.leak, MICRON_PER_MINUTE),
        **_ends("leak", "pa_m3_per_s", impact.throughput, 1.0),
        **_losses(impact.loss),
        **_ends("outgassing", "micron", fit.outgassing, MICRON),
        "decision_threshold_micron_per_min": number(fit.decision_threshold / MICRON_PER_MINUTE),
        "detection_limit_micron_per_min": number(fit.detection_limit / MICRON_PER_MINUTE),
        "detection_limit_laminar_g_per_year": None if detectable is None else _in(detectable[0], GRAM_PER_YEAR),
        "detection_limit_molecular_g_per_year": None if detectable is None else _in(detectable[1], GRAM_PER_YEAR),
        "findings": _told(checks.examine(case)),
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
        f"{name}_{unit_name}": number(interval.value / unit),
        f"{name}_low_{unit_name}": number(interval.low / unit),
        f"{name}_high_{unit_name}": number(interval.high / unit),
    }


def _losses(loss: Bracket | None) -> Json:
    if loss is None:
        return {}
    return {**_ends("loss_laminar", "g_per_year", loss.laminar, GRAM_PER_YEAR),
            **_ends("loss_molecular", "g_per_year", loss.molecular, GRAM_PER_YEAR)}
