"""What a volume and a rate of rise mean, in words and for JSON: throughput in every unit, loss, time left, how sure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from decay import wording
from decay.constants import HOUR, LITRE, YEAR
from decay.impact.assess import OF_THROUGHPUT, Doubt, Impact
from decay.impact.hold_length import RestsOn, hold_to_show
from decay.interval import Interval
from decay.judge.answer import HoldReport, Judged
from decay.quantities import STANDARD_TEMPERATURE, THROUGHPUT_UNITS, throughput_in
from decay.report.document_numbers import Json, bracket, by_law, json_interval, json_number
from decay.wording import MICRON_PER_MINUTE, OUNCE_PER_YEAR
from decay.wording.lines import Block, Entry, finished, set_blocks

if TYPE_CHECKING:
    from decay.impact.known_volume import KnownVolume  # reads logs, with what that loads


@dataclass(frozen=True, slots=True)
class ThroughputScale:
    """One unit of throughput."""

    key: str  # name in the JSON document
    unit: str  # its name in `decay.quantities.THROUGHPUT_UNITS`
    label: str  # as it is printed
    is_standard: bool = False  # the gas counts at 0 °C, and not at its own temperature


SCALES = (
    ThroughputScale("pa_m3_per_s", "Pa m3/s", "Pa·m³/s"),
    ThroughputScale("micron_l_per_s", "micron L/s", "micron·L/s"),
    ThroughputScale("mbar_l_per_s", "mbar L/s", "mbar·L/s"),
    ThroughputScale("atm_cc_per_s", "atm cc/s", "atm·cc/s"),
    ThroughputScale("sccm", "sccm", "sccm", is_standard=True),
)
"""In the order in which they are told."""


def told_scales() -> tuple[ThroughputScale, ...]:
    """Return the scales that text names: the one in microns only where answers are given in them."""
    return tuple(scale for scale in SCALES if wording.unit() == "micron" or "micron" not in scale.unit)


def leak_on(impact: Impact, scale: ThroughputScale) -> Interval | None:
    """Return a leak's throughput on a scale; ``None`` where volume or temperature was not told. [unit of the scale]"""
    found = impact.standard_throughput if scale.is_standard else impact.throughput
    return None if found is None else found.scaled(1.0 / THROUGHPUT_UNITS[scale.unit])


def detectable_on(impact: Impact, scale: ThroughputScale) -> float | None:
    """Return the detection limit on a scale, as `leak_on`. [unit of the scale]"""
    limit = impact.detectable_throughput
    if limit is None:
        return None
    if not scale.is_standard:
        return limit / THROUGHPUT_UNITS[scale.unit]
    if impact.gas_temperature is None:
        return None
    return throughput_in(limit, scale.unit, STANDARD_TEMPERATURE, impact.gas_temperature)


def reference_temperature(impact: Impact, scale: ThroughputScale) -> float | None:
    """Return the temperature at which a scale counts the gas; ``None`` where it is the gas's own and not told. [K]"""
    return STANDARD_TEMPERATURE if scale.is_standard else impact.gas_temperature


RESTS_ON = {
    RestsOn.OWN_LIMIT: "this hold's own limit carried on to a longer one",
    RestsOn.FORMULA: "the formula for planning, with this gauge's noise and step and this outgassing",
}
"""What a hold length rests on, in words."""


def impact_entries(analysis: Judged, report: HoldReport) -> Iterable[Entry]:
    """Yield what one hold's leak, and the smallest that it could have shown, mean."""
    impact, system = report.impact, analysis.system
    if system.volume is not None:
        origin = f", {system.volume_origin}" if system.volume_origin else ""
        yield Entry("volume", f"{wording.with_interval(system.volume, LITRE, 'L')}{origin}")
    yield from _throughput(impact)
    if impact.loss is not None:
        yield Entry("laminar", _loss(impact.loss.laminar, system.charge))
        yield Entry("molecular", _loss(impact.loss.molecular, system.charge))
    for label, ends in (("charge at 70 %", impact.until_70_percent), ("charge gone", impact.until_empty)):
        if ends is not None:
            left = f"by laminar flow {_from_now(ends.laminar)}; by molecular flow {_from_now(ends.molecular)}"
            yield Entry(label, left)
    yield from _smallest(impact)
    yield from _allowed(analysis, report)
    if impact.spreads:
        told = "; ".join(f"{_named(name)} {_either_way(size)}" for name, size in impact.spreads if size > 0)
        yield Entry("uncertainty", told)
    if impact.dominant:
        yield Entry("largest", _widest(impact))
    said = {finding.summary for finding in analysis.verdict.caveats}
    is_volume_asked = any(finding.code == "K09" for finding in analysis.verdict.caveats)
    if impact.throughput is None and is_volume_asked:
        return  # why nothing is calculated is said once, and not under each hold
    for remark in (text for text in impact.remarks if text not in said):
        yield Entry("not calculated" if impact.throughput is None else "assumed", remark)


def _throughput(impact: Impact) -> Iterable[Entry]:
    if impact.throughput is None:
        return
    label = "throughput"
    for scale in told_scales():
        found = leak_on(impact, scale)
        if found is None:
            yield Entry(label, f'{scale.label} counts the gas at 0 °C and needs its temperature: --ambient "24 degC"')
            continue
        yield Entry(label, f"{wording.with_interval(found, 1.0, scale.label)} {_counted(impact, scale.is_standard)}")
        label = ""


def _counted(impact: Impact, is_standard: bool) -> str:
    if is_standard:
        return "at 0 °C"
    if impact.gas_temperature is None:
        return "at the gas's own temperature"
    return f"at {wording.celsius(impact.gas_temperature)}"


def _loss(loss: Interval, charge: float | None) -> str:
    text = (
        f"{wording.with_interval(loss, wording.GRAM_PER_YEAR, 'g/year')}; "
        f"{wording.with_interval(loss, wording.OUNCE_PER_YEAR, 'oz/year')}"
    )
    if charge is None:
        return text
    return f"{text}; {wording.with_interval(loss, charge / YEAR / 100.0, '% of the charge a year')}"


def _from_now(time: Interval) -> str:
    """Return a time from now in words; its ends answer to the largest and the smallest leak of the interval."""
    if math.isinf(time.low):
        return "never"
    if time.low <= 0:
        return "no time can be given"
    if math.isinf(time.high):
        return f"in {wording.duration(time.low)} at the soonest"
    return f"in {wording.durations(time.low, time.high)}"


def _smallest(impact: Impact) -> Iterable[Entry]:
    if impact.detectable_throughput is None or not math.isfinite(impact.detectable_throughput):
        return
    shown = [(scale.label, detectable_on(impact, scale)) for scale in told_scales()]
    text = ", ".join(f"{wording.up(value)} {label}" for label, value in shown if value is not None)
    if impact.detectable_loss is not None:
        low, high = (wording.up(x / wording.OUNCE_PER_YEAR) for x in sorted(impact.detectable_loss))
        text += f"; {wording.between(*impact.detectable_loss)} ({low} to {high} oz/year), by flow regime"
    yield Entry("smallest", f"{text}: the smallest leak this hold could show")


def _allowed(analysis: Judged, report: HoldReport) -> Iterable[Entry]:
    allow, impact = analysis.system.allow, report.impact
    if impact.allowed_rise is None or allow is None:
        return
    rise = wording.rate(impact.allowed_rise)
    yield Entry("allowed", rise if rise == allow.text else f"{allow.text}, which is {rise} here")
    wanted = hold_to_show(report.fit, analysis.log, impact.allowed_rise, impact.gas_temperature)
    if wanted.rests_on is RestsOn.THIS_HOLD:
        text = "this one was long enough to show the allowed leak"
    elif wanted.rests_on is RestsOn.TEMPERATURE:
        text = (
            f"none would show the allowed leak: a drift of {wording.number(wanted.drift * HOUR, 2)} K in an "
            f"hour, {'as logged' if analysis.log.temperature is not None else 'which nobody notices'}, feigns as much; "
            "keep the temperature steadier and log it, or hold at a lower pressure"
        )
    elif math.isinf(wanted.length):
        text = "none of a week would show the allowed leak, with this gauge and this outgassing"
    else:
        text = f"about {wording.duration(wanted.length)} to show the allowed leak, by {RESTS_ON[wanted.rests_on]}"
    yield Entry("hold needed", text)


def _either_way(spread: float) -> str:
    if math.isinf(spread):
        return "open, for its interval reaches zero or has no upper end"
    if spread >= 0.5:
        return f"a factor of {wording.number(math.exp(spread), 2)}"
    return f"{wording.number(100 * spread, 2)} %"


def _named(uncertainty: Doubt) -> str:
    """Return what an uncertainty is called in words."""
    return "flow regime" if uncertainty is Doubt.FLOW else uncertainty.value


def _widest(impact: Impact) -> str:
    """Return the largest uncertainty; where it is the flow regime, also that of the throughput, which has none."""
    others = [(size, name) for name, size in impact.spreads if name in OF_THROUGHPUT]
    if impact.dominant is None:
        return ""
    if impact.dominant is not Doubt.FLOW or not others:
        return _named(impact.dominant)
    return f"flow regime, for the loss; {max(others)[1].value}, for the throughput"


def impact_document(analysis: Judged, report: HoldReport) -> Json:
    """Return what one hold's leak, and the smallest that it could have shown, mean."""
    impact, charge = report.impact, analysis.system.charge
    return {
        "until_70_percent_s": bracket(impact.until_70_percent),
        "until_empty_s": bracket(impact.until_empty),
        "allowed_rate_micron_per_min": json_number(impact.allowed_rise, MICRON_PER_MINUTE),
        "hold_to_show_allowed": _hold_to_show_allowed(analysis, report),
        "throughputs": _throughputs(impact),
        "refrigerant_loss_oz_per_year": bracket(impact.loss, OUNCE_PER_YEAR),
        "smallest_detectable_oz_per_year": by_law(impact.detectable_loss, OUNCE_PER_YEAR),
        "share_of_charge_per_year": None if charge is None else bracket(impact.loss, charge / YEAR),
        "dominant_uncertainty": impact.dominant,
        "uncertainties": {name.replace(" ", "_"): json_number(size) for name, size in impact.spreads},
        "remarks": list(impact.remarks),
    }


def _throughputs(impact: Impact) -> Json | None:
    if impact.throughput is None:
        return None
    return {
        scale.key: {
            "reference_temperature_k": json_number(reference_temperature(impact, scale)),
            "leak": json_interval(leak_on(impact, scale)),
            "smallest_detectable": json_number(detectable_on(impact, scale)),
        }
        for scale in SCALES
    }


def _hold_to_show_allowed(analysis: Judged, report: HoldReport) -> Json | None:
    leak = report.impact.allowed_rise
    if leak is None:
        return None
    wanted = hold_to_show(report.fit, analysis.log, leak, report.impact.gas_temperature)
    return {"length_s": json_number(wanted.length), "rests_on": wanted.rests_on}


VOLUME_VERSION = 1


def volume_text(known: KnownVolume, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return a volume in words."""
    width = max(width, 40)
    blocks = []
    if known.pieces:
        blocks.append(Block("Counted", [Entry("-", f"{_litres(size)}  {name}") for name, size in known.pieces]))
    rig = {True: "counted", False: "none to count", None: "not known, and not counted"}[known.is_rig_counted]
    how = [
        Entry("how known", f"{known.origin}: {known.basis}"),
        Entry("rig", rig),
        Entry("paste", known.option),
    ]
    blocks.append(Block("This volume", how))
    if known.remarks:
        blocks.append(Block("Keep in mind", [Entry("-", text) for text in known.remarks]))
    lines = [_volume_headline(known), "", *set_blocks(blocks, width)]
    return finished(lines[:-1], ascii_only=ascii_only)


def volume_document(known: KnownVolume) -> Json:
    """Return a volume as a JSON document; a bound is never given as a volume."""
    return {
        "schema_version": VOLUME_VERSION,
        "origin": known.origin,
        "volume_l": json_interval(known.volume, LITRE),
        "upper_bound_l": json_number(known.bound, LITRE),
        "pieces": [{"name": name, "volume_l": json_interval(size, LITRE)} for name, size in known.pieces],
        "is_rig_counted": known.is_rig_counted,
        "basis": known.basis,
        "option": known.option,
        "remarks": list(known.remarks),
    }


def _volume_headline(known: KnownVolume) -> str:
    if known.volume is None:
        return f"At most {known.bound_in_litres} L, an upper bound from the pull"
    return f"{_litres(known.volume)}, {known.origin}"


def _litres(volume: Interval) -> str:
    return wording.with_interval(volume, LITRE, "L")
