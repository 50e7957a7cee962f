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
    rig: RigTest | None = None,
    warmed: Warmed | None = None,
    pressure: str | None = None,
    unit: str | None = None,
    time: str | None = None,
    temperature: str | None = None,
    **told: Any,
) -> Analysis:
    """Judge one log: of a file, a data frame, or read already.

    Parameters
    ----------
    source : PressureLog, DataFrame, str, path or file
        The readings.
    system : System, optional
        What is known about the job; or tell it by ``told``.
    criterion : Criterion, str or Path, optional
        Practice to hold it against. Where none is chosen, the longest shipped stand that the hold can answer.
    hold : tuple of float, optional
        Start and end of the hold to judge, instead of those found. [s]
    rig : RigTest, optional
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
        If the source is none of these, or a name in ``told`` is none of the system's.
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
    log = log_from(source, pressure=pressure, unit=unit, time=time, temperature=temperature)
    return pipeline.analyze(log, system_from(system, told), criterion, hold=hold, rig=rig, warmed=warmed)


def log_from(
    source: Any,
    *,
    pressure: str | None = None,
    unit: str | None = None,
    time: str | None = None,
    temperature: str | None = None,
) -> PressureLog:
    """Return the log in whatever a notebook has at hand.

    Parameters
    ----------
    source : PressureLog, DataFrame, str, path or file
        The readings.
    pressure, unit, time, temperature : str, optional
        As for `analyze`.

    Returns
    -------
    PressureLog
        The log.

    Raises
    ------
    LogError
        If there is no log in the source.
    TypeError
        If the source is none of these.
    """
    named = {"pressure": pressure, "unit": unit, "time": time, "temperature": temperature}
    if isinstance(source, PressureLog):
        given = [name for name, value in named.items() if value is not None]
        if given:
            raise TypeError(f"{', '.join(given)} belong to reading, and this log is read: leave them out")
        return source
    if hasattr(source, "columns") and hasattr(source, "to_csv"):
        return PressureLog.from_frame(source, pressure, unit, time=time, temperature=temperature)
    if not isinstance(source, (str, os.PathLike)) and not hasattr(source, "read"):
        raise TypeError(
            f"analyze takes a path, an open file, a DataFrame or a PressureLog, not {type(source).__name__}. "
            "Arrays of your own: decay.PressureLog.from_frame(pandas.DataFrame({'time s': t, 'pressure': p}), "
            "pressure='pressure', unit='micron')"
        )
    return read_log(source, ReadOptions(gauge=pressure, unit=unit, time_column=time, temperature=temperature))


def system_from(system: System | None, told: dict[str, Any]) -> System:
    """Return what is known about a job, from a system and further fields of it.

    Parameters
    ----------
    system : System or None
        What is known already.
    told : dict
        Fields of `System` by name.

    Returns
    -------
    System
        Both together; a field that is told anew takes the place of the system's.

    Raises
    ------
    TypeError
        If a name is none of the system's fields; the nearest is named.
    """
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
