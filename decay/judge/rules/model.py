"""Findings of the model about itself: a rise that accelerates, a fall, or readings that it does not describe."""

from __future__ import annotations

from decay import wording
from decay.fit.results import HoldFit
from decay.judge import signs
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.place import Fall
from decay.judge.rules.rule import Answer
from decay.quantities import MICRON


def rise_accelerates(case: Case) -> Answer:
    """
    What it looks for
        A rise that bends upwards by more than chance: no leak of constant size and no drying surface does that.
    Why it matters
        Averaged away it would give a rate that belongs to no moment of the hold.
    When it is wrong
        A gauge whose steps grow with pressure can look like it; so can the sun on the pipes, which is a cause too.
    Example log
        20 micron in the first ten minutes, 40 in the next, 80 in the third.
    What to do
        Look for warmth (sun, a compressor heater), a valve that was touched, a hose that creeps, a leak that opens;
        then hold again at a steady temperature.
    References
        S. G. Self and K.-Y. Liang, Journal of the American Statistical Association 82 (1987) 605, for testing a
        coefficient at its bound.
    """
    fit = case.fit
    if fit is None:
        return None
    if not signs.accelerates(fit):
        return ()
    summary = (
        f"The rise accelerates, by about {wording.pressure(fit.tests.bend)} at the end of the hold. Neither a steady "
        "leak nor outgassing does that."
    )
    evidence = {"bend_micron": fit.tests.bend / MICRON, "bend_probability": fit.tests.bend_p}
    return (Finding("H12", Level.BLOCKS, summary, evidence, (fit.start, fit.end), "the rise accelerates"),)


def pressure_falls(case: Case) -> Answer:
    """
    What it looks for
        A pressure that fell during the hold by more than noise and step, or suddenly at any time in it.
    Why it matters
        Something takes gas up, cools, or drifts, or the valve to the pump was not shut; any of these hides a leak.
    When it is wrong
        In the first seconds after isolation a fall is only rig and system equalising; those are left out. A gauge that
        is exchanged, or whose plug is touched, may fall as well.
    Example log
        From 420 micron down to 380 in half an hour, as the workshop cools in the evening.
    What to do
        Check the valve to the pump, wait for a steady temperature, hold again.
    References
        Air in a closed volume follows its absolute temperature: 0.34 % a kelvin at 20 °C.
    """
    fit = case.fit
    if fit is None:
        return None
    if case.fall_within is not None:
        return _falls_suddenly(case.fall_within, fit)
    if not signs.falls(fit):
        return ()
    below = wording.pressure(-signs.rise(fit))
    summary = f"The pressure fell during the hold (it ends {below} below the fit): what took gas up hides a leak."
    evidence = {"rise_micron": signs.rise(fit) / MICRON}
    return (Finding("H13", Level.BLOCKS, summary, evidence, (fit.start, fit.end), "the pressure falls"),)


def _falls_suddenly(fall: Fall, fit: HoldFit) -> Answer:
    summary = (
        f"The pressure falls from {wording.pressure(fall.top)} to {wording.pressure(fall.bottom)} within the hold, "
        f"from {wording.clock(fall.start)} to {wording.clock(fall.end)}, as where the pump is let in again. Say with "
        "--hold START..END what was held."
    )
    evidence = {"top_micron": fall.top / MICRON, "bottom_micron": fall.bottom / MICRON}
    return (Finding("H13", Level.BLOCKS, summary, evidence, (fit.start, fit.end), "the pressure falls"),)


def model_does_not_describe(case: Case) -> Answer:
    """
    What it looks for
        Residuals that are too large for the noise, or that keep one sign for too long.
    Why it matters
        An interval rests on its model. Where the model misses, the interval is widened, never narrowed, and no pass
        is given.
    When it is wrong
        A gauge that averages, or steps between ranges, leaves a memory in its readings that is no fault of the system.
    Example log
        A hold in which a valve core was pushed half way through: the readings jump by 15 micron and go on.
    What to do
        Look at the plot: where do the readings leave the line? Give the undisturbed stretch with --hold START..END,
        or hold again.
    References
        A. Wald and J. Wolfowitz, Annals of Mathematical Statistics 11 (1940) 147, for the test of runs.
    """
    fit = case.fit
    if fit is None:
        return None
    if fit.tests.adequate or signs.accelerates(fit):
        return ()
    summary = (
        f"No model describes this hold: the readings leave the fitted curve further, or for longer, than noise would "
        f"(misfit {wording.number(fit.tests.misfit, 2)}, expected 1). The interval is widened, and no pass is given."
    )
    evidence = {"misfit": fit.tests.misfit, "runs_probability": fit.tests.runs_p}
    return (Finding("H14", Level.BLOCKS, summary, evidence, (fit.start, fit.end), "no model describes this hold"),)
