"""What a notebook asks: any source of readings, the job told in text, one call."""

from __future__ import annotations

import difflib
import os
from collections.abc import Iterable
from dataclasses import fields as fields_of
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from decay import pipeline
from decay.analysis import Analysis
from decay.judge.criteria import Criterion
from decay.judge.criteria import load_criterion as load_criterion
from decay.log import ReadOptions, read_log
from decay.log.pressure_log import PressureLog
from decay.several.rig import RigTest
from decay.several.warm import Warmed
from decay.system import System, in_si

if TYPE_CHECKING:
    from decay.planning import Plan
    from decay.simulation import Job, SimulatedRun

# What a plan and an invented job take beside the fields of the system, each with its kind of quantity.
PLANNED = {
    "pump": "flow", "ultimate": "pressure", "target": "pressure", "water": "mass", "heating": "power",
    "damp": "pressure", "damp_time": "duration", "gauge_noise": "pressure", "gauge_step": "pressure",
    "interval": "duration",
}
FIELDS = {"pressure": "gauge", "time": "time_column"}
"""Fields of `ReadOptions` whose names `analyze` shortens."""
INVENTED = {
    "volume": "volume", "leak": "rise_rate", "damp": "pressure", "damp_time": "duration", "water": "mass",
    "target": "pressure", "hold": "duration", "ambient": "temperature", "interval": "duration",
}


def analyze(
    source: Any,
    system: System | None = None,
    criterion: Criterion | str | Path | None = None,
    *,
    hold: tuple[float, float] | None = None,
    rig: Any = None,
    warmed: Warmed | str | None = None,
    pressure: str | None = None,
    unit: str | None = None,
    time: str | None = None,
    temperature: str | None = None,
    **told: Any,
) -> Analysis:
    """Judge one log: of a file, a data frame, or read already; or one job, by its record.

    Parameters
    ----------
    source : PressureLog, DataFrame, Series, SimulatedRun, str, path or file
        The readings; a series is indexed by its times. A path to a record, ``"job.toml"``, stands for its logs and
        what it tells of them; the answer is the job's, and what is told here goes first.
    system : System, optional
        What is known about the job; or tell it by ``told``.
    criterion : Criterion, str or Path, optional
        Practice to hold it against. Where none is chosen, the longest shipped stand that the hold can answer.
    hold : tuple of float, optional
        Start and end of the hold to judge, instead of those found. [s]
    rig : RigTest, or what ``source`` may be, optional
        The rig held alone; its leak is taken off.
    warmed : Warmed, optional
        What was warmed for a later hold, where the log shows a cold and a warm one.
    pressure, time, temperature : str, optional
        Names of the columns; where one is not named, its content decides.
    unit : str, optional
        Unit of the pressures, such as ``"micron"``.
    **told : str or quantity
        Fields of `System`, as text with a unit: ``volume="6.5 L"``, ``refrigerant="R134a"``, ``ambient="23 degC"``.

    Returns
    -------
    Analysis
        The answer: `Analysis.summary`, `Analysis.plot`, `Analysis.to_dict`, `Analysis.to_frame`.

    Raises
    ------
    LogError
        If there is no log in the source.
    TypeError
        If an argument is none of these, or a name in ``told`` is none of the system's.
    UnitError, RangeError
        If a quantity cannot be read, or makes no sense.
    CriterionError
        If the criterion or the record cannot be used.

    Examples
    --------
    >>> found = analyze("sample_logs/leaking_slowly.csv", volume="12.15 L")  # doctest: +SKIP
    >>> found.verdict.result  # doctest: +SKIP
    <Result.FAIL: 'fail'>
    """
    named = {"pressure": pressure, "unit": unit, "time": time, "temperature": temperature}
    if isinstance(source, (str, os.PathLike)) and Path(source).suffix.lower() == ".toml":
        if hold is not None:
            raise TypeError("hold points into one log: write it into the record, beside the log's file")
        return _of_record(Path(source), system, told, criterion, rig, warmed, named)
    known = system_from(system, told, others=("criterion", "hold", "rig", "warmed", *named))
    log = log_from(source, **named)
    if hold is not None and (isinstance(hold, str) or len(hold) != 2):
        raise TypeError(f"hold is {hold!r}; expected start and end in seconds since the first row: hold=(1800, 5400)")
    return pipeline.analyze_log(log, known, criterion, hold=hold, rig=_rig(rig, known, named), warmed=_warmed(warmed))


def _rig(rig: Any, known: System, named: dict[str, str | None]) -> RigTest | None:
    if rig is None or isinstance(rig, RigTest):
        return rig
    alone = log_from(rig, **({} if isinstance(rig, PressureLog) else named))
    return pipeline.examine_rig(alone, replace(known, refrigerant=None))


def _warmed(warmed: Warmed | str | None) -> Warmed | None:
    if warmed is not None and warmed not in list(Warmed):
        raise TypeError(f"warmed is {warmed!r}; expected one of: {', '.join(Warmed)}")
    return None if warmed is None else Warmed(warmed)


def _of_record(
    path: Path, system: System | None, told: dict[str, Any], criterion: Criterion | str | Path | None, rig: Any,
    warmed: Warmed | str | None, named: dict[str, str | None],
) -> Analysis:
    """Judge the job of a record; what was told beside it goes first."""
    from decay.job_record import read_record
    from decay.stretch import stretch_of

    record = read_record(path)
    known = system_from(system, {**(record.system() if system is None else {}), **told})
    given = {FIELDS.get(name, name): value for name, value in named.items() if value is not None}
    reading = ReadOptions(**{**record.reading, **given})
    logs = [entry.log(reading) for entry in record.entries]
    is_told = system is not None or "ambient" in told
    systems = [known if is_told or entry.ambient is None else replace(known, ambient=entry.ambient)
               for entry in record.entries]
    holds = [None if entry.hold is None else stretch_of(entry.hold, log)
             for entry, log in zip(record.entries, logs, strict=True)]
    if rig is None and record.rig is not None:
        rig = record.rig.log(reading)
    return pipeline.analyze_job(
        logs, systems, record.facts.get("criterion") if criterion is None else criterion,
        rig=_rig(rig, systems[0], named), warmed=_warmed(warmed or record.warmed or None), holds=holds,
    )[-1]


def plan(*, criterion: Criterion | str | Path | None = None, hose: str | tuple[str, ...] = (), **told: Any) -> Plan:
    """Plan a job before it begins: how long to pull and to hold, and what a hold would show.

    Parameters
    ----------
    criterion : Criterion, str or Path, optional
        Practice to meet.
    hose : str or tuple of str
        The hose to the pump, ``"6 mm x 1.5 m"``, or hoses side by side.
    **told : str or quantity
        Fields of `System` (``volume="6.5 L"``, ``allow="2 micron/min"``, ``ambient="23 degC"``), and of the plan:
        ``pump="6 cfm"``, ``ultimate``, ``target``, ``water``, ``heating``, ``damp``, ``damp_time``, ``gauge_noise``,
        ``gauge_step``, ``interval``.

    Raises
    ------
    TypeError
        If a name in ``told`` is none of these.
    UnitError, RangeError
        If a quantity cannot be read, makes no sense, or needs another one.
    FitError
        If the criterion's hold has too few readings of this gauge.
    """
    from decay.planning import intent_of, make_plan, parse_hose

    own = {name: in_si(name, told.pop(name), kind) for name, kind in PLANNED.items() if name in told}
    system = system_from(None, told, "plan", PLANNED)
    practice = criterion if isinstance(criterion, Criterion) else load_criterion(criterion)
    hoses = [parse_hose(text) for text in ((hose,) if isinstance(hose, str) else hose)]
    return make_plan(*intent_of(system, practice, hoses=hoses, **own))


def simulate(job: Job | str | None = None, *, seed: int | None = None, **told: Any) -> SimulatedRun:
    """Run an invented evacuation of known truth; `analyze` takes it like a log.

    Parameters
    ----------
    job : Job or str, optional
        A job, or the name of a preset; a small dry system if left out.
    seed : int, optional
        Seed of the gauge's noise: the same seed, the same readings. [-]
    **told : str or quantity
        What of the job is another: ``volume="3 L"``, ``leak="5 micron/min"``, ``damp="600 micron"``, ``damp_time``,
        ``water="5 g"``, ``target``, ``hold="20 min"``, ``ambient``, ``interval``.

    Raises
    ------
    TypeError
        If a name in ``told`` is none of these.
    UnitError, RangeError
        If a quantity cannot be read or makes no sense, or there is no such preset.

    Examples
    --------
    >>> made = simulate(leak="5 micron/min", hold="5 min", seed=1)
    >>> made.holds[0].end - made.holds[0].start
    300.0
    """
    from decay.simulation import Job, JobFile, adjusted, run
    from decay.simulation.ready_jobs import preset

    _refuse_unknown("simulate", told, INVENTED)
    own = {name: in_si(name, value, INVENTED[name]) for name, value in told.items()}
    if own.get("volume") is not None:
        own["volume"] = own["volume"].value
    start = job if isinstance(job, Job) else (JobFile(Job(name="invented")) if job is None else preset(job)).job
    return run(adjusted(start, seed=seed, **own))


def log_from(
    source: Any,
    *,
    pressure: str | None = None,
    unit: str | None = None,
    time: str | None = None,
    temperature: str | None = None,
) -> PressureLog:
    """Return the log in whatever a notebook has at hand, by the arguments of `analyze`.

    Raises
    ------
    LogError
        If there is no log in the source.
    TypeError
        If the source is none of what `analyze` takes.
    """
    named = {"pressure": pressure, "unit": unit, "time": time, "temperature": temperature}
    if isinstance(source, PressureLog):
        given = [name for name, value in named.items() if value is not None]
        if given:
            raise TypeError(f"this log is read already: leave out {', '.join(given)}")
        return source
    if hasattr(source, "to_log"):  # an invented run
        return source.to_log()  # type: ignore[no-any-return]
    if hasattr(source, "to_frame") and hasattr(source, "index"):  # a series
        pressure = str(source.name or "pressure") if pressure is None else pressure
        source = source.to_frame(pressure)
    if hasattr(source, "columns") and hasattr(source, "to_csv"):
        return PressureLog.from_frame(source, pressure, unit, time=time, temperature=temperature)
    if isinstance(source, str) and "\n" in source:
        raise TypeError("a text of several lines is no path: give the readings themselves as io.StringIO(text)")
    if not isinstance(source, (str, os.PathLike)) and not hasattr(source, "read"):
        raise TypeError(
            f"analyze takes a path, an open file, a DataFrame, a Series or a PressureLog, not {type(source).__name__}. "
            "Arrays of your own: decay.PressureLog.from_frame(pandas.DataFrame({'time s': t, 'pressure': p}), "
            "pressure='pressure', unit='micron')"
        )
    fields: dict[str, Any] = {FIELDS.get(name, name): value for name, value in named.items()}
    return read_log(source, ReadOptions(**fields))


def system_from(
    system: System | None, told: dict[str, Any], function: str = "analyze", others: Iterable[str] = ()
) -> System:
    """Return what is known about a job; a field that is told anew takes the place of the system's.

    Raises
    ------
    TypeError
        If a name is none of the system's fields, nor of the ``others`` that the function takes; the nearest is named.
    """
    if system is not None and not isinstance(system, System):
        raise TypeError(f"system is {system!r}; expected a decay.System. A criterion is given by name: criterion=...")
    _refuse_unknown(function, told, [*(field.name for field in fields_of(System)), *others])
    if told.get("refrigerant") is not None:
        from decay.physics.refrigerant_table import lookup

        told = {**told, "refrigerant": lookup(told["refrigerant"]).name}
    if isinstance(told.get("hose"), str):
        from decay.impact.volume_told import hose_sizes

        told = {**told, "hose": hose_sizes(told["hose"])}
    return replace(system or System(), **told)


def _refuse_unknown(function: str, told: Iterable[str], known: Iterable[str]) -> None:
    known = list(known)
    for name in told:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            meant = f"; did you mean {near[0]}?" if near else f"; known are {', '.join(known)}"
            raise TypeError(f"{function} has no argument {name!r}{meant}")
