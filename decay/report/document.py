"""The JSON document of one analysis, key by key as the public contract spells it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping

from decay.constants import MICRON
from decay.fit.results import Description, JointFit, PumpdownFit, ResidualTests, WaterFit
from decay.judge.answer import Basis, Judged
from decay.judge.finding import Finding
from decay.log.pressure_log import PressureLog
from decay.pull.gas_load import GasLoad
from decay.report.document_numbers import Json, bracket, by_law, json_interval, json_number, next_test
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
                "start_s": json_number(phase.start),
                "end_s": json_number(phase.end),
                "start_micron": json_number(phase.start_pressure, MICRON),
                "end_micron": json_number(phase.end_pressure, MICRON),
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
            "leak": json_interval(basis.leak, MICRON_PER_MINUTE),
            "detection_limit_micron_per_min": json_number(basis.detection_limit, MICRON_PER_MINUTE),
            "odds_of_leak": json_number(basis.odds_of_leak),
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
        "sampling_s": json_number(log.sampling),
        "duration_s": json_number(log.duration),
        "notes": [{"code": note.code, "line": note.line, "text": note.text} for note in log.notes],
    }


def _finding(finding: Finding) -> Json:
    return {
        "code": finding.code,
        "level": finding.level.name.lower(),
        "summary": finding.summary,
        "evidence": _evidence(finding.evidence),
        "span_s": None if finding.span is None else [json_number(x) for x in finding.span],
    }


def _evidence(evidence: Mapping[str, float]) -> Json:
    return {key: json_number(float(evidence[key])) for key in sorted(evidence)}


def _pumpdown(analysis: Judged, pull: PumpdownFit) -> Json:
    load = analysis.load
    return {
        "start_s": json_number(pull.start),
        "end_s": json_number(pull.end),
        "lowest_micron": json_number(pull.lowest, MICRON),
        "time_constant_s": json_interval(pull.time_constant),
        "plateaus": [
            {
                "start_s": json_number(plateau.start),
                "end_s": json_number(plateau.end),
                "micron": json_number(plateau.pressure, MICRON),
                "meaning": plateau.meaning,
            }
            for plateau in pull.plateaus
        ],
        "end_micron": json_number(pull.end_pressure, MICRON),
        "bands": [
            {
                "high_micron": json_number(band.high, MICRON),
                "low_micron": json_number(band.low, MICRON),
                "time_constant_s": json_interval(band.time_constant),
            }
            for band in pull.bands
        ],
        "knee": None if pull.knee is None else {
            "time_s": json_number(pull.knee[0]), "micron": json_number(pull.knee[1], MICRON),
        },
        "tail_exponent": json_interval(pull.tail_exponent),
        "longer_pull": [
            {"extra_s": json_number(extra), "expected_micron": json_number(expected, MICRON)}
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
        "start_s": json_number(fit.start),
        "end_s": json_number(fit.end),
        "duration_s": json_number(fit.duration),
        "start_micron": json_number(fit.start_pressure, MICRON),
        "end_micron": json_number(fit.end_pressure, MICRON),
        "rise_micron": json_number(fit.rise, MICRON),
        "leak": {
            "rate_micron_per_min": json_interval(fit.leak, MICRON_PER_MINUTE),
            "throughput_pa_m3_per_s": json_interval(impact.throughput),
            "refrigerant_loss_g_per_year": bracket(impact.loss, GRAM_PER_YEAR),
        },
        "outgassing": {
            "rise_micron": json_interval(fit.outgassing, MICRON),
            "time_constant_s": json_number(fit.outgassing_time_constant),
            "plateau_micron": json_number(fit.plateau, MICRON),
        },
        "decision_threshold": {"rate_micron_per_min": json_number(fit.decision_threshold, MICRON_PER_MINUTE)},
        "smallest_detectable": {
            "rate_micron_per_min": json_number(fit.detection_limit, MICRON_PER_MINUTE),
            "refrigerant_loss_g_per_year": by_law(impact.detectable_loss, GRAM_PER_YEAR),
            "throughput_pa_m3_per_s": json_number(impact.detectable_throughput),
        },
        "cause": report.cause.value,
        "smallest_told_from_slow_sources": {"rate_micron_per_min": json_number(fit.naming_limit, MICRON_PER_MINUTE)},
        "is_decisive": is_decisive,
        "rig": None if analysis.rig is None or not is_decisive else _rig(analysis.rig),
        "verdict_rests_on": _basis(analysis.basis) if is_decisive else None,
        "fit_from_s": json_number(fit.fit_from),
        "readings": fit.readings,
        "is_leak_seen": fit.is_leak_seen,
        "is_steady_rise_seen": fit.is_steady_rise_seen,
        "is_outgassing_seen": fit.is_outgassing_seen,
        "short_look": {"rate_micron_per_min": json_interval(fit.short, MICRON_PER_MINUTE)},
        "noise_micron": json_number(fit.noise, MICRON),
        "step_micron": json_number(fit.step, MICRON),
        "hose_drop_micron": json_number(fit.hose_drop, MICRON),
        "longest_time_constant_in_holds": json_number(fit.kappa),
        "criterion_line_micron": None if limit is None or not is_decisive else json_number(limit, MICRON),
        "tests": _tests(fit.tests),
        "water": _water(fit.water),
        "description": _description(fit.description),
        "assumptions": list(fit.assumptions),
        "impact": impact_document(analysis, report),
        "system": _system(analysis.system),
    }


def _basis(basis: Basis) -> Json | None:
    """Return what the verdict's leak means: of all holds where they agree, and without the rig's share."""
    impact = basis.impact
    if impact is None:
        return None
    return {
        "is_joint": basis.is_joint,
        "is_without_rig": basis.is_without_rig,
        "is_leak_seen": basis.is_leak_seen,
        "leak": {
            "rate_micron_per_min": json_interval(basis.leak, MICRON_PER_MINUTE),
            "throughput_pa_m3_per_s": json_interval(impact.throughput),
            "refrigerant_loss_g_per_year": bracket(impact.loss, GRAM_PER_YEAR),
        },
        "smallest_detectable": {
            "rate_micron_per_min": json_number(basis.detection_limit, MICRON_PER_MINUTE),
            "refrigerant_loss_g_per_year": by_law(impact.detectable_loss, GRAM_PER_YEAR),
            "throughput_pa_m3_per_s": json_number(impact.detectable_throughput),
        },
    }


def _joint(joint: JointFit) -> Json:
    return {
        "leak": {"rate_micron_per_min": json_interval(joint.leak, MICRON_PER_MINUTE)},
        "holds_used": list(joint.holds_used),
        "holds_of_other_logs": [{"log": source, "hold": index} for source, index in joint.elsewhere],
        "each_rate_micron_per_min": [json_interval(alone, MICRON_PER_MINUTE) for alone in joint.each],
        "without_each_rate_micron_per_min": [json_interval(rest, MICRON_PER_MINUTE) for rest in joint.without],
        "homogeneity_p": json_number(joint.homogeneity_p),
        "is_homogeneous": joint.is_homogeneous,
        "is_leak_seen": joint.is_leak_seen,
        "decision_threshold": {"rate_micron_per_min": json_number(joint.decision_threshold, MICRON_PER_MINUTE)},
        "smallest_detectable": {"rate_micron_per_min": json_number(joint.detection_limit, MICRON_PER_MINUTE)},
        "misfit": json_number(joint.misfit),
        "remarks": list(joint.remarks),
    }


def _warm(warm: WarmFit) -> Json:
    return {
        "leak": {"rate_micron_per_min": json_interval(warm.leak, MICRON_PER_MINUTE)},
        "leak_without_warm_hold": {"rate_micron_per_min": json_interval(warm.alone, MICRON_PER_MINUTE)},
        "conditions_not_met": [condition.value for condition in warm.failed],
        "temperatures_k": None if warm.temperatures is None else [json_number(each) for each in warm.temperatures],
        "growth": json_number(warm.growth),
        "apparent_activation_energy_j_per_mol": json_number(warm.energy),
        "misfit": json_number(warm.misfit),
        "agreement_p": json_number(warm.agreement_p),
    }


def _rig(rig: RigShare) -> Json:
    test = rig.test
    return {
        "path": test.source,
        "leak": {
            "rate_micron_per_min": json_interval(test.leak, MICRON_PER_MINUTE),
            "throughput_pa_m3_per_s": json_interval(test.throughput),
        },
        "smallest_detectable": {"rate_micron_per_min": json_number(test.fit.detection_limit, MICRON_PER_MINUTE)},
        "ultimate_micron": json_number(test.ultimate, MICRON),
        "volume_m3": json_interval(test.volume),
        "share_rate_micron_per_min": json_interval(rig.share, MICRON_PER_MINUTE),
        "whole_rate_micron_per_min": json_interval(rig.whole, MICRON_PER_MINUTE),
        "left_rate_micron_per_min": json_interval(rig.leak, MICRON_PER_MINUTE),
        "is_bounded_only": rig.is_bounded_only,
        "explains_all": rig.explains_all,
        "leaks_as_much": rig.leaks_as_much,
    }


def _load(load: GasLoad) -> Json:
    return {
        "rated_speed_m3_per_s": json_number(load.rated),
        "end_speed_m3_per_s": json_number(load.end_speed),
        "ultimate_micron": json_number(load.ultimate, MICRON),
        "bands": [
            {
                "high_micron": json_number(band.high, MICRON),
                "low_micron": json_number(band.low, MICRON),
                "seen_speed_m3_per_s": json_interval(band.seen),
                "expected_speed_m3_per_s": json_number(band.expected),
                "hose_conductance_m3_per_s": json_number(band.line),
                "time_s": json_number(band.time),
                "lost_s": json_number(band.lost),
                "lost_to_hose_s": json_number(band.lost_to_hose),
            }
            for band in load.bands
        ],
        "lost_to_hose_s": json_number(load.lost_to_hose),
        "pulled_pa_m3_per_s": json_interval(load.pulled),
        "given_pa_m3_per_s": json_interval(load.given),
        "gives_more_than_pulled": load.gives_more_than_pulled,
        "gives_less_than_pulled": load.gives_less_than_pulled,
        "water": [
            {
                "micron": json_number(w.pressure, MICRON),
                "temperature_k": json_number(w.temperature),
                "rate_kg_per_s": json_number(w.rate),
                "left_at_most_kg": json_number(w.during),
                "time_for_10_g_s": json_number(w.time),
                "power_w": json_number(w.power),
                "freezing_share": json_number(w.freezing),
            }
            for w in load.water
        ],
    }


def _tests(tests: ResidualTests) -> Json:
    return {
        "misfit": json_number(tests.misfit),
        "correlation": json_number(tests.correlation),
        "runs_p": json_number(tests.runs_p),
        "bend_p": json_number(tests.bend_p),
        "bend_micron": json_number(tests.bend, MICRON),
        "inflation": json_number(tests.inflation),
        "adequate": tests.adequate,
    }


def _water(water: WaterFit | None) -> Json | None:
    if water is None:
        return None
    return {
        "saturation_micron": json_interval(water.saturation, MICRON),
        "is_possible": water.is_possible,
        "is_crossed": water.is_crossed,
        "is_bending": water.is_bending,
        "misfit_growth": json_number(water.misfit_growth),
    }


def _description(description: Description | None) -> Json | None:
    if description is None:
        return None
    return {
        "rate_micron_per_min": json_interval(description.rate, MICRON_PER_MINUTE),
        "amplitude_micron": json_interval(description.amplitude, MICRON),
        "time_constant_s": json_interval(description.time_constant),
        "start_micron": json_number(description.start, MICRON),
        "plateau_micron": json_number(description.plateau, MICRON),
    }


def _system(system: System) -> Json:
    """Return what the user told us: every hold carries it, because its numbers rest on it."""
    return {
        "volume_m3": json_interval(system.volume),
        "volume_origin": system.volume_origin or None,
        "refrigerant": system.refrigerant,
        "charge_kg": json_number(system.charge),
        "ambient_k": json_number(system.ambient),
        "ambient_spread_k": json_number(system.ambient_spread),
        "allow": None if system.allow is None else system.allow.text,
        "gauge_accuracy": json_number(system.gauge_accuracy),
    }
