"""The JSON document of one analysis, key by key as the public contract spells it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping

from decay.constants import MICRON
from decay.fit.results import Description, JointFit, PumpdownFit, ResidualTests, WaterFit
from decay.judge.answer import Judged
from decay.judge.finding import Finding
from decay.log.pressure_log import PressureLog
from decay.pull.gas_load import GasLoad
from decay.report.document_numbers import Json, bracket, by_law, interval, next_test, number
from decay.report.impact_report import impact_document
from decay.several.rig import RigShare
from decay.several.warm import WarmFit
from decay.system import System
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE

SCHEMA_VERSION = 1


def document(analysis: Judged) -> Json:
    """Return the JSON document of one analysis: times from the log's first row [s], units named by the keys.

    Unknown and unbounded are ``None``. Keys beyond the contract stand only inside a pumpdown, a hold and the joint fit;
    ``warm`` stands where a cold and a warm hold were compared.
    """
    verdict = analysis.verdict
    criterion, basis = verdict.criterion, analysis.basis
    return {
        "schema_version": SCHEMA_VERSION,
        "log": _log(analysis.log),
        "phases": [
            {
                "kind": phase.kind.value,
                "start_s": number(phase.start),
                "end_s": number(phase.end),
                "start_micron": number(phase.start_pressure, MICRON),
                "end_micron": number(phase.end_pressure, MICRON),
            }
            for phase in analysis.phases
        ],
        "pumpdowns": [_pumpdown(analysis, pull) for pull in analysis.pumpdowns],
        "holds": [_hold(analysis, index) for index in range(len(analysis.holds))],
        "joint": None if analysis.joint is None else _joint(analysis.joint),
        **({} if analysis.warm is None else {"warm": _warm(analysis.warm)}),
        "verdict": {
            "result": verdict.result.value,
            "cause": None if verdict.cause is None else verdict.cause.value,
            "leak": interval(basis.leak, MICRON_PER_MINUTE),
            "detection_limit_micron_per_min": number(basis.detection_limit, MICRON_PER_MINUTE),
            "odds_of_leak": number(basis.odds_of_leak),
            "criterion": {
                "name": criterion.name,
                "source": "; ".join(part for part in (criterion.source, criterion.standing) if part),
                "met": criterion.met,
            },
            "reasons": [_finding(finding) for finding in verdict.reasons],
            "caveats": [_finding(finding) for finding in verdict.caveats],
            "next_steps": [_finding(finding) for finding in verdict.next_steps],
            "next_tests": [next_test(test) for test in basis.next_tests],
        },
    }


def collection(documents: Iterable[Json], faults: Iterable[tuple[str, str]] = ()) -> Json:
    """Return one document that carries those of several logs, and path and error of each that could not be read."""
    return {
        "schema_version": SCHEMA_VERSION,
        "documents": list(documents),
        "unreadable": [{"path": path, "error": error} for path, error in faults],
    }


def dumps(doc: Json) -> str:
    """Return a document as strict JSON text: plain ASCII, keys in the order of the contract, one line feed at the end.

    Parameters
    ----------
    doc : dict
        What `document` or `collection` returned.

    Raises
    ------
    ValueError
        If a number is not finite, which JSON cannot say.
    """
    return json.dumps(doc, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def _log(log: PressureLog) -> Json:
    return {
        "path": log.source,
        "rows": log.rows,
        "rows_used": len(log.time),
        "gauge": log.gauge,
        "unit": log.unit,
        "sampling_s": number(log.sampling),
        "duration_s": number(log.duration),
        "notes": [{"code": note.code, "line": note.line, "text": note.text} for note in log.notes],
    }


def _finding(finding: Finding) -> Json:
    return {
        "code": finding.code,
        "level": finding.level.name.lower(),
        "summary": finding.summary,
        "evidence": _evidence(finding.evidence),
        "span_s": None if finding.span is None else [number(x) for x in finding.span],
    }


def _evidence(evidence: Mapping[str, float]) -> Json:
    return {key: number(float(evidence[key])) for key in sorted(evidence)}


def _pumpdown(analysis: Judged, pull: PumpdownFit) -> Json:
    load = analysis.load
    return {
        "start_s": number(pull.start),
        "end_s": number(pull.end),
        "lowest_micron": number(pull.lowest, MICRON),
        "time_constant_s": interval(pull.time_constant),
        "plateaus": [
            {
                "start_s": number(plateau.start),
                "end_s": number(plateau.end),
                "micron": number(plateau.pressure, MICRON),
                "meaning": plateau.meaning,
            }
            for plateau in pull.plateaus
        ],
        "end_micron": number(pull.end_pressure, MICRON),
        "bands": [
            {
                "high_micron": number(band.high, MICRON),
                "low_micron": number(band.low, MICRON),
                "time_constant_s": interval(band.time_constant),
            }
            for band in pull.bands
        ],
        "knee": None if pull.knee is None else {
            "time_s": number(pull.knee[0]), "micron": number(pull.knee[1], MICRON),
        },
        "tail_exponent": interval(pull.tail_exponent),
        "longer_pull": [
            {"extra_s": number(extra), "expected_micron": number(expected, MICRON)}
            for extra, expected in pull.longer_pull
        ],
        "water_suspected": pull.water_suspected,
        "against_pump": None if load is None or load.start != pull.start else _load(load),
    }


def _hold(analysis: Judged, index: int) -> Json:
    report = analysis.holds[index]
    fit, impact = report.fit, report.impact
    is_decisive = index == analysis.decisive
    limit = analysis.verdict.criterion.limit
    return {
        "start_s": number(fit.start),
        "end_s": number(fit.end),
        "duration_s": number(fit.duration),
        "start_micron": number(fit.start_pressure, MICRON),
        "end_micron": number(fit.end_pressure, MICRON),
        "rise_micron": number(fit.rise, MICRON),
        "leak": {
            "rate_micron_per_min": interval(fit.leak, MICRON_PER_MINUTE),
            "throughput_pa_m3_per_s": interval(impact.throughput),
            "refrigerant_loss_g_per_year": bracket(impact.loss, GRAM_PER_YEAR),
        },
        "outgassing": {
            "rise_micron": interval(fit.outgassing, MICRON),
            "time_constant_s": number(fit.outgassing_time_constant),
            "plateau_micron": number(fit.plateau, MICRON),
        },
        "decision_threshold": {"rate_micron_per_min": number(fit.decision_threshold, MICRON_PER_MINUTE)},
        "smallest_detectable": {
            "rate_micron_per_min": number(fit.detection_limit, MICRON_PER_MINUTE),
            "refrigerant_loss_g_per_year": by_law(impact.detectable_loss, GRAM_PER_YEAR),
            "throughput_pa_m3_per_s": number(impact.detectable_throughput),
        },
        "cause": report.cause.value,
        "smallest_told_from_slow_sources": {"rate_micron_per_min": number(fit.naming_limit, MICRON_PER_MINUTE)},
        "is_decisive": is_decisive,
        "rig": None if analysis.rig is None or not is_decisive else _rig(analysis.rig),
        "fit_from_s": number(fit.fit_from),
        "readings": fit.readings,
        "is_leak_seen": fit.is_leak_seen,
        "is_steady_rise_seen": fit.is_steady_rise_seen,
        "is_outgassing_seen": fit.is_outgassing_seen,
        "short_look": {"rate_micron_per_min": interval(fit.short, MICRON_PER_MINUTE)},
        "noise_micron": number(fit.noise, MICRON),
        "step_micron": number(fit.step, MICRON),
        "hose_drop_micron": number(fit.hose_drop, MICRON),
        "longest_time_constant_in_holds": number(fit.kappa),
        "criterion_line_micron": None if limit is None or not is_decisive else number(limit, MICRON),
        "tests": _tests(fit.tests),
        "water": _water(fit.water),
        "description": _description(fit.description),
        "assumptions": list(fit.assumptions),
        "impact": impact_document(analysis, report),
        "system": _system(analysis.system),
    }


def _joint(joint: JointFit) -> Json:
    return {
        "leak": {"rate_micron_per_min": interval(joint.leak, MICRON_PER_MINUTE)},
        "holds_used": list(joint.holds_used),
        "holds_of_other_logs": [{"log": source, "hold": index} for source, index in joint.elsewhere],
        "each_rate_micron_per_min": [interval(alone, MICRON_PER_MINUTE) for alone in joint.each],
        "without_each_rate_micron_per_min": [interval(rest, MICRON_PER_MINUTE) for rest in joint.without],
        "homogeneity_p": number(joint.homogeneity_p),
        "is_homogeneous": joint.is_homogeneous,
        "is_leak_seen": joint.is_leak_seen,
        "decision_threshold": {"rate_micron_per_min": number(joint.decision_threshold, MICRON_PER_MINUTE)},
        "smallest_detectable": {"rate_micron_per_min": number(joint.detection_limit, MICRON_PER_MINUTE)},
        "misfit": number(joint.misfit),
        "remarks": list(joint.remarks),
    }


def _warm(warm: WarmFit) -> Json:
    return {
        "leak": {"rate_micron_per_min": interval(warm.leak, MICRON_PER_MINUTE)},
        "leak_without_warm_hold": {"rate_micron_per_min": interval(warm.alone, MICRON_PER_MINUTE)},
        "conditions_not_met": [condition.value for condition in warm.failed],
        "temperatures_k": None if warm.temperatures is None else [number(each) for each in warm.temperatures],
        "growth": number(warm.growth),
        "apparent_activation_energy_j_per_mol": number(warm.energy),
        "misfit": number(warm.misfit),
        "agreement_p": number(warm.agreement_p),
    }


def _rig(rig: RigShare) -> Json:
    test = rig.test
    return {
        "path": test.source,
        "leak": {
            "rate_micron_per_min": interval(test.leak, MICRON_PER_MINUTE),
            "throughput_pa_m3_per_s": interval(test.throughput),
        },
        "smallest_detectable": {"rate_micron_per_min": number(test.fit.detection_limit, MICRON_PER_MINUTE)},
        "ultimate_micron": number(test.ultimate, MICRON),
        "volume_m3": interval(test.volume),
        "share_rate_micron_per_min": interval(rig.share, MICRON_PER_MINUTE),
        "whole_rate_micron_per_min": interval(rig.whole, MICRON_PER_MINUTE),
        "left_rate_micron_per_min": interval(rig.leak, MICRON_PER_MINUTE),
        "is_bounded_only": rig.is_bounded_only,
        "explains_all": rig.explains_all,
        "leaks_as_much": rig.leaks_as_much,
    }


def _load(load: GasLoad) -> Json:
    return {
        "rated_speed_m3_per_s": number(load.rated),
        "end_speed_m3_per_s": number(load.end_speed),
        "ultimate_micron": number(load.ultimate, MICRON),
        "bands": [
            {
                "high_micron": number(band.high, MICRON),
                "low_micron": number(band.low, MICRON),
                "seen_speed_m3_per_s": interval(band.seen),
                "expected_speed_m3_per_s": number(band.expected),
                "hose_conductance_m3_per_s": number(band.line),
                "time_s": number(band.time),
                "lost_s": number(band.lost),
                "lost_to_hose_s": number(band.lost_to_hose),
            }
            for band in load.bands
        ],
        "lost_to_hose_s": number(load.lost_to_hose),
        "pulled_pa_m3_per_s": interval(load.pulled),
        "given_pa_m3_per_s": interval(load.given),
        "gives_more_than_pulled": load.gives_more_than_pulled,
        "gives_less_than_pulled": load.gives_less_than_pulled,
        "water": [
            {
                "micron": number(w.pressure, MICRON),
                "temperature_k": number(w.temperature),
                "rate_kg_per_s": number(w.rate),
                "left_at_most_kg": number(w.during),
                "time_for_10_g_s": number(w.time),
                "power_w": number(w.power),
                "freezing_share": number(w.freezing),
            }
            for w in load.water
        ],
    }


def _tests(tests: ResidualTests) -> Json:
    return {
        "misfit": number(tests.misfit),
        "correlation": number(tests.correlation),
        "runs_p": number(tests.runs_p),
        "bend_p": number(tests.bend_p),
        "bend_micron": number(tests.bend, MICRON),
        "inflation": number(tests.inflation),
        "adequate": tests.adequate,
    }


def _water(water: WaterFit | None) -> Json | None:
    if water is None:
        return None
    return {
        "saturation_micron": interval(water.saturation, MICRON),
        "is_possible": water.is_possible,
        "is_crossed": water.is_crossed,
        "is_bending": water.is_bending,
        "misfit_growth": number(water.misfit_growth),
    }


def _description(description: Description | None) -> Json | None:
    if description is None:
        return None
    return {
        "rate_micron_per_min": interval(description.rate, MICRON_PER_MINUTE),
        "amplitude_micron": interval(description.amplitude, MICRON),
        "time_constant_s": interval(description.time_constant),
        "start_micron": number(description.start, MICRON),
        "plateau_micron": number(description.plateau, MICRON),
    }


def _system(system: System) -> Json:
    """Return what the user told us: every hold carries it, because its numbers rest on it."""
    return {
        "volume_m3": interval(system.volume),
        "volume_origin": system.volume_origin or None,
        "refrigerant": system.refrigerant,
        "charge_kg": number(system.charge),
        "ambient_k": number(system.ambient),
        "ambient_spread_k": number(system.ambient_spread),
        "allow": None if system.allow is None else system.allow.text,
        "gauge_accuracy": number(system.gauge_accuracy),
    }
