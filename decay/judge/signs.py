"""What one hold's fit shows, sign by sign: the questions that both the cause and the findings ask."""

from __future__ import annotations

import math

from decay.fit.hold import is_sudden
from decay.fit.results import HoldFit, PumpdownFit

# Of independent residuals, one hold in a thousand bends so much by chance.
BEND_P = 1e-3
# A coarse step may round so large a share of deep readings down to zero.
FEW_ZEROS = 0.02
# Fewer equal readings than this happen in a short or sparse log of a quiet system.
FEWEST_EQUAL = 30


def noise_band(fit: HoldFit) -> float:
    """Return the rise that noise and the gauge's step alone can make between two readings. [Pa]

    Three standard deviations of the difference of two readings, each with its noise and a rounding of step²/12.
    """
    return 3.0 * math.sqrt(2.0 * (fit.noise**2 + fit.step**2 / 12.0))


def rise(fit: HoldFit) -> float:
    """Return the rise of the hold without the seconds in which rig and system equalise. [Pa]

    Leak and outgassing as fitted, and whatever the last readings stand above or below the fit: a pressure that falls
    cannot be fitted, and shows as a negative rise of about half its fall.
    """
    curve = fit.curve
    fitted = float(curve.leak[-1] + curve.outgassing[-1])
    return fitted + fit.end_pressure - float(curve.model[-1])


def is_within_noise(fit: HoldFit) -> bool:
    """Tell whether noise and step alone could make the whole rise."""
    return abs(rise(fit)) <= noise_band(fit) and not fit.is_steady_rise_seen and not fit.is_outgassing_seen


def is_negligible(fit: HoldFit) -> bool:
    """Tell whether the whole rise, taken as steady, would still not count as seen; never where the model fails."""
    if not fit.tests.adequate or fit.is_steady_rise_seen:
        return False
    return 0.0 <= rise(fit) <= fit.decision_threshold * fit.duration


def falls(fit: HoldFit) -> bool:
    """Tell whether the pressure fell by more than noise: something takes gas up, cools, or drifts."""
    return rise(fit) < -noise_band(fit)


def accelerates(fit: HoldFit) -> bool:
    """Tell whether the rise bends upwards by more than chance, which no source of the model can do."""
    return fit.tests.bend_p < BEND_P


def levels_off(fit: HoldFit) -> bool:
    """Tell whether the rise is shown to level off, with nothing that goes on beyond sources up to one hold long."""
    return fit.is_outgassing_seen and not fit.is_steady_rise_seen


def steady_rate(fit: HoldFit) -> float:
    """Return the rate that a usual look would call a leak. [Pa/s]"""
    return max(fit.short.value, fit.leak.value)


def water_explains(fit: HoldFit, pull: PumpdownFit | None) -> bool:
    """Tell whether free water explains the hold and the pull, or the curve itself, speaks for water."""
    if fit.water is None or not fit.water.is_possible or is_within_noise(fit):
        return False
    return fit.water.is_bending or (pull is not None and pull.water_suspected)


def water_is_open(fit: HoldFit, pull: PumpdownFit | None) -> bool:
    """Tell whether a rise that would count as steady could be free water because no pull was logged before it."""
    if fit.water is None or not fit.water.is_possible or pull is not None:
        return False
    return fit.is_steady_rise_seen


def vapour_stood_before(fit: HoldFit) -> bool:
    """Tell whether the rise of the first seconds shows more gas than the steady rise after it can have brought."""
    return fit.is_steady_rise_seen and is_sudden(fit.sudden_rise, fit.leak.value)


def reads_zero(fit: HoldFit) -> bool:
    """Tell whether more of a hold's readings are zero than a coarse step explains."""
    return fit.share_at_zero > FEW_ZEROS


def stays_the_same(fit: HoldFit) -> bool:
    """Tell whether a hold has readings enough, and all of them are the same."""
    return fit.is_constant and fit.readings >= FEWEST_EQUAL
