"""What a notebook asks: any source of readings, the job told in text, one call."""

from __future__ import annotations

import difflib
import os
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from decay import pipeline
from decay.analysis import Analysis
from decay.fit.rig import RigTest
from decay.fit.warm import Warmed
from decay.judge.criteria import Criterion
from decay.log import read_log
from decay.log.pressure_log import PressureLog, ReadOptions
from decay.system import System


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
    """Judge one log: of a file, a data frame, or read already.

    Parameters
    ----------
    source : PressureLog, DataFrame, Series, str, path or file
        The readings; a series is indexed by its times.
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
        If the criterion cannot be used.

    Examples
    --------
    >>> found = analyze("sample_logs/leaking_slowly.csv", volume="12.15 L")  # doctest: +SKIP
    >>> found.verdict.result  # doctest: +SKIP
    <Result.FAIL: 'fail'>
    """
    named = {"pressure": pressure, "unit": unit, "time": time, "temperature": temperature}
    log = log_from(source, **named)
    known = system_from(system, told)
    if hold is not None and (isinstance(hold, str) or len(hold) != 2):
        raise TypeError(f"hold is {hold!r}; expected start and end in seconds since the first row: hold=(1800, 5400)")
    if rig is not None and not isinstance(rig, RigTest):
        alone = log_from(rig, **({} if isinstance(rig, PressureLog) else named))
        rig = pipeline.examine_rig(alone, replace(known, refrigerant=None))
    if warmed is not None and warmed not in list(Warmed):
        raise TypeError(f"warmed is {warmed!r}; expected one of: {', '.join(Warmed)}")
    return pipeline.analyze(log, known, criterion, hold=hold, rig=rig,
                            warmed=None if warmed is None else Warmed(warmed))


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
    return read_log(source, ReadOptions(gauge=pressure, unit=unit, time_column=time, temperature=temperature))


def system_from(system: System | None, told: dict[str, Any]) -> System:
    """Return what is known about a job; a field that is told anew takes the place of the system's.

    Raises
    ------
    TypeError
        If a name is none of the system's fields; the nearest is named.
    """
    if system is not None and not isinstance(system, System):
        raise TypeError(f"system is {system!r}; expected a decay.System. A criterion is told by name: criterion=...")
    known = [field.name for field in fields(System)]
    for name in told:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            meant = f"; did you mean {near[0]}?" if near else f"; known are {', '.join(known)}"
            raise TypeError(f"analyze has no argument {name!r}{meant}")
    if told.get("refrigerant") is not None:
        from decay.physics.refrigerant import lookup

        told = {**told, "refrigerant": lookup(told["refrigerant"]).name}
    return replace(system or System(), **told)
