"""Analyses made of invented, synthetic numbers, one for each situation that a report has to show."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from decay.analysis import Analysis
from decay.fit.results import (
    Band,
    Description,
    HoldCurve,
    HoldFit,
    JointFit,
    Plateau,
    PumpdownFit,
    ResidualTests,
    WaterFit,
)
from decay.impact.assess import Bracket, Doubt, Impact
from decay.interval import Interval
from decay.judge.answer import Basis, CriterionOutcome, HoldReport, Verdict
from decay.judge.finding import Cause, Finding, Level, Result
from decay.log import Note
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind, Phase
from decay.system import Allowance, AllowKind, System

MICRON = 133.322387415e-3
PER_MINUTE = MICRON / 60.0
G_PER_YEAR = 1e-3 / (365.25 * 86400.0)

ISOLATED_AT = 1800.0
STEP = 5.0


def micron(x: float) -> float:
    """Return a pressure given in micron in Pa."""
    return x * MICRON


def finding(code: str, summary: str, level: Level = Level.NOTE, **evidence: float) -> Finding:
    return Finding(code, level, summary, evidence)


def readings(
    leak: float,
    damp: float,
    *,
    hold: float = 1800.0,
    start: float = 250.0,
    tau: float = 400.0,
    over_range_from: float = math.inf,
    noise: float = 0.6,
    pump: float = ISOLATED_AT,
    seed: int = 7,
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return time [s], pressure [Pa] and the over-range flags of an invented evacuation with one hold."""
    rng = np.random.default_rng(seed)
    time = np.arange(0.0, pump + hold + STEP, STEP)
    falling = 760000.0 * np.exp(-np.maximum(time - 60.0, 0.0) / 60.0) + (start - 10.0) * (1 + 3 * np.exp(-time / 500.0))
    since = np.maximum(time - pump, 0.0)
    rising = start + leak / 60.0 * since + damp * (1 - np.exp(-since / tau)) + 12.0 * (1 - np.exp(-since / 4.0))
    pressure = np.where(time <= pump, falling, rising) + rng.normal(0.0, noise, time.size)
    pressure = np.round(pressure, 0)
    over = (pressure > over_range_from) | (pressure > 400000.0)
    pressure = np.where(over, np.nan, pressure * MICRON)
    return time, pressure, over


def log(
    time: np.ndarray,
    pressure: np.ndarray,
    over: np.ndarray,
    *,
    source: str = "synthetic-hold.csv",
    notes: Sequence[Note] = (),
    other_gauges: dict[str, np.ndarray] | None = None,
) -> PressureLog:
    return PressureLog(
        source=source,
        time=time,
        pressure=pressure,
        line=np.arange(2, time.size + 2),
        is_over_range=over,
        step=np.full(time.size, micron(1.0)),
        gauge="vacuum",
        unit="micron",
        rows=time.size + sum(note.rows for note in notes),
        notes=tuple(notes),
        other_gauges=other_gauges or {},
        started="2026-03-02T09:15:00",
    )


def hold_fit(
    leak: float,
    damp: float,
    *,
    half: float = 0.3,
    hold: float = 1800.0,
    start: float = 250.0,
    tau: float = 400.0,
    isolated: float = ISOLATED_AT,
    water: WaterFit | None = None,
    adequate: bool = True,
) -> HoldFit:
    """Return a fit that belongs to `readings`; rates in micron/min, pressures in micron."""
    time = np.linspace(isolated + 30.0, isolated + hold, 200)
    since = time - isolated
    first = start + 12.0
    line = first + leak / 60.0 * since
    curve = first + damp * (1 - np.exp(-since / tau))
    band = half / 60.0 * since
    low, high = max(leak - half, 0.0), leak + half
    fitted = line + curve - first
    return HoldFit(
        start=isolated,
        end=isolated + hold,
        fit_from=isolated + 30.0,
        start_pressure=micron(start),
        end_pressure=micron(first + leak / 60.0 * hold + damp * (1 - math.exp(-hold / tau))),
        readings=int(hold / STEP) - 6,
        leak=Interval(leak * PER_MINUTE, low * PER_MINUTE, high * PER_MINUTE),
        short=Interval(leak * PER_MINUTE, max(leak - half / 5, 0.0) * PER_MINUTE, (leak + half / 5) * PER_MINUTE),
        outgassing=Interval(micron(damp), micron(max(damp - 5.0, 0.0)), micron(damp + 6.0)),
        outgassing_time_constant=tau if damp > 5 else None,
        plateau=micron(first + damp) if damp > 5 else None,
        decision_threshold=half * PER_MINUTE,
        detection_limit=2 * half * PER_MINUTE,
        is_leak_seen=low > 0,
        is_steady_rise_seen=leak > half / 5,
        is_outgassing_seen=damp > 5,
        noise=micron(0.6),
        step=micron(1.0),
        kappa=10.0,
        tests=ResidualTests(1.03, 0.05, 0.4, 0.7, micron(0.1), 1.0, adequate),
        water=water,
        describing=lambda: Description(
            Interval(leak * PER_MINUTE, max(leak - 0.1, 0.0) * PER_MINUTE, (leak + 0.1) * PER_MINUTE),
            Interval(micron(damp), micron(damp * 0.9), micron(damp * 1.1)),
            Interval(tau, tau * 0.8, tau * 1.3),
            micron(first),
            micron(first + damp),
        )
        if damp > 5
        else None,
        curve=HoldCurve(
            time,
            micron(1.0) * fitted,
            micron(1.0) * (fitted - band),
            micron(1.0) * (fitted + band),
            micron(1.0) * (line - first),
            micron(1.0) * (curve - first),
        ),
        assumptions=("The temperature stood still during the hold.",),
    )


def impact(fit: HoldFit, system: System) -> Impact:
    """Return invented but proportionate meanings of a fit."""
    remark = ("No refrigerant was named, so no loss is given.",)
    if system.volume is None:
        return Impact(None, None, None, None, None, None, None, Doubt.FIT, ("The volume was not told.",))
    volume = system.volume.value
    throughput = fit.leak.scaled(volume)
    detectable = fit.detection_limit * volume
    if system.refrigerant is None:
        return Impact(throughput, detectable, None, None, None, None, None, Doubt.FIT, remark)
    laminar, molecular = 8.0e-5, 4.0e-6
    loss = Bracket(throughput.scaled(laminar), throughput.scaled(molecular))

    def until(share: float) -> Bracket | None:
        charge = system.charge
        if charge is None:
            return None

        def ends(each: Interval) -> Interval:
            rates = (each.value, each.high, each.low)
            value, low, high = (share * charge / rate if rate > 0 else math.inf for rate in rates)
            return Interval(value, low, high)

        return Bracket(ends(loss.laminar), ends(loss.molecular))

    return Impact(
        throughput,
        detectable,
        loss,
        (detectable * laminar, detectable * molecular),
        until(0.3),
        until(1.0),
        None if system.allow is None else 0.5 * PER_MINUTE,
        Doubt.FLOW,
    )


CRITERION = CriterionOutcome(
    name="deep-vacuum-1h",
    title="Deep vacuum, one-hour stand",
    source="Invented specification for these tests, section 1",
    standing="synthetic",
    met=True,
    detail="300 micron reached; 290 micron at the end, at or below 500 micron",
    limit=micron(500.0),
    part="all",
)

SYSTEM = System(
    volume=Interval(3.2e-3, 3.0e-3, 3.4e-3),
    volume_origin="stated",
    refrigerant="R134a",
    charge=0.65,
    ambient=297.15,
    allow=Allowance(AllowKind.LOSS, 40 * G_PER_YEAR, "40 g/yr"),
)

ALWAYS = finding(
    "C01",
    "A pressure-rise test never says where a system leaks, and it does not test it under its working pressure.",
    Level.CAVEAT,
)


def pull() -> PumpdownFit:
    return PumpdownFit(
        start=60.0,
        end=ISOLATED_AT,
        lowest=micron(248.0),
        end_pressure=micron(250.0),
        time_constant=Interval(60.0, 58.5, 61.5),
        bands=(Band(micron(1e5), micron(1e4), 138.0, Interval(60.0, 59.0, 61.0)),),
        knee=(540.0, micron(1200.0)),
        plateaus=(Plateau(900.0, 960.0, micron(700.0), micron(710.0), "unknown"),),
        tail_exponent=Interval(0.9, 0.7, 1.2),
        longer_pull=((900.0, micron(230.0)),),
        water_suspected=False,
    )


def phases(the_log: PressureLog, isolated: float = ISOLATED_AT, *, with_hold: bool = True) -> tuple[Phase, ...]:
    cuts = [(Kind.ATMOSPHERE, 0.0, 60.0), (Kind.PUMPDOWN, 60.0, isolated)]
    if with_hold:
        cuts.append((Kind.HOLD, isolated, float(the_log.time[-1])))
    made = []
    for kind, start, end in cuts:
        first, last = (int(np.searchsorted(the_log.time, t)) for t in (start, end))
        made.append(Phase(kind, first, last, start, end, float(the_log.pressure[first]), float(the_log.pressure[last])))
    return tuple(made)


def basis(report: HoldReport, cause: Cause, joint: JointFit | None = None) -> Basis:
    """Return what a verdict on one hold, or on all of them, rests on."""
    fit = report.fit
    return Basis(
        span=(fit.start, fit.end),
        leak=fit.leak if joint is None else joint.leak,
        is_leak_seen=fit.is_leak_seen if joint is None else joint.is_leak_seen,
        detection_limit=fit.detection_limit if joint is None else joint.detection_limit,
        impact=report.impact,
        cause=cause,
        is_joint=joint is not None,
    )


def analysis(
    leak: float = 3.2,
    damp: float = 0.0,
    *,
    result: Result = Result.FAIL,
    cause: Cause = Cause.LEAK,
    system: System = SYSTEM,
    caveats: Sequence[Finding] = (ALWAYS,),
    source: str = "synthetic-hold.csv",
    over_range_from: float = math.inf,
    notes: Sequence[Note] = (),
    other_gauges: bool = False,
    criterion: CriterionOutcome = CRITERION,
    **fit_options: float,
) -> Analysis:
    """Return an analysis of one pumpdown and one hold."""
    time, pressure, over = readings(leak, damp, over_range_from=over_range_from)
    others = {"manifold": pressure * 1.3 + 4.0} if other_gauges else None
    the_log = log(time, pressure, over, source=source, notes=notes, other_gauges=others)
    fit = hold_fit(leak, damp, **fit_options)  # type: ignore[arg-type]
    report = HoldReport(fit, impact(fit, system), cause)
    return Analysis(
        log=the_log,
        system=system,
        phases=phases(the_log),
        pumpdowns=(pull(),),
        holds=(report,),
        basis=basis(report, cause),
        joint=None,
        decisive=0,
        verdict=Verdict(
            result=result,
            cause=cause,
            criterion=criterion,
            reasons=(
                finding("L01", f"Air gets in steadily: {leak:g} micron/min.", Level.FAILS, rate_micron_per_min=leak),
                finding("P01", "The practice named was met."),
            ),
            caveats=tuple(caveats),
            next_steps=(
                finding("N01", "Close off sections and hold each for 30 min to see which one rises."),
                finding("N02", "Then look for the place under dry nitrogen, through a regulator with relief."),
            ),
        ),
    )


def tight() -> Analysis:
    return analysis(0.1, 0.0, result=Result.PASS, cause=Cause.TIGHT)


def leaking() -> Analysis:
    return analysis(3.2, 0.0)


def leaking_and_damp() -> Analysis:
    return analysis(4.0, 90.0, cause=Cause.LEAK_AND_OUTGASSING, other_gauges=True)


def damp() -> Analysis:
    ceiling = WaterFit(Interval(micron(480.0), micron(430.0), micron(530.0)), True, False, True, 0.4)
    return analysis(0.1, 180.0, result=Result.INCONCLUSIVE, cause=Cause.FREE_WATER, water=ceiling)  # type: ignore[arg-type]


def over_range() -> Analysis:
    return analysis(40.0, 0.0, over_range_from=1200.0)


def bare() -> Analysis:
    """Return the analysis of a hold about which nothing was told."""
    return analysis(0.8, 20.0, result=Result.INCONCLUSIVE, cause=Cause.UNRESOLVED, system=System())


def many_caveats() -> Analysis:
    caveats = [
        finding(
            f"C{n:02d}",
            f"Caveat number {n}: the invented circumstance {n} limits what this hold can show, "
            "and the sentence is long enough to need another line.",
            Level.CAVEAT,
        )
        for n in range(1, 10)
    ]
    notes = [
        Note("duplicate-time", f"Two readings at one time; the first was kept, case {n}.", 100 + n, 1)
        for n in range(12)
    ]
    notes += [Note("unit-guessed", f"Guess {n} about the unit; --unit overrides it.") for n in range(12)]
    return analysis(3.2, 60.0, caveats=caveats, notes=notes, cause=Cause.LEAK_AND_OUTGASSING)


def long_name() -> Analysis:
    return analysis(
        3.2,
        0.0,
        result=Result.INCONCLUSIVE,
        cause=Cause.UNRESOLVED,
        source="folder/" + "a-very-long-name-of-a-log-file-" * 6 + "Kühlraum.csv",
    )


def no_hold() -> Analysis:
    """Return the analysis of a log that is only a pumpdown."""
    time, pressure, over = readings(0.0, 0.0, hold=0.0)
    the_log = log(time, pressure, over)
    looked = "No usable hold: looked for a rise of at least 2 min after the lowest pressure."
    blocked = finding("H01", looked, Level.BLOCKS)
    return Analysis(
        log=the_log,
        system=SYSTEM,
        phases=phases(the_log, with_hold=False),
        pumpdowns=(pull(),),
        holds=(),
        basis=Basis(),
        joint=None,
        decisive=None,
        verdict=Verdict(
            Result.INCONCLUSIVE,
            None,
            replace(CRITERION, met=None, detail="no hold in the log", part="no hold"),
            (blocked,),
            (ALWAYS,),
            (finding("N03", "Shut the valve to the pump and log 30 min or more."),),
        ),
    )


def three_holds() -> Analysis:
    """Return an analysis with three holds that share one leak."""
    one = leaking_and_damp()
    fits = [
        hold_fit(4.0, damp_of_hold, hold=500.0, isolated=ISOLATED_AT + 600.0 * n)
        for n, damp_of_hold in enumerate((90.0, 40.0, 15.0))
    ]
    leak = Interval(4.0 * PER_MINUTE, 3.8 * PER_MINUTE, 4.1 * PER_MINUTE)
    holds = tuple(HoldReport(fit, impact(fit, SYSTEM), Cause.LEAK_AND_OUTGASSING) for fit in fits)
    joint = JointFit(
        leak, (0, 1, 2), tuple(f.leak for f in fits), 0.6, True, True, 0.1 * PER_MINUTE, 0.2 * PER_MINUTE
    )
    return replace(
        one,
        holds=holds,
        joint=joint,
        decisive=2,
        basis=basis(holds[2], Cause.LEAK_AND_OUTGASSING, joint),
    )


def crowded() -> Analysis:
    """Return an analysis with many short phases and many gauges with long names."""
    made = three_holds()
    order = "APHSPHVUPHSPHV"
    letters = dict(zip("APHSVU", Kind, strict=True))
    lengths = [60, 400, 600, 20, 300, 600, 10, 30, 200, 500, 40, 300, 480, 60]
    ends = np.cumsum(lengths, dtype=float)
    many = tuple(
        Phase(letters[letter], 0, 1, end - length, end, micron(300.0), micron(400.0))
        for letter, length, end in zip(order, lengths, ends.tolist(), strict=True)
    )
    others = {f"gauge number {n} with a long name": made.log.pressure * (1.2 + n / 5) for n in range(4)}
    the_log = replace(
        made.log, gauge="Pressure at the far end of the evaporator, channel 3 (absolute)", other_gauges=others
    )
    return replace(made, phases=many, log=the_log)


def nothing_readable() -> Analysis:
    """Return the analysis of a log that is over range throughout."""
    n = 50
    the_log = log(np.arange(n) * STEP, np.full(n, np.nan), np.ones(n, dtype=bool))
    phase = Phase(Kind.UNCLEAR, 0, n - 1, 0.0, float(the_log.time[-1]), math.nan, math.nan)
    return replace(no_hold(), log=the_log, phases=(phase,), pumpdowns=())


def one_reading() -> Analysis:
    the_log = log(np.array([0.0]), np.array([micron(300.0)]), np.zeros(1, dtype=bool))
    return replace(no_hold(), log=the_log, phases=(), pumpdowns=())


def unbounded() -> Analysis:
    """Return the analysis of a hold that bounds nothing."""
    made = bare()
    fit = replace(
        made.holds[0].fit,
        leak=Interval(0.0, 0.0, math.inf),
        detection_limit=math.inf,
        decision_threshold=math.inf,
        is_leak_seen=False,
    )
    report = replace(made.holds[0], fit=fit)
    return replace(made, holds=(report,), basis=basis(report, Cause.UNRESOLVED))


EVERY = [
    tight,
    leaking,
    leaking_and_damp,
    damp,
    over_range,
    bare,
    many_caveats,
    long_name,
    no_hold,
    three_holds,
    crowded,
    nothing_readable,
    one_reading,
    unbounded,
]
"""One of each kind of report."""
