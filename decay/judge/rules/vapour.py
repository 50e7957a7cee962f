"""The finding that a thermal gauge reads vapours differently from air: a stated interval, never a correction."""

from __future__ import annotations

from decay import wording
from decay.interval import Interval
from decay.judge.case import Case
from decay.judge.finding import Cause, Finding, Level
from decay.judge.rules.rule import Answer
from decay.physics import gauge
from decay.quantities import MICRON


def vapour_reading(case: Case) -> Answer:
    """
    What it looks for
        A rise put down to outgassing or water: a gas other than air.
    Why it matters
        A thermal-conductivity gauge is calibrated for air. In pure water vapour it can show about twice the true
        pressure, in heavy gases less: the amounts are known to a factor of two. The answer corrects nothing secretly.
    When it is wrong
        A capacitance gauge reads all gases alike.
    Example log
        A damp hold on a thermal gauge: 400 micron shown may be 200 micron of vapour.
    What to do
        Take the amounts of outgassing as rough; the leak is air, for which the gauge is made.
    References
        General laboratory gauge manuals: true over indicated about 0.5 to 0.65 for water vapour, 0.7 for R-12, 1 for
        air, between 1e-2 and 1 mbar (mean values).
    """
    fit = case.fit
    if fit is None:
        return None
    is_water = case.cause is Cause.FREE_WATER
    if not (is_water or fit.is_outgassing_seen):
        return ()
    amount = fit.rise if is_water else fit.outgassing.value
    water = gauge.gas_factor("water")
    spans = [water] if water is not None else []
    words = [f"{_share(water, amount)} are true if it is water"] if water is not None else []
    if not is_water:
        factor, is_own = gauge.refrigerant_factor(case.system.refrigerant)
        spans.append(factor)
        stands_in = "" if is_own else " (factor of R-12 and R-744, none is published)"
        words.append(f"{_share(factor, amount)} if it is refrigerant out of oil{stands_in}")
        spans.append(Interval(1.0, 1.0, 1.0))
    summary = (
        f"A thermal gauge reads vapour differently from air: of the {wording.pressure_number(amount, 2)} "
        f"{wording.unit()} shown, {', '.join(words)}. Nothing here is corrected for it."
    )
    evidence = {
        "shown_micron": amount / MICRON,
        "true_low_micron": amount / MICRON * min(span.low for span in spans),
        "true_high_micron": amount / MICRON * max(span.high for span in spans),
    }
    return (Finding("K06", Level.CAVEAT, summary, evidence, (fit.start, fit.end)),)


def _share(factor: Interval, amount: float) -> str:
    low, high = (wording.pressure_number(end * amount, 2) for end in (factor.low, factor.high))
    return low if low == high else f"{low} to {high}"
