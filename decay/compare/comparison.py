"""Before and after: the difference of leak and outgassing between two holds of one system, and what it proves."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from decay.analysis import Analysis
from decay.errors import FitError
from decay.fit.difference import difference
from decay.fit.results import HoldFit
from decay.interval import Interval
from decay.judge import signs
from decay.system import AllowKind

SAME_SHARE = 1.0 / 3.0
"""Change of the leak, as a share of what it was, that still counts as the same: our choice, no source. [-]"""
SAME_OUTGASSING = 0.2
"""The same for the part that levels off. [-]"""


class Change(StrEnum):
    """How the second hold stands against the first."""

    BETTER = "better"
    SAME = "same"
    WORSE = "worse"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class Quantity:
    """One quantity before and after.

    Parameters
    ----------
    before, after : Interval
        The two estimates. [Pa/s for the leak, Pa for the outgassing]
    difference : Interval
        After minus before; negative is less. [same]
    same_within : float
        Change up to which both count as the same. [same]
    change : Change
        What the interval of the difference proves.
    """

    before: Interval
    after: Interval
    difference: Interval
    same_within: float
    change: Change


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two holds of one system.

    Parameters
    ----------
    before, after : Analysis
        The two logs.
    leak : Quantity
        The steady rise. [Pa/s]
    outgassing : Quantity
        The part that levels off, over ``span``. [Pa]
    span : float
        Length of the shorter hold: the time over which both are compared. [s]
    rise : tuple of float
        Whole rise of either hold over that time, without the first seconds. [Pa]
    change : Change
        The answer.
    because : str
        Why, in a sentence.
    remarks : tuple of str
        What the comparison rests on.
    """

    before: Analysis
    after: Analysis
    leak: Quantity
    outgassing: Quantity
    span: float
    rise: tuple[float, float]
    change: Change
    because: str
    remarks: tuple[str, ...]


def compare(before: Analysis, after: Analysis) -> Comparison:
    """Hold two logs of one system against each other.

    Parameters
    ----------
    before, after : Analysis
        As `decay.analyze` returned them, for the same system.

    Returns
    -------
    Comparison
        The two differences with their intervals, and what they prove.

    Raises
    ------
    FitError
        If either log has no usable hold.

    Notes
    -----
    The two holds were measured apart, so their errors are independent, and the interval of the difference comes from
    both intervals in quadrature (`decay.fit.difference`). The leak decides: less gas from damp walls must not hide a
    leak that grew. Only where the leak is the same does the outgassing decide.
    """
    first, second = _fit(before), _fit(after)
    leak_before, leak_after = before.basis.leak, after.basis.leak
    if leak_before is None or leak_after is None:  # both have a hold, and so a steady rise
        raise FitError("there is no steady rise to compare")
    allow = after.system.allow
    # Twice the decision threshold is about what a hold is sure to show (Currie 1968): less is no change to speak of.
    within = max(SAME_SHARE * leak_before.value, 2.0 * first.decision_threshold, 2.0 * second.decision_threshold)
    if allow is not None and allow.kind is AllowKind.RISE:
        within = allow.value
    leak = _quantity(leak_before, leak_after, within)
    span = min(first.duration, second.duration)
    gas_before, gas_after = _levelling(first, leak_before, span), _levelling(second, leak_after, span)
    noise = 3.0 * float(np.hypot(first.noise, second.noise))
    outgassing = _quantity(gas_before, gas_after, max(SAME_OUTGASSING * gas_before.value, noise))
    change, because = _answer(leak, outgassing)
    if signs.reads_zero(first) or signs.reads_zero(second):
        change, because = Change.CANNOT_TELL, "the gauge reads zero in one of the holds: check it first"
    return Comparison(
        before=before,
        after=after,
        leak=leak,
        outgassing=outgassing,
        span=span,
        rise=(_rise(first, span), _rise(second, span)),
        change=change,
        because=because,
        remarks=tuple(_remarks(before, after, first, second)),
    )


def _fit(analysis: Analysis) -> HoldFit:
    if analysis.decisive is None:
        raise FitError(
            f"{analysis.log.source}: the log shows no hold that can be judged, so there is nothing to compare.\n"
            "       If the hold is there, point at it with --hold-before or --hold-after START..END."
        )
    return analysis.holds[analysis.decisive].fit


def _quantity(before: Interval, after: Interval, within: float) -> Quantity:
    changed = difference(after, before)
    if changed.high < 0.0:
        change = Change.BETTER
    elif changed.low > 0.0:
        change = Change.WORSE
    elif -within <= changed.low and changed.high <= within:
        change = Change.SAME
    else:
        change = Change.CANNOT_TELL
    return Quantity(before, after, changed, within, change)


def _levelling(fit: HoldFit, leak: Interval, span: float) -> Interval:
    """Return what the first `span` seconds rise beyond the steady part, net of gas taken up again. [Pa]"""
    rise = _rise(fit, span)
    value, low, high = (max(0.0, rise - rate * span) for rate in (leak.value, leak.high, leak.low))
    return Interval(value, low, high, leak.level)


def _rise(fit: HoldFit, span: float) -> float:
    curve = fit.curve
    return float(np.interp(fit.start + span, curve.time, curve.model) - curve.model[0])


def _answer(leak: Quantity, outgassing: Quantity) -> tuple[Change, str]:
    if leak.change is Change.BETTER:
        return Change.BETTER, "the steady rise is smaller than it was"
    if leak.change is Change.WORSE:
        return Change.WORSE, "the steady rise is larger than it was"
    if leak.change is Change.CANNOT_TELL:
        return Change.CANNOT_TELL, "the steady rise may be smaller, the same or larger: the holds do not settle it"
    words = {
        Change.BETTER: "the steady rise is the same, and less gas comes off the walls",
        Change.WORSE: "the steady rise is the same, and more gas comes off the walls",
        Change.SAME: "the steady rise and the gas off the walls are the same",
    }
    if outgassing.change in words:
        return outgassing.change, words[outgassing.change]
    return Change.SAME, "the steady rise is the same; whether the gas off the walls changed cannot be told"


def _remarks(before: Analysis, after: Analysis, first: HoldFit, second: HoldFit) -> list[str]:
    remarks = [
        "The two holds count as independent; the ends of their intervals are combined in quadrature.",
        "Both holds count as made on the same system with the same rig, gauge and valve positions.",
    ]
    if max(first.duration, second.duration) > 1.5 * min(first.duration, second.duration):
        remarks.append("The holds differ in length: outgassing is compared over the time of the shorter one.")
    for name, analysis in (("before", before), ("after", after)):
        if analysis.joint is not None and analysis.joint.is_homogeneous:
            remarks.append(f"The steady rise {name} is that of {len(analysis.joint.each)} holds together.")
    for name, fit in (("before", first), ("after", second)):
        if not fit.tests.adequate:
            remarks.append(f"The model does not describe the hold {name}; its interval was widened.")
    return remarks
