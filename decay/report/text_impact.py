"""The part of the summary that says what a hold's leak means: throughput, loss, time left, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Iterable

from decay import wording
from decay.analysis import Analysis
from decay.impact.hold_length import hold_to_show
from decay.impact.impact import Bracket, Impact
from decay.interval import Interval
from decay.judge.answer import HoldReport
from decay.report.throughputs import SCALES, detectable_on, leak_on
from decay.wording.lines import Entry

RESTS_ON = {
    "its own limit": "this hold's own limit carried on to a longer one",
    "the formula": "the formula for planning, with this gauge's noise and step and this outgassing",
}
"""What a hold length rests on, in words."""


def impact_entries(analysis: Analysis, report: HoldReport) -> Iterable[Entry]:
    """Yield what one hold's leak, and the smallest that it could have shown, mean.

    Parameters
    ----------
    analysis : Analysis
        The answer about one log.
    report : HoldReport
        One of its holds.

    Yields
    ------
    Entry
        In reading order.
    """
    impact, system = report.impact, analysis.system
    if system.volume is not None:
        origin = f", {system.volume_origin}" if system.volume_origin else ""
        yield Entry("volume", f"{wording.with_interval(system.volume, 1e-3, 'L')}{origin}")
    yield from _throughput(impact)
    if impact.loss is not None:
        yield Entry("laminar", _loss(impact.loss.laminar, system.charge))
        yield Entry("molecular", _loss(impact.loss.molecular, system.charge))
    for label, bracket in (("charge at 70 %", impact.until_70_percent), ("charge gone", impact.until_empty)):
        if bracket is not None:
            yield Entry(label, _time_left(bracket))
    yield from _smallest(impact)
    yield from _allowed(analysis, report)
    if impact.spreads:
        told = "; ".join(f"{_named(name)} {_either_way(size)}" for name, size in impact.spreads if size > 0)
        yield Entry("uncertainty", told)
    if impact.dominant:
        yield Entry("largest", _widest(impact))
    for remark in impact.remarks:
        yield Entry("not calculated" if impact.throughput is None else "assumed", remark)


def _throughput(impact: Impact) -> Iterable[Entry]:
    if impact.throughput is None:
        return
    label = "throughput"
    for scale in SCALES:
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
    return f"at {wording.number(impact.gas_temperature - 273.15)} °C"


def _loss(loss: Interval, charge: float | None) -> str:
    text = (
        f"{wording.with_interval(loss, wording.GRAM_PER_YEAR, 'g/year')}; "
        f"{wording.with_interval(loss, wording.OUNCE_PER_YEAR, 'oz/year')}"
    )
    if charge is None:
        return text
    return f"{text}; {wording.with_interval(loss, charge / wording.YEAR / 100.0, '% of the charge a year')}"


def _time_left(times: Bracket) -> str:
    return f"by laminar flow {_from_now(times.laminar)}; by molecular flow {_from_now(times.molecular)}"


def _from_now(time: Interval) -> str:
    """Return a time from now in words; its ends answer to the largest and the smallest leak of the interval."""
    if math.isinf(time.low):
        return "never"
    if time.low <= 0:
        return "no time can be told"
    if math.isinf(time.high):
        return f"in {wording.duration(time.low)} at the soonest"
    soonest, latest = wording.duration(time.low), wording.duration(time.high)
    return f"in {soonest}" if soonest == latest else f"in {soonest} to {latest}"


def _smallest(impact: Impact) -> Iterable[Entry]:
    if impact.detectable_throughput is None or not math.isfinite(impact.detectable_throughput):
        return
    shown = [(scale.label, detectable_on(impact, scale)) for scale in SCALES]
    text = ", ".join(f"{wording.number(value, 2)} {label}" for label, value in shown if value is not None)
    if impact.detectable_loss is not None:
        low, high = (wording.number(x / wording.OUNCE_PER_YEAR, 2) for x in sorted(impact.detectable_loss))
        text += f"; {wording.between(*impact.detectable_loss)} ({low} to {high} oz/year), by flow regime"
    yield Entry("smallest", f"{text}: the smallest leak this hold could show")


def _allowed(analysis: Analysis, report: HoldReport) -> Iterable[Entry]:
    allow, impact = analysis.system.allow, report.impact
    if impact.allowed_rise is None or allow is None:
        return
    yield Entry("allowed", f"{allow.text}, which is {wording.rate(impact.allowed_rise)} here")
    wanted = hold_to_show(report.fit, analysis.log, impact.allowed_rise, impact.gas_temperature)
    if wanted.rests_on == "this hold":
        text = "this one was long enough to show the allowed leak"
    elif wanted.rests_on == "temperature":
        text = (
            f"none would show the allowed leak: a drift of {wording.number(wanted.drift * wording.HOUR, 2)} K in an "
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


def _named(uncertainty: str) -> str:
    """Return what an uncertainty is called in words."""
    return "flow regime" if uncertainty == "law of flow" else uncertainty


def _widest(impact: Impact) -> str:
    """Return the largest uncertainty; where it is the law of flow, also that of the throughput, which has none."""
    others = [(size, name) for name, size in impact.spreads if name not in ("law of flow", "temperature")]
    if impact.dominant != "law of flow" or not others:
        return _named(impact.dominant)
    return f"flow regime, for the loss; {max(others)[1]}, for the throughput"
