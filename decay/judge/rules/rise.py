"""Findings about what else raises the pressure: outgassing, free water, slow outgassing, or nothing beyond noise."""

from __future__ import annotations

from decay import wording
from decay.fit.odds import Grade
from decay.fit.results import Inflow
from decay.judge import signs
from decay.judge.case import Case
from decay.judge.finding import Cause, Finding, Level
from decay.judge.rules.leak import detectable
from decay.judge.rules.rule import Answer
from decay.quantities import MICRON

_GRADED = {Grade.LIKELY: "likely", Grade.UNLIKELY: "unlikely but not ruled out", Grade.OPEN: ""}
"""What odds make of a leak that is not ruled out."""


def rise_levels_off(case: Case) -> Answer:
    """
    What it looks for
        A part of the rise that slows down and levels off within the hold.
    Why it matters
        Gas that leaves surfaces, oil or rubber does so ever more slowly; a leak does not. A damp system can fail a
        rule of thumb without leaking.
    When it is wrong
        Levelling off shows another gas source; it does not prove that nothing leaks. Rig and system that equalise
        through a narrow hose look like it for the first seconds, which are left out.
    Example log
        From 300 micron to 700 in ten minutes, then to 760 in the next twenty: it will stop near 770.
    What to do
        Dry further: fresh pump oil, warmth, time, a sweep with dry nitrogen.
    References
        Bernstein's theorem on completely monotone functions: any rate that falls for ever is a mixture of decaying
        exponentials.
    """
    fit = case.fit
    if fit is None or case.cause is None:
        return None
    if case.cause not in (Cause.OUTGASSING, Cause.LEAK_AND_OUTGASSING):
        return ()
    amount = wording.pressure_interval(fit.outgassing)
    where = f", towards about {wording.pressure(fit.plateau)}" if fit.plateau is not None else ""
    pace = (
        f" with a time constant of about {wording.duration(fit.outgassing_time_constant)}"
        if fit.outgassing_time_constant is not None
        else ""
    )
    summary = f"{amount} of the rise levels off{pace}{where}: outgassing, not a leak."
    return (
        Finding(
            "H06",
            Level.NOTE,
            summary,
            {"outgassing_micron": fit.outgassing.value / MICRON},
            (fit.start, fit.end),
        ),
    )


def gauges_side_suspected(case: Case) -> Answer:
    """
    What it looks for
        A rise that after a first jump is flatter than it goes on: the pressure drop along a hose builds up within
        seconds, and fades while the pressure rises.
    Why it matters
        A drop that fades means that gas flows through the hose into the system: it comes in on the gauge's side. A
        leak of the rig's hoses, valves or gauge is no loss of refrigerant. Taken for what it is, the rise is also
        no longer one that accelerates, and its rate can be estimated.
    When it is wrong
        Other things fade too: gas re-adsorbed by oil or rubber, a gauge that curves. Of 2,000 simulated jobs of
        all kinds 45 holds looked so, and in 35 of them the leak was the rig's with the gauge beside it.
    Example log
        450 micron after the first minute, then 77 micron/min, 117 after five minutes and 128 after half an hour.
    What to do
        Blank off the rig and hold it alone (--rig-log); put the gauge on the system's far side.
    References
        M. Knudsen, Annalen der Physik 28 (1909) 75: a tube's conductance between molecular and laminar flow.
    """
    fit = case.fit
    if fit is None:
        return None
    if fit.hose_drop is None or not fit.is_steady_rise_seen:
        return ()
    summary = (
        f"The rise begins with a drop of {wording.pressure(fit.hose_drop)} along a hose: the gas may come in on the "
        "gauge's side, and then the leak is the rig's."
    )
    return (Finding("H15", Level.NOTE, summary, {"hose_drop_micron": fit.hose_drop / MICRON}, (fit.start, fit.end)),)


def rise_negligible(case: Case) -> Answer:
    """
    What it looks for
        A hold whose whole rise is within noise and step, or so small that it would not count as seen if all of it
        were steady.
    Why it matters
        There is nothing to explain.
    When it is wrong
        In a short hold, or with a coarse gauge, a leak that matters hides in the noise: read it with the smallest
        detectable leak beside it.
    Example log
        Twenty minutes that read 287, 288 or 289 micron throughout.
    What to do
        See the smallest detectable leak.
    References
        L. A. Currie, Analytical Chemistry 40 (1968) 586.
    """
    fit = case.fit
    if fit is None or case.cause is None:
        return None
    if case.cause is not Cause.TIGHT or not fit.tests.adequate:
        return ()
    rise = max(0.0, signs.rise(fit))
    amount = f"less than {wording.pressure(fit.step)}" if rise < fit.step else wording.pressure(rise)
    summary = f"The rise of {amount} in {wording.duration(fit.duration)} is negligible."
    return (Finding("H07", Level.NOTE, summary, {"rise_micron": rise / MICRON}, (fit.start, fit.end)),)


def slow_source_or_leak(case: Case) -> Answer:
    """
    What it looks for
        A rise that looks steady, and that outgassing slower than the hold could make as well.
    Why it matters
        To call it a leak would send someone looking for a hole in a damp system; to call it damp would charge a
        leaking one.
    When it is wrong
        It is not a statement about the system but about the hold: it was too short, or too early, to tell.
    Example log
        Ten minutes from 320 to 370 micron, nearly straight, right after a short pull.
    What to do
        Hold again for longer, or pull and hold once more: a leak stays the same from hold to hold, outgassing shrinks.
    References
        The interval is the profile likelihood of the steady rate over all slow outgassing (contributors' guide).
    """
    fit = case.fit
    if fit is None or case.leak is None or case.cause is None:
        return None
    has_its_own_finding = (
        signs.falls(fit)
        or signs.accelerates(fit)
        or signs.water_is_open(fit, case.pull)
        or signs.vapour_stood_before(fit)
        or case.is_withheld
    )
    if case.cause is not Cause.UNRESOLVED or has_its_own_finding:
        return ()
    level = Level.NOTE if case.is_above_allowed_excluded else Level.BLOCKS
    summary = (
        f"The rise of {wording.pressure(signs.rise(fit))} in {wording.duration(fit.duration)} is a leak of up to "
        f"{wording.rate_high(case.leak)}, or slow outgassing: this hold cannot distinguish them. The smallest leak it "
        f"could show: {detectable(case)}."
    )
    evidence = {
        "leak_high_micron_per_min": case.leak.high / wording.MICRON_PER_MINUTE,
        "steady_rise_micron_per_min": signs.steady_rate(fit) / wording.MICRON_PER_MINUTE,
    }
    graded = "" if case.odds is None else _GRADED[case.odds.grade]
    brief = f"leak {graded or 'not ruled out'}, slow outgassing would look the same"
    return (Finding("H08", level, summary, evidence, (fit.start, fit.end), brief),)


def free_water(case: Case) -> Answer:
    """
    What it looks for
        A hold that water evaporating towards its saturation pressure explains, after a pull that stood where water
        stands, or a curve that itself bends towards that pressure.
    Why it matters
        Liquid water in a circuit makes acid and ice. Until it is gone nothing can be said about a leak: far below its
        saturation pressure its rise is a straight line too.
    When it is wrong
        Refrigerant that leaves oil, or a pump that stalls for its own reasons, can stand at the same pressure. The
        saturation pressure belongs to the coldest wet spot, which nobody measures.
    Example log
        A pull that stays near 17,500 micron for twenty minutes at 20 °C, and a hold that climbs back towards it.
    What to do
        Dry first: open the low points, warm the system, sweep with dry nitrogen, change the pump oil; then hold again.
    References
        IAPWS R7-97 and R14-08 for the saturation pressure over liquid and over ice.
    """
    fit = case.fit
    if fit is None or case.cause is None:
        return None
    if case.cause is not Cause.FREE_WATER or fit.water is None:
        return ()
    level = Level.CAVEAT if case.is_above_allowed_excluded else Level.BLOCKS
    ceiling = wording.pressure_interval(fit.water.saturation)
    summary = f"Free water explains the rise, which would level off at {ceiling}: dry it, then test again for leaks."
    evidence = {"saturation_micron": fit.water.saturation.value / MICRON}
    return (Finding("H09", level, summary, evidence, (fit.start, fit.end), "free water, dry it first"),)


def water_not_excluded(case: Case) -> Answer:
    """
    What it looks for
        A steady rise below the saturation pressure of water, in a log that does not show the pull before the hold.
    Why it matters
        Only the pull shows it: a pump that gets below water's saturation pressure without standing there has no free
        water before it. Without it a straight rise can be a leak or a puddle.
    When it is wrong
        When the pull was watched but not logged. Log it, and the question is settled.
    Example log
        A log that begins at the closed valve and climbs from 400 to 900 micron in ten minutes.
    What to do
        Pull again and log the pull together with the hold.
    References
        The rate of evaporation is proportional to the distance from saturation; far below, that is a constant.
    """
    fit = case.fit
    if fit is None or case.cause is None:
        return None
    if case.cause is not Cause.UNRESOLVED or not signs.water_is_open(fit, case.pull):
        return ()
    level = Level.NOTE if case.is_above_allowed_excluded else Level.BLOCKS
    summary = (
        f"The pressure rises steadily by {wording.rate(signs.steady_rate(fit))}, but the log shows no pull before the "
        "hold: free water could make the same rise."
    )
    evidence = {"steady_rise_micron_per_min": signs.steady_rate(fit) / wording.MICRON_PER_MINUTE}
    brief = "leak or free water, the pull is not in the log"
    return (Finding("H10", level, summary, evidence, (fit.start, fit.end), brief),)


def beyond_water(case: Case) -> Answer:
    """
    What it looks for
        A rise by more than the highest pressure at which water can stand on the gauge.
    Why it matters
        Then water alone cannot be the cause, however wet the system is.
    When it is wrong
        When a spot in the system was warmer than stated, or the gauge reads vapour more than twice too high.
    Example log
        A hold at 20 °C that rises from 500 to 60,000 micron.
    What to do
        Look for a leak, or for refrigerant that boils out of oil.
    References
        IAPWS R7-97; a thermal-conductivity gauge shows water vapour up to twice too high (general gauge manuals).
    """
    fit = case.fit
    if fit is None:
        return None
    if fit.water is None or not fit.water.is_crossed:
        return ()
    summary = (
        f"The pressure rose by more than water can make ({wording.pressure(fit.water.saturation.high)}, even doubled "
        "by the gauge): it is not water alone."
    )
    return (Finding("H11", Level.NOTE, summary, {"end_micron": fit.end_pressure / MICRON}, (fit.start, fit.end)),)


def vapour_stood_behind_a_hose(case: Case) -> Answer:
    """
    What it looks for
        A rise by 500 micron or more within seconds of the closing, and after it a steady one so slow that it would take
        five minutes or more to bring as much.
    Why it matters
        Under the pump the system stood so far above the gauge because something in it gave off that much gas. What is
        left of the rise may come from the same source: it is not proven to be a leak.
    When it is wrong
        When the valve was closed later than the log shows, or gas was let in for a moment.
    Example log
        184 micron under the pump, 2,000 ten seconds after the closing, then 290 micron/min: eighteen grams of water
        behind a hose, and hardly a leak.
    What to do
        Dry first: pull longer, through a wider hose and without valve cores, warm the low points; then hold again.
    References
        A leak q behind a conductance C raises the system by q/C above the gauge, no more than it raises the closed
        volume in the time V/C in which the two equalise.
    """
    fit = case.fit
    if fit is None or case.cause is None:
        return None
    if case.cause is not Cause.UNRESOLVED or not signs.vapour_stood_before(fit):
        return ()
    level = Level.NOTE if case.is_above_allowed_excluded else Level.BLOCKS
    summary = (
        f"The pressure rose by {wording.pressure(fit.sudden_rise)} within seconds of the closing: a source of gas kept "
        f"the system far above the gauge. It may also make the {wording.rate(signs.steady_rate(fit))} that follow: no "
        "leak is proven."
    )
    evidence = {
        "sudden_rise_micron": fit.sudden_rise / MICRON,
        "steady_rise_micron_per_min": signs.steady_rate(fit) / wording.MICRON_PER_MINUTE,
    }
    brief = "vapour stood behind a hose, no leak is proven"
    return (Finding("H16", level, summary, evidence, (fit.start, fit.end), brief),)


def inflow_fades(case: Case) -> Answer:
    """
    What it looks for
        A leak in a hold that rises beyond 10 kPa (75,000 micron).
    Why it matters
        The pressure inside then holds back what comes in, and the rise slows down although the leak stays the same:
        through a fine path with 1 - (p/p_a)^2, through a hole once half of the outside pressure is reached. That is no
        outgassing. The rate stated is the one into an empty system.
    When it is wrong
        The outside pressure is taken as 101.3 kPa: at 1,500 m it is 85 kPa, and the inflow fades sooner.
    Example log
        From 100 micron to 350,000 in twenty minutes, ever more slowly.
    What to do
        Find the leak: it is a large one.
    References
        Poiseuille's law of a compressible gas; the isentropic nozzle of de Saint-Venant and Wantzel.
    """
    fit = case.fit
    if fit is None:
        return None
    if fit.inflow is Inflow.STEADY or fit.leak.low <= 0.0:
        return ()
    path = "a fine path" if fit.inflow is Inflow.LAMINAR else "a hole"
    summary = (
        f"The hold ends at {wording.pressure(fit.end_pressure)}: so near the pressure outside the inflow fades, as "
        f"through {path}. The rate is the one into an empty system."
    )
    return (Finding("H17", Level.NOTE, summary, {"end_micron": fit.end_pressure / MICRON}, (fit.start, fit.end)),)
