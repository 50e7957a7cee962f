"""The plan of a job as one JSON document: numbers in the unit their name says, null where nothing is known."""

from __future__ import annotations

import math

from decay.impact.impact import Impact
from decay.plan.hold_lengths import HoldCourse
from decay.plan.make import Plan
from decay.quantities import MICRON
from decay.report.document_numbers import Json, interval, number
from decay.report.plan_text import CAUTIONS, rests_on
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE

SCHEMA_VERSION = 1


def plan_document(plan: Plan) -> Json:
    """Return the plan as a document.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict
        Ready for `json.dumps`; a time that never comes is null, with ``is_reachable`` or ``is_told`` false.
    """
    intent = plan.intent
    system, criterion = intent.system, intent.criterion
    return {
        "schema_version": SCHEMA_VERSION,
        "job": {
            "volume_l": interval(system.volume, 1e-3),
            "refrigerant": system.refrigerant,
            "charge_g": _scaled(system.charge, 1e-3),
            "ambient_k": number(system.ambient),
            "allow": None if system.allow is None else system.allow.text,
            "criterion": criterion.name,
            "pump_l_per_s": None if intent.equipment is None else number(intent.equipment.speed * 1e3),
            "pump_ultimate_micron": None if intent.equipment is None else number(intent.equipment.ultimate / MICRON),
            "hoses": [
                {"bore_mm": number(hose.bore * 1e3), "length_m": number(hose.length)}
                for hose in (() if intent.equipment is None else intent.equipment.hoses)
            ],
            "gauge": {"noise_micron": number(intent.gauge.noise / MICRON),
                      "step_micron": number(intent.gauge.step / MICRON), "interval_s": number(intent.gauge.interval)},
            "damp": {"rise_micron": number(intent.damp.rise / MICRON),
                     "time_constant_s": number(intent.damp.time_constant)},
        },
        "pull": None if plan.pull is None else {
            "target_micron": number(plan.target / MICRON),
            "is_reachable": math.isfinite(plan.pull.to_target),
            "dry_s": number(plan.pull.to_target),
            "dry_without_hoses_s": number(plan.pull.without_hoses),
            "hose_conductance_l_per_s": number(plan.pull.hose_conductance * 1e3),
            "speed_left_at_target": number(plan.pull.speed_at_target),
        },
        "water": None if plan.water is None else {
            "mass_g": number(plan.water.mass * 1e3),
            "plateau_micron": number(plan.water.plateau / MICRON),
            "least_by_pump_s": number(plan.water.by_pump),
            "least_by_heat_s": number(plan.water.by_heat),
            "heat_j": number(plan.water.heat),
            "power_w": number(plan.water.power),
            "frozen_share_without_heat": number(plan.water.frozen_share),
        },
        "warmth": None if plan.warmth is None else {
            "is_warm_enough": plan.warmth.is_warm_enough,
            "is_ice_likely": plan.warmth.is_ice_likely,
            "saturation_micron": number(plan.warmth.saturation / MICRON),
            "coldest_spot_k": number(plan.warmth.coldest_spot),
            "criterion_asks_above_k": number(plan.warmth.asked),
        },
        "hold": {
            "must_tell_micron_per_min": _scaled(plan.matters, MICRON_PER_MINUTE),
            "dry": _course(plan.dry, plan.dry_meaning),
            "damp": _course(plan.damp, plan.damp_meaning),
            "dry_by_slope_formula_s": number(plan.by_formula),
        },
        "criterion_line": None if plan.line_rate is None else {
            "lets_pass_micron_per_min": _scaled(plan.line_rate, MICRON_PER_MINUTE),
            "lets_pass_g_per_year": _losses(plan.line_meaning),
        },
        "sweeps": {"asked": plan.sweeps.asked, "left_in_vapour_space_after_each": number(plan.sweeps.dilution)},
        "rests_on": rests_on(plan),
        "cautions": list(CAUTIONS),
    }


def _course(course: HoldCourse, meaning: Impact) -> Json:
    return {
        "is_told": None if course.needed is None else math.isfinite(course.needed),
        "needed_s": number(course.needed),
        "drift_feigns_micron_per_min": _scaled(course.floor, MICRON_PER_MINUTE),
        "customary": {
            "length_s": number(course.customary),
            "tells_micron_per_min": _scaled(course.told_by(course.customary), MICRON_PER_MINUTE),
            "tells_g_per_year": _losses(meaning),
        },
        "lengths_s": [number(float(t)) for t in course.duration],
        "tells_micron_per_min": [_scaled(float(rate), MICRON_PER_MINUTE) for rate in course.told],
    }


def _losses(meaning: Impact | None) -> Json | None:
    if meaning is None or meaning.detectable_loss is None:
        return None
    laminar, molecular = meaning.detectable_loss
    return {"laminar": number(laminar / GRAM_PER_YEAR), "molecular": number(molecular / GRAM_PER_YEAR)}


def _scaled(x: float | None, unit: float) -> float | None:
    return None if x is None else number(x / unit)
