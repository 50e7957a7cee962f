"""Caveats: what a pressure-rise test never says, what limits this one, and how a gauge reads vapours."""

from __future__ import annotations

from decay import wording
from decay.fit.measured import UNNOTICED_DRIFT, feigned_rise
from decay.interval import Interval
from decay.judge.case import Case
from decay.judge.finding import Cause, Finding, Level
from decay.judge.rules.rule import Answer
from decay.phases.phase import Kind
from decay.physics import gauge
from decay.physics.water import ICE_BELOW
from decay.quantities import MICRON

# A detection limit within this factor of one step a hold is the gauge's doing.
STEP_RULES = 3.0


def never_says(case: Case) -> Answer:
    """
    What it looks for
        Nothing: it stands in every answer.
    Why it matters
        A pressure-rise test says neither where a leak is nor how the system behaves under its working pressure. One
        atmosphere presses inwards; the charge will press outwards with several.
    When it is wrong
        Never.
    Example log
        Any.
    What to do
        Check the joints under pressure with dry nitrogen, and again when the system is charged and running.
    References
        US Army technical manuals: the vacuum pump is not primarily a leak indicator.
    """
    del case
    summary = "This test never says where it leaks, and never tests the system under its working pressure."
    return (Finding("K01", Level.CAVEAT, summary),)


def rig_included(case: Case) -> Answer:
    """
    What it looks for
        A job without a blank-off hold of the rig alone.
    Why it matters
        Hoses, seals, cores and the gauge's own fitting leak and give off gas too: the rise is the system's and the
        rig's together.
    When it is wrong
        When the valve that was closed sits at the system and the gauge behind it.
    Example log
        Any without a rig log.
    What to do
        Blank off the rig, pull it down and hold it alone.
    References
        US Army TM 10-8145-222-23, 0014: the rig is proved at 500 micron for 30 minutes before the system.
    """
    if not case.holds or case.rig is not None:
        return ()
    return (Finding("K02", Level.CAVEAT, "The test includes hoses, fittings and gauge: a leak may be the rig's."),)


def single_hold(case: Case) -> Answer:
    """
    What it looks for
        One usable hold in the log.
    Why it matters
        A leak stays the same from hold to hold while outgassing shrinks: two holds show more than one of their joint
        length.
    When it is wrong
        A long quiet hold needs no second one.
    Example log
        Any with one hold.
    What to do
        After the next pull hold again, and analyse both.
    References
        None.
    """
    if len(case.holds) != 1 or case.is_joint:
        return ()
    if case.cause is Cause.TIGHT:
        return ()
    summary = "The answer rests on a single hold; a second pull and hold distinguishes a leak from slow outgassing."
    return (Finding("K03", Level.CAVEAT, summary),)


def equalisation_left_out(case: Case) -> Answer:
    """
    What it looks for
        Seconds after isolation that were left out of the fit.
    Why it matters
        Rig and system equalise through hoses and cores when the valve closes: that jump is neither leak nor
        outgassing.
    When it is wrong
        A gross leak is quick as well; what was left out is drawn on the plot.
    Example log
        A jump from 250 to 330 micron in eight seconds, then a slow rise.
    What to do
        Nothing, unless the jump is large: then open the cores and use wider hoses.
    References
        None.
    """
    fit = case.fit
    if fit is None:
        return None
    left_out = fit.fit_from - fit.start
    if left_out <= 1.5 * case.log.sampling:
        return ()
    jump = float(fit.curve.model[0]) - fit.start_pressure
    summary = (
        f"The first {wording.duration(left_out)} after isolation ({wording.pressure_number(abs(jump), 2)} "
        f"{wording.unit()}) are not fitted: rig and system equalise then."
    )
    return (Finding("K04", Level.NOTE, summary, {"left_out_s": left_out}, (fit.start, fit.fit_from)),)


def gauge_step(case: Case) -> Answer:
    """
    What it looks for
        A smallest detectable leak that is set by the gauge's step and not by the system.
    Why it matters
        Averaging equal readings does not help: a rise of less than a step is not in the log.
    When it is wrong
        Where noise makes the last digit flicker, averaging does help somewhat.
    Example log
        A gauge that shows 300, 400 or 500 micron and nothing between.
    What to do
        Hold for longer, at a lower pressure where the step is finer, or log with more digits.
    References
        A rounded reading has a variance of step²/12.
    """
    fit = case.fit
    if fit is None:
        return None
    if fit.step <= 0 or fit.detection_limit * fit.duration > STEP_RULES * fit.step or fit.noise > fit.step:
        return ()
    summary = f"The gauge's step of {wording.pressure(fit.step)} limits the smallest leak this hold could show."
    return (Finding("K05", Level.NOTE, summary, {"step_micron": fit.step / MICRON}, (fit.start, fit.end)),)


def temperature_not_told(case: Case) -> Answer:
    """
    What it looks for
        A hold without a logged or stated temperature.
    Why it matters
        The saturation pressure of water doubles about every ten kelvin, the loss of refrigerant depends on its vapour
        pressure, and air in a closed volume follows its temperature by 0.34 % a kelvin.
    When it is wrong
        A short quiet hold indoors hardly depends on it.
    Example log
        Any without a temperature column and without --ambient.
    What to do
        State it with --ambient, or log it.
    References
        IAPWS R7-97 for water; the gas law for air.
    """
    if case.fit is None:
        return None
    if case.ambient is not None:
        return ()
    summary = "The temperature is not known, so water's saturation pressure is uncertain. Add --ambient."
    return (Finding("K07", Level.CAVEAT, summary),)


def cold(case: Case) -> Answer:
    """
    What it looks for
        Surroundings below 15.6 °C (60 °F) during the hold.
    Why it matters
        Water that freezes in the pull gives off vapour so slowly that the hold is quiet; it thaws later.
    When it is wrong
        Parts of the system may be warmer than the surroundings, or were warmed on purpose.
    Example log
        A hold at 8 °C that is quiet at 280 micron.
    What to do
        Warm the system and hold again, or sweep with dry nitrogen.
    References
        US Army TM 10-8145-222-23 warns of ice below 60 °F.
    """
    ambient = case.ambient
    if ambient is None or ambient >= ICE_BELOW:
        return ()
    summary = (
        f"It was {wording.celsius(ambient)}. Below {wording.celsius(ICE_BELOW)} water may freeze during the pull: "
        "the hold then looks dry, however wet the system is."
    )
    return (Finding("K08", Level.CAVEAT, summary, {"ambient_k": ambient}),)


def temperature_drifted(case: Case) -> Answer:
    """
    What it looks for
        A logged temperature that changed during the hold by more than one kelvin an hour.
    Why it matters
        Gas in a closed volume follows its temperature by 0.34 % a kelvin, and vapour over water or oil much more
        steeply: a warming system rises and a cooling one hides a leak.
    When it is wrong
        The sensor may hang in the air while the metal keeps its temperature. That is why the readings are not corrected
        by it: what the drift can feign widens the interval on both sides.
    Example log
        21 to 24 °C within an hour at 800 micron: 0.14 micron/min either way.
    What to do
        Hold again with steady surroundings, out of the sun.
    References
        The gas law; IAPWS R7-97 for water.
    """
    fit, log = case.fit, case.log
    if fit is None:
        return None
    known = log.temperatures(fit.start, fit.end)
    if len(known) < 2:
        return ()
    low, high = float(known.min()), float(known.max())
    drift = (high - low) / fit.duration
    if drift <= UNNOTICED_DRIFT:
        return ()
    rate = feigned_rise(max(fit.start_pressure, fit.end_pressure), drift, case.ambient or high)
    summary = (
        f"The logged temperature went from {wording.celsius(low)} to {wording.celsius(high)} during the hold: that can "
        f"look like, or hide, {wording.rate(rate)}. The interval includes it; the readings are not corrected."
    )
    evidence = {"change_k": high - low, "feigned_micron_per_min": rate / wording.MICRON_PER_MINUTE}
    return (Finding("K11", Level.CAVEAT, summary, evidence, (fit.start, fit.end)),)


def volume_not_told(case: Case) -> Answer:
    """
    What it looks for
        A hold without a volume.
    Why it matters
        The same rate of rise in ten times the volume is ten times the leak: without it there are no grams a year.
    When it is wrong
        Where the allowed leak is stated as a rate of rise, the volume is not needed.
    Example log
        Any without --volume.
    What to do
        State --volume with the rig included; from parts, or by gas expansion into a known vessel.
    References
        Q = V dp/dt.
    """
    if case.fit is None:
        return None
    if case.system.volume is not None:
        return ()
    summary = (
        "The volume is not known, so there are no grams a year: the same rise in a large system is a large leak. "
        "`decay volume` works it out from parts or by gas expansion."
    )
    return (Finding("K09", Level.CAVEAT, summary),)


def assumptions(case: Case) -> Answer:
    """
    What it looks for
        What the numbers of the hold rest on.
    Why it matters
        Each is a way in which the interval can be wrong.
    When it is wrong
        Never: it states what was assumed.
    Example log
        Any.
    What to do
        Ask of each whether it was so on that day.
    References
        The contributors' guide.
    """
    if case.fit is None:
        return None
    assumed = list(case.fit.assumptions)
    if case.joint is not None and any(phase.kind is Kind.SWEEP for phase in case.phases):
        assumed.append("What was let in between the holds was dry nitrogen. Moist air refills the walls; a leak that "
                       "the holds show together is then not proved.")
    return tuple(Finding("K10", Level.NOTE, f"Assumed: {text[0].lower()}{text[1:]}") for text in assumed)


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
        stands_in = "" if is_own else " (by R-12 and R-744, for it has no published factor)"
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
