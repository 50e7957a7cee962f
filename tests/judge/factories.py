"""Small factories: a log, a fit and a case that are plain and quiet, with whatever a test changes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from decay.fit.results import HoldCurve, HoldFit, Plateau, PumpdownFit, ResidualTests, StoodAt, WaterFit
from decay.impact.assess import Bracket, Impact
from decay.interval import Interval
from decay.judge import practice, verdict
from decay.judge.about_hold import pull_before
from decay.judge.answer import HoldReport
from decay.judge.case import Case
from decay.judge.criteria import Criterion, load_criterion
from decay.log import Note
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind, Phase
from decay.quantities import MICRON
from decay.system import System

MICRON_PER_MINUTE = MICRON / 60.0
ISOLATION = 1800.0


def make_log(
    pressures: Any = None,
    *,
    start: float = 250.0,
    rise: float = 50.0,
    hold: float = 3600.0,
    pulled: bool = True,
    sampling: float = 10.0,
    notes: tuple[Note, ...] = (),
    **changes: Any,
) -> PressureLog:
    """Return a log [micron]: half an hour of pull to ``start``, then a straight rise by ``rise`` over ``hold``."""
    if pressures is None:
        times = np.arange(0.0 if pulled else ISOLATION, ISOLATION + hold + 0.5 * sampling, sampling)
        pull = start + 7e5 * np.exp(-times / 60.0)
        straight = start + rise * (times - ISOLATION) / hold
        values = np.where(times <= ISOLATION, pull, straight)
    else:
        values = np.asarray(pressures, dtype=float)
        times = ISOLATION + sampling * np.arange(len(values))
    log = PressureLog(
        source="made.csv",
        time=times,
        pressure=values * MICRON,
        line=np.arange(len(times)) + 2,
        is_over_range=np.isnan(values),
        step=np.full(len(times), MICRON),
        gauge="vacuum",
        unit="micron",
        rows=len(times),
        notes=notes,
    )
    return replace(log, **changes) if changes else log


def rates(value: float, low: float, high: float) -> Interval:
    """Return an interval of rates given in micron/min. [Pa/s]"""
    return Interval(value, low, high).scaled(MICRON_PER_MINUTE)


def microns(value: float, low: float, high: float) -> Interval:
    """Return an interval of pressures given in micron. [Pa]"""
    return Interval(value, low, high).scaled(MICRON)


GOOD_TESTS = ResidualTests(
    misfit=1.0, correlation=0.0, runs_p=0.5, bend_p=0.5, bend=0.0, inflation=1.0, adequate=True
)


def make_water(*, possible: bool = True, crossed: bool = False, bending: bool = False) -> WaterFit:
    """Return the free-water hypothesis at 20 °C."""
    return WaterFit(microns(17500.0, 14500.0, 21000.0), possible, crossed, bending, 0.0 if possible else 99.0)


def make_fit(*, rise: float = 0.5, duration: float = 3600.0, start: float = 250.0, **changes: Any) -> HoldFit:
    """Return a quiet hold of an hour: half a micron of rise, nothing seen. ``start`` and ``rise`` in micron."""
    time = np.linspace(ISOLATION + 10.0, ISOLATION + duration, 50)
    zero = np.zeros_like(time)
    model = (start + np.linspace(0.0, max(rise, 0.0), 50)) * MICRON
    fit = HoldFit(
        start=ISOLATION,
        end=ISOLATION + duration,
        fit_from=ISOLATION + 10.0,
        start_pressure=start * MICRON,
        end_pressure=(start + rise) * MICRON,
        readings=360,
        leak=rates(0.0, 0.0, 0.1),
        short=rates(0.0, 0.0, 0.1),
        outgassing=microns(0.0, 0.0, 1.0),
        outgassing_time_constant=None,
        plateau=None,
        decision_threshold=0.1 * MICRON_PER_MINUTE,
        detection_limit=0.2 * MICRON_PER_MINUTE,
        is_leak_seen=False,
        is_steady_rise_seen=False,
        is_outgassing_seen=False,
        noise=0.3 * MICRON,
        step=MICRON,
        kappa=10.0,
        tests=GOOD_TESTS,
        water=None,
        curve=HoldCurve(time, model, model, model, model - model[0], zero),
        assumptions=("Nothing was touched.",),
    )
    return replace(fit, **changes) if changes else fit


def leaking_fit(**changes: Any) -> HoldFit:
    """Return an hour's hold with a steady 3 micron/min that is seen."""
    return make_fit(
        **{
            "rise": 180.0,
            "leak": rates(3.0, 2.8, 3.2),
            "short": rates(3.0, 2.9, 3.1),
            "is_leak_seen": True,
            "is_steady_rise_seen": True,
        }
        | changes
    )


def damp_fit(**changes: Any) -> HoldFit:
    """Return an hour's hold that rises by 120 micron and levels off."""
    return make_fit(
        **{
            "rise": 120.0,
            "leak": rates(0.0, 0.0, 0.4),
            "outgassing": microns(120.0, 100.0, 122.0),
            "outgassing_time_constant": 900.0,
            "plateau": 372.0 * MICRON,
            "is_outgassing_seen": True,
        }
        | changes
    )


def slow_fit(**changes: Any) -> HoldFit:
    """Return an hour's hold that a short look calls a leak and a slow source explains as well."""
    return make_fit(
        **{
            "rise": 60.0,
            "leak": rates(0.8, 0.0, 1.1),
            "short": rates(1.0, 0.9, 1.1),
            "is_steady_rise_seen": True,
        }
        | changes
    )


def make_pull(*, water: bool = False, **changes: Any) -> PumpdownFit:
    """Return a pull of half an hour to 250 micron."""
    wet = Plateau(600.0, 1200.0, 17500.0 * MICRON, 17500.0 * MICRON, "water at 20 °C", StoodAt.WATER)
    pull = PumpdownFit(
        start=0.0,
        end=ISOLATION,
        lowest=250.0 * MICRON,
        end_pressure=250.0 * MICRON,
        time_constant=None,
        bands=(),
        knee=None,
        plateaus=(wet,) if water else (),
        tail_exponent=None,
        longer_pull=(),
        water_suspected=water,
    )
    return replace(pull, **changes) if changes else pull


NO_IMPACT = Impact(None, None, None, None, None, None, None, "fit")
BOUNDLESS = Interval(1e7, 5e6, 2e7)
LOSS = Bracket(Interval(1e-9, 0.9e-9, 1.1e-9), Interval(1e-10, 0.9e-10, 1.1e-10))


def make_impact(*, allowed: float | None = None, **changes: Any) -> Impact:
    """Return an impact with an allowed rise in micron/min."""
    impact = replace(NO_IMPACT, allowed_rise=None if allowed is None else allowed * MICRON_PER_MINUTE)
    return replace(impact, **changes) if changes else impact


def make_phase(fit: HoldFit, **told: Any) -> Phase:
    """Return the phase that a fit was made of."""
    return Phase(Kind.HOLD, 0, 1, fit.start, fit.end, fit.start_pressure, fit.end_pressure, **told)


def make_case(
    fit: HoldFit | None = None,
    *,
    log: PressureLog | None = None,
    system: System | None = None,
    pulls: tuple[PumpdownFit, ...] | None = None,
    impact: Impact = NO_IMPACT,
    criterion: Criterion | None = None,
    has_hold: bool = True,
    **changes: Any,
) -> Case:
    """Return a case with one hold, its cause and its criterion judged as the pipeline judges them."""
    fit = make_fit() if fit is None else fit
    rise = (fit.end_pressure - fit.start_pressure) / MICRON
    log = make_log(rise=rise, hold=fit.duration) if log is None else log
    system = System() if system is None else system
    pulls = (make_pull(),) if pulls is None else pulls
    criterion = load_criterion() if criterion is None else criterion
    cause = verdict.cause_of(fit, pull_before(pulls, fit.start))
    outcome = practice.outcome_of(criterion, fit if has_hold else None, pulls, log, system)
    case = Case(
        log=log,
        system=system,
        phases=(make_phase(fit),) if has_hold else (),
        pumpdowns=pulls,
        holds=(HoldReport(fit, impact, cause),) if has_hold else (),
        unfitted=(),
        joint=None,
        decisive=0 if has_hold else None,
        criterion=criterion,
        outcome=outcome,
    )
    return replace(case, **changes) if changes else case
