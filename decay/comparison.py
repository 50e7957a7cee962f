"""Two holds of one system held against each other: the difference, what it proves, and what warmth makes of it.

Leak and dryness are two answers. The interval of a difference reaches as far as both intervals allow, for their ends
are what slow outgassing may feign; "the same" has to be proved as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from decay.errors import FitError
from decay.fit.results import HoldFit
from decay.interval import Interval, not_below_zero
from decay.judge import signs
from decay.judge.about_hold import temperature_during
from decay.judge.answer import Judged
from decay.physics.arrhenius import activation_energy, arrhenius_factor
from decay.quantities import MICRON
from decay.several.warm import DIFFERENCE_KNOWN, NOTICED
from decay.several.warm_sources import ENERGIES

LEAKLIKE = 15e3
"""Apparent activation energy below which warmth explains little of a rise: a leak has about none. [J/mol]"""


class Due(StrEnum):
    """What the difference of two rises at two temperatures is due to."""

    WARMTH = "warmth"          # outgassing grows so with temperature
    NOT_WARMTH = "not warmth"  # the rise hardly followed the temperature: a leak, or sources that ran dry
    MORE = "more"              # it changed by more than warmth can make


@dataclass(frozen=True, slots=True)
class Warming:
    """Two rises at two temperatures."""

    # The two temperatures [K]
    before: float
    after: float
    growth: float  # second rise over first, both over the same stretch [-]
    expected: tuple[float, float]  # growth of outgassing alone: the least and the most [-]
    energy: float  # apparent activation energy of the growth [J/mol]
    due: Due  # what the difference is due to


def warmth_of(before: float | None, after: float | None, rises: tuple[float, float]) -> Warming | None:
    """Return what a difference of temperature makes of two rises.

    Parameters
    ----------
    before, after : float or None
        The two temperatures. [K]
    rises : tuple of float
        The two rises over the same stretch. [Pa]

    Returns
    -------
    Warming or None
        ``None`` where a temperature is not known, they hardly differ, or one hold did not rise.
    """
    if before is None or after is None or abs(after - before) < NOTICED or min(rises) <= 0.0:
        return None
    growth = rises[1] / rises[0]
    energy = activation_energy(growth, before, after)
    warmer = DIFFERENCE_KNOWN if after > before else -DIFFERENCE_KNOWN
    ends = sorted((
        arrhenius_factor(ENERGIES[0], before, after - warmer), arrhenius_factor(ENERGIES[1], before, after + warmer)
    ))
    if energy < LEAKLIKE:
        due = Due.NOT_WARMTH if growth > 0.5 else Due.MORE
    else:
        due = Due.WARMTH if energy <= ENERGIES[1] else Due.MORE
    return Warming(before, after, growth, (ends[0], ends[1]), energy, due)


SAME_SHARE = 1.0 / 3.0
"""Change of the leak, as a share of what it was, that still counts as the same: our choice, no source. [-]"""
SAME_RATE = 0.33 * MICRON / 60.0
"""Change of the leak that counts as the same however small it was: our choice, a tenth of the steady rise that a line
of 300 to 500 micron in an hour lets pass. [Pa/s]"""
SAME_OUTGASSING = 0.2
"""Change of the part that levels off, as a share of what it was, that still counts as the same: our choice. [-]"""


class Change(StrEnum):
    """How a quantity of the second hold stands against that of the first: less is better."""

    BETTER = "better"
    SAME = "same"
    WORSE = "worse"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class BeforeAfter:
    """One quantity before and after."""

    # The two estimates [Pa/s for the leak, Pa for the outgassing]
    before: Interval
    after: Interval
    difference: Interval  # after minus before; negative is less [same]
    same_within: float  # change up to which both count as the same [same]
    change: Change  # what the interval of the difference proves


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two holds of one system."""

    # The two logs
    before: Judged
    after: Judged
    leak: BeforeAfter  # the steady rise [Pa/s]
    outgassing: BeforeAfter  # the part that levels off, from ``begin`` to ``span`` [Pa]
    # Time since the valve closed from which, and until which, both are compared: the first seconds are left out, and
    # the shorter hold ends it [s]
    begin: float
    span: float
    rise: tuple[float, float]  # whole rise of either hold over that time, without the first seconds [Pa]
    reads_zero: bool  # the gauge reads zero in one of the holds: then neither answer can be told [-]
    remarks: tuple[str, ...]  # what the comparison rests on
    # What a difference of temperature makes of the two rises; ``None`` where there is none or it is not known
    warmth: Warming | None = None

    @property
    def is_same_hold(self) -> bool:
        """Whether both are one hold of one log, which says nothing of a change."""
        (one, ours), (other, theirs) = ((analysis.log, _fit(analysis)) for analysis in (self.before, self.after))
        return ((ours.start, ours.end) == (theirs.start, theirs.end) and np.array_equal(one.time, other.time)
                and np.array_equal(one.pressure, other.pressure, equal_nan=True))


def compare(before: Judged, after: Judged) -> Comparison:
    """Hold two logs of one system against each other.

    Parameters
    ----------
    before, after : Judged
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
    The interval of the difference reaches from the least that both intervals allow to the most. Their ends are less the
    errors of two measurements, which would combine in quadrature, than what slow outgassing may feign, and that errs
    the same way in both. Leak and dryness are answered apart: less gas from damp walls
    says nothing of a leak. "Same" is an answer too, and has to be proved: the whole interval of the difference lies
    within what counts as the same. An interval that reaches further cannot tell.
    """
    first, second = _fit(before), _fit(after)
    leak_before, leak_after = before.basis.leak, after.basis.leak
    if leak_before is None or leak_after is None:  # both have a hold, and so a steady rise
        raise FitError("there is no steady rise to compare")
    reads_zero = signs.reads_zero(first) or signs.reads_zero(second)
    allowed = None if after.basis.impact is None else after.basis.impact.allowed_rise
    within = max(SAME_SHARE * leak_before.value, SAME_RATE) if allowed is None else allowed
    leak = _quantity(leak_before, leak_after, within, reads_zero)
    # Over the same stretch since the valves closed: what comes in the first seconds belongs to neither.
    begin = max(first.fit_from - first.start, second.fit_from - second.start)
    span = min(first.duration, second.duration)
    gas_before, gas_after = _levelling(first, leak_before, begin, span), _levelling(second, leak_after, begin, span)
    noise = 3.0 * float(np.hypot(first.noise, second.noise))
    outgassing = _quantity(gas_before, gas_after, max(SAME_OUTGASSING * gas_before.value, noise), reads_zero)
    rises = (_rise(first, begin, span), _rise(second, begin, span))
    cold = temperature_during(before.log, first, before.system)
    warm = temperature_during(after.log, second, after.system)
    return Comparison(
        before=before,
        after=after,
        leak=leak,
        outgassing=outgassing,
        begin=begin,
        span=span,
        rise=rises,
        reads_zero=reads_zero,
        remarks=tuple(_remarks(before, after, first, second)),
        warmth=warmth_of(cold, warm, rises),
    )


def _fit(analysis: Judged) -> HoldFit:
    if analysis.decisive is None:
        raise FitError(
            f"{analysis.log.source}: the log shows no hold that can be judged, so there is nothing to compare.\n"
            "       If the hold is there, point at it with --hold-before or --hold-after START..END."
        )
    return analysis.holds[analysis.decisive].fit


def _quantity(before: Interval, after: Interval, within: float, reads_zero: bool) -> BeforeAfter:
    level = min(before.level, after.level)
    changed = Interval(after.value - before.value, after.low - before.high, after.high - before.low, level)
    if reads_zero:
        change = Change.CANNOT_TELL
    elif changed.high < 0.0:
        change = Change.BETTER
    elif changed.low > 0.0:
        change = Change.WORSE
    elif -within <= changed.low and changed.high <= within:
        change = Change.SAME
    else:
        change = Change.CANNOT_TELL
    return BeforeAfter(before, after, changed, within, change)


def _levelling(fit: HoldFit, leak: Interval, begin: float, span: float) -> Interval:
    """Return what rises beyond the steady part within a stretch, net of gas taken up again. [Pa]"""
    rise, error, length = _rise(fit, begin, span), 2.0 * fit.noise, span - begin
    value, low, high = rise - leak.value * length, rise - leak.high * length - error, rise - leak.low * length + error
    return not_below_zero(Interval(value, low, high, leak.level))


def _rise(fit: HoldFit, begin: float, span: float) -> float:
    first, last = np.interp([fit.start + begin, fit.start + span], fit.curve.time, fit.curve.model)
    return float(last - first)


def _remarks(before: Judged, after: Judged, first: HoldFit, second: HoldFit) -> list[str]:
    remarks = [
        "The interval of the difference allows for slow outgassing in either hold.",
        "Assumed: same system, rig, gauge and valve positions in both holds.",
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
