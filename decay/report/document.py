"""The JSON document of one analysis, key by key as the public contract spells it."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from importlib import resources
from typing import Any

from decay.analysis import Analysis, HoldReport
from decay.fit.results import Description, PumpdownFit, ResidualTests, WaterFit
from decay.impact.impact import Bracket, Impact
from decay.interval import Interval
from decay.judge.finding import Finding
from decay.log.pressure_log import PressureLog
from decay.quantities import MICRON
from decay.report.amounts import GRAM_PER_YEAR, MICRON_PER_MINUTE
from decay.system import System

SCHEMA_VERSION = 1
SIGNIFICANT_DIGITS = 9

Json = dict[str, Any]


def document(analysis: Analysis) -> Json:
    """Return the JSON document of one analysis.

    Parameters
    ----------
    analysis : Analysis
        The answer about one log.

    Returns
    -------
    dict
        Strict JSON: times [s] from the first row of the log, numbers in the unit that their key names, unknown and
        unbounded as ``None``. Keys beyond the contract stand only inside a pumpdown and inside a hold, which the
        contract leaves open.
    """
    verdict = analysis.verdict
    criterion = verdict.criterion
    return {
        "schema_version": SCHEMA_VERSION,
        "log": _log(analysis.log),
        "phases": [
            {
                "kind": phase.kind.value,
                "start_s": _number(phase.start),
                "end_s": _number(phase.end),
                "start_micron": _number(phase.start_pressure / MICRON),
                "end_micron": _number(phase.end_pressure / MICRON),
            }
            for phase in analysis.phases
        ],
        "pumpdowns": [_pumpdown(pull) for pull in analysis.pumpdowns],
        "holds": [_hold(analysis, index) for index in range(len(analysis.holds))],
        "joint": None
        if analysis.joint is None
        else {
            "leak": {"rate_micron_per_min": _interval(analysis.joint.leak, MICRON_PER_MINUTE)},
            "holds_used": list(analysis.joint.holds_used),
        },
        "verdict": {
            "result": verdict.result.value,
            "cause": None if verdict.cause is None else verdict.cause.value,
            "criterion": {
                "name": criterion.name,
                "source": "; ".join(part for part in (criterion.source, criterion.standing) if part),
                "met": criterion.met,
            },
            "reasons": [_finding(finding) for finding in verdict.reasons],
            "caveats": [_finding(finding) for finding in verdict.caveats],
            "next_steps": [_finding(finding) for finding in verdict.next_steps],
        },
    }


def collection(documents: Iterable[Json]) -> Json:
    """Return one document that carries those of several logs, in the order given.

    Parameters
    ----------
    documents : iterable of dict
        What `document` returned for each log.

    Returns
    -------
    dict
        ``{"schema_version": 1, "documents": [...]}``.
    """
    return {"schema_version": SCHEMA_VERSION, "documents": list(documents)}


def dumps(doc: Json) -> str:
    """Return a document as strict JSON text: plain ASCII, keys in the order of the contract, one line feed at the end.

    Parameters
    ----------
    doc : dict
        What `document` or `collection` returned.

    Returns
    -------
    str
        The text.

    Raises
    ------
    ValueError
        If a number is not finite, which JSON cannot say.
    """
    return json.dumps(doc, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def _number(x: float | None) -> float | None:
    """Return a number rounded to what a reader can use; `None` for what is unknown or has no bound."""
    if x is None or not math.isfinite(x):
        return None
    return float(f"{x:.{SIGNIFICANT_DIGITS}g}") + 0.0


def _interval(interval: Interval | None, unit: float = 1.0) -> Json | None:
    if interval is None:
        return None
    return {
        "value": _number(interval.value / unit),
        "low": _number(interval.low / unit),
        "high": _number(interval.high / unit),
        "level": _number(interval.level),
    }


def _bracket(bracket: Bracket | None, unit: float = 1.0) -> Json | None:
    if bracket is None:
        return None
    return {"laminar": _interval(bracket.laminar, unit), "molecular": _interval(bracket.molecular, unit)}


def _log(log: PressureLog) -> Json:
    return {
        "path": log.source,
        "rows": log.rows,
        "rows_used": len(log.time),
        "gauge": log.gauge,
        "unit": log.unit,
        "sampling_s": _number(log.sampling),
        "duration_s": _number(log.duration),
        "notes": [{"code": note.code, "line": note.line, "text": note.text} for note in log.notes],
    }


def _finding(finding: Finding) -> Json:
    return {
        "code": finding.code,
        "level": finding.level.name.lower(),
        "summary": finding.summary,
        "evidence": _evidence(finding.evidence),
        "span_s": None if finding.span is None else [_number(x) for x in finding.span],
    }


def _evidence(evidence: Mapping[str, float]) -> Json:
    return {key: _number(float(evidence[key])) for key in sorted(evidence)}


def _pumpdown(pull: PumpdownFit) -> Json:
    return {
        "start_s": _number(pull.start),
        "end_s": _number(pull.end),
        "lowest_micron": _number(pull.lowest / MICRON),
        "time_constant_s": _interval(pull.time_constant),
        "plateaus": [
            {
                "start_s": _number(plateau.start),
                "end_s": _number(plateau.end),
                "micron": _number(plateau.pressure / MICRON),
                "meaning": plateau.meaning,
            }
            for plateau in pull.plateaus
        ],
        "end_micron": _number(pull.end_pressure / MICRON),
        "bands": [
            {
                "high_micron": _number(band.high / MICRON),
                "low_micron": _number(band.low / MICRON),
                "time_constant_s": _interval(band.time_constant),
            }
            for band in pull.bands
        ],
        "knee": None
        if pull.knee is None
        else {"time_s": _number(pull.knee[0]), "micron": _number(pull.knee[1] / MICRON)},
        "tail_exponent": _interval(pull.tail_exponent),
        "longer_pull": [
            {"extra_s": _number(extra), "expected_micron": _number(expected / MICRON)}
            for extra, expected in pull.longer_pull
        ],
        "water_suspected": pull.water_suspected,
    }


def _hold(analysis: Analysis, index: int) -> Json:
    report: HoldReport = analysis.holds[index]
    fit, impact = report.fit, report.impact
    is_decisive = index == analysis.decisive
    detectable = impact.detectable_loss
    limit = analysis.verdict.criterion.limit
    return {
        "start_s": _number(fit.start),
        "end_s": _number(fit.end),
        "duration_s": _number(fit.duration),
        "start_micron": _number(fit.start_pressure / MICRON),
        "end_micron": _number(fit.end_pressure / MICRON),
        "rise_micron": _number(fit.rise / MICRON),
        "leak": {
            "rate_micron_per_min": _interval(fit.leak, MICRON_PER_MINUTE),
            "throughput_pa_m3_per_s": _interval(impact.throughput),
            "refrigerant_loss_g_per_year": _bracket(impact.loss, GRAM_PER_YEAR),
        },
        "outgassing": {
            "rise_micron": _interval(fit.outgassing, MICRON),
            "time_constant_s": _number(fit.outgassing_time_constant),
            "plateau_micron": None if fit.plateau is None else _number(fit.plateau / MICRON),
        },
        "decision_threshold": {"rate_micron_per_min": _number(fit.decision_threshold / MICRON_PER_MINUTE)},
        "smallest_detectable": {
            "rate_micron_per_min": _number(fit.detection_limit / MICRON_PER_MINUTE),
            "refrigerant_loss_g_per_year": None
            if detectable is None
            else {
                "laminar": _number(detectable[0] / GRAM_PER_YEAR),
                "molecular": _number(detectable[1] / GRAM_PER_YEAR),
            },
            "throughput_pa_m3_per_s": _number(impact.detectable_throughput),
        },
        "cause": report.cause.value,
        "is_decisive": is_decisive,
        "fit_from_s": _number(fit.fit_from),
        "readings": fit.readings,
        "is_leak_seen": fit.is_leak_seen,
        "is_steady_rise_seen": fit.is_steady_rise_seen,
        "is_outgassing_seen": fit.is_outgassing_seen,
        "short_look": {"rate_micron_per_min": _interval(fit.short_look, MICRON_PER_MINUTE)},
        "noise_micron": _number(fit.noise / MICRON),
        "step_micron": _number(fit.step / MICRON),
        "longest_time_constant_in_holds": _number(fit.kappa),
        "criterion_line_micron": None if limit is None or not is_decisive else _number(limit / MICRON),
        "tests": _tests(fit.tests),
        "water": _water(fit.water),
        "description": _description(fit.description),
        "assumptions": list(fit.assumptions),
        "impact": _impact(impact),
        "system": _system(analysis.system),
    }


def _tests(tests: ResidualTests) -> Json:
    return {
        "misfit": _number(tests.misfit),
        "correlation": _number(tests.correlation),
        "runs_p": _number(tests.runs_p),
        "bend_p": _number(tests.bend_p),
        "bend_micron": _number(tests.bend / MICRON),
        "inflation": _number(tests.inflation),
        "adequate": tests.adequate,
    }


def _water(water: WaterFit | None) -> Json | None:
    if water is None:
        return None
    return {
        "saturation_micron": _interval(water.saturation, MICRON),
        "is_possible": water.is_possible,
        "is_crossed": water.is_crossed,
        "is_bending": water.is_bending,
        "misfit_growth": _number(water.misfit_growth),
    }


def _description(description: Description | None) -> Json | None:
    if description is None:
        return None
    return {
        "rate_micron_per_min": _interval(description.rate, MICRON_PER_MINUTE),
        "amplitude_micron": _interval(description.amplitude, MICRON),
        "time_constant_s": _interval(description.time_constant),
        "start_micron": _number(description.start / MICRON),
        "plateau_micron": _number(description.plateau / MICRON),
    }


def _impact(impact: Impact) -> Json:
    allowed = impact.allowed_rise
    return {
        "until_70_percent_s": _bracket(impact.until_70_percent),
        "until_empty_s": _bracket(impact.until_empty),
        "allowed_rate_micron_per_min": None if allowed is None else _number(allowed / MICRON_PER_MINUTE),
        "dominant_uncertainty": impact.dominant or None,
        "remarks": list(impact.remarks),
    }


def _system(system: System) -> Json:
    """Return what the user told us: every hold carries it, because its numbers rest on it."""
    return {
        "volume_m3": _interval(system.volume),
        "volume_origin": system.volume_origin or None,
        "refrigerant": system.refrigerant,
        "charge_kg": _number(system.charge),
        "ambient_k": _number(system.ambient),
        "ambient_spread_k": _number(system.ambient_spread),
        "allow": None if system.allow is None else system.allow.text,
        "gauge_accuracy": _number(system.gauge_accuracy),
    }


def schema() -> Json:
    """Return the JSON Schema (draft 2020-12) that every document meets."""
    text = resources.files("decay.report").joinpath("schema.json").read_text(encoding="utf-8")
    loaded: Json = json.loads(text)
    return loaded
