"""The part of the JSON document that says what one hold's leak means, in every unit that reports speak."""

from __future__ import annotations

from decay.analysis import Analysis
from decay.impact.hold_length import hold_to_show
from decay.impact.impact import Impact
from decay.judge.answer import HoldReport
from decay.report.document_numbers import Json, bracket, interval, number
from decay.report.throughputs import SCALES, detectable_on, leak_on, reference_temperature
from decay.wording import MICRON_PER_MINUTE, OUNCE_PER_YEAR, YEAR


def impact_document(analysis: Analysis, report: HoldReport) -> Json:
    """Return what one hold's leak, and the smallest that it could have shown, mean.

    Parameters
    ----------
    analysis : Analysis
        The answer about one log.
    report : HoldReport
        One of its holds.

    Returns
    -------
    dict
        Strict JSON; unknown and unbounded as ``None``.
    """
    impact, charge = report.impact, analysis.system.charge
    allowed, detectable = impact.allowed_rise, impact.detectable_loss
    return {
        "until_70_percent_s": bracket(impact.until_70_percent),
        "until_empty_s": bracket(impact.until_empty),
        "allowed_rate_micron_per_min": None if allowed is None else number(allowed / MICRON_PER_MINUTE),
        "hold_to_show_allowed": _hold_to_show_allowed(analysis, report),
        "throughputs": _throughputs(impact),
        "refrigerant_loss_oz_per_year": bracket(impact.loss, OUNCE_PER_YEAR),
        "smallest_detectable_oz_per_year": None
        if detectable is None
        else {law: number(x / OUNCE_PER_YEAR) for law, x in zip(("laminar", "molecular"), detectable, strict=True)},
        "share_of_charge_per_year": None if charge is None else bracket(impact.loss, charge / YEAR),
        "dominant_uncertainty": impact.dominant or None,
        "uncertainties": {name.replace(" ", "_"): number(size) for name, size in impact.spreads},
        "remarks": list(impact.remarks),
    }


def _throughputs(impact: Impact) -> Json | None:
    if impact.throughput is None:
        return None
    return {
        scale.key: {
            "reference_temperature_k": number(reference_temperature(impact, scale)),
            "leak": interval(leak_on(impact, scale)),
            "smallest_detectable": number(detectable_on(impact, scale)),
        }
        for scale in SCALES
    }


def _hold_to_show_allowed(analysis: Analysis, report: HoldReport) -> Json | None:
    leak = report.impact.allowed_rise
    if leak is None:
        return None
    wanted = hold_to_show(report.fit, analysis.log, leak, report.impact.gas_temperature)
    return {"length_s": number(wanted.length), "rests_on": wanted.rests_on}
