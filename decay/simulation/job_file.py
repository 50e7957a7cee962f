"""Reads a job, and how its log is to be written, from a TOML file of quantities as people write them."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from decay import quantities
from decay.errors import CriterionError, DecayError
from decay.simulation.apparatus import Ambient, Gauge, Pump, Rig
from decay.simulation.job import Job, Step
from decay.simulation.kinds import Gas, Place, StepKind
from decay.simulation.sources import FreeWater, Leak, Pool, Surface
from decay.system import AllowKind
from decay.toml_file import not_known, read_toml

EXAMPLE = '''    name = "walk-in cooler, bay 4"
    volume = "6 L"
    seed = 7
    [[leak]]
    rate = "4 micron/min"
    [[step]]
    do = "pump"
    until = "300 micron"
    at_most = "2 h"
    [[step]]
    do = "hold"
    for = "30 min"'''

# What a key of the file becomes: the field, and how its value is read.
Reader = Callable[[Any], Any]


def _quantity(kind: str) -> Reader:
    def read(value: Any) -> float:
        if not isinstance(value, str):
            raise CriterionError(f"expected text with a unit, found {value!r}")
        return quantities.read_quantity(value, kind)

    return read


def _leak(kind: AllowKind, example: str) -> Reader:
    def read(value: Any) -> float:
        if not isinstance(value, str):
            raise CriterionError(f"expected text with a unit, like {example}, found {value!r}")
        stated = quantities.read_allowance(value)
        if stated.kind is not kind:
            raise CriterionError(f"{value!r} is a {stated.kind}, expected a {kind}, like {example}")
        return stated.value

    return read


def _number(factor: float = 1.0) -> Reader:
    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise CriterionError(f"expected a number without quotes, found {value!r}")
        return value * factor

    return read


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise CriterionError(f"expected a whole number that is not negative, found {value!r}")
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise CriterionError(f"expected true or false, found {value!r}")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise CriterionError(f"expected text in quotes, found {value!r}")
    return value


def _unit(value: Any) -> str:
    name = quantities.pressure_unit(_text(value))
    if name is None:
        raise CriterionError(f"{value!r} is not a unit of pressure")
    return name


def _moment(value: Any) -> datetime:
    if not isinstance(value, datetime) or value.tzinfo is not None:
        raise CriterionError(
            f"expected a local date and time without quotes, like 2026-03-14T08:30:00, found {value!r}")
    return value


def _choice(kind: type[Gas] | type[Place] | type[StepKind]) -> Reader:
    def read(value: Any) -> Any:
        try:
            return kind(value)
        except ValueError:
            raise CriterionError(f"{value!r} is none of {', '.join(kind)}") from None

    return read


def _display_steps(value: Any) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list) or not all(isinstance(pair, list) and len(pair) == 2 for pair in value):
        raise CriterionError('expected pairs like [["1000 micron", "1 micron"], ["10000 micron", "10 micron"]]')
    read = _quantity("pressure")
    return tuple((read(below), read(step)) for below, step in value)


_PRESSURE, _TIME, _PLACE, _GAS = _quantity("pressure"), _quantity("time"), _choice(Place), _choice(Gas)

_TABLES: dict[str, tuple[type, dict[str, tuple[str, Reader]]]] = {
    "rig": (Rig, {
        "volume": ("volume", _quantity("volume")), "hose_bore": ("hose_bore", _quantity("length")),
        "hose_length": ("hose_length", _quantity("length")), "isolate_at": ("isolate_at", _PLACE),
    }),
    "pump": (Pump, {"speed": ("speed", _quantity("flow")), "ultimate": ("ultimate", _PRESSURE)}),
    "ambient": (Ambient, {
        "temperature": ("temperature", _quantity("temperature")), "drift_k_per_h": ("drift", _number(1 / 3600)),
        "swing_k": ("swing", _number()), "swing_period": ("swing_period", _TIME),
        "pressure": ("pressure", _PRESSURE), "humidity": ("humidity", _quantity("fraction")),
    }),
    "gauge": (Gauge, {
        "place": ("place", _PLACE), "unit": ("unit", _unit), "interval": ("interval", _TIME),
        "jitter": ("jitter", _quantity("fraction")), "gain": ("gain", _number()), "lag": ("lag", _TIME),
        "water_response": ("water_response", _number()), "refrigerant_response": ("refrigerant_response", _number()),
        "noise": ("noise", _PRESSURE), "relative_noise": ("relative_noise", _quantity("fraction")),
        "wander": ("wander", _PRESSURE), "wander_time": ("wander_time", _TIME), "steps": ("steps", _display_steps),
        "digits": ("digits", _whole), "upper": ("upper", _PRESSURE), "over_range": ("over_range", _text),
    }),
    "leak": (Leak, {
        "rate": ("rate", _leak(AllowKind.RISE, '"4 micron/min"')), "place": ("place", _PLACE),
        "opens_at": ("opens_at", _TIME), "opening_time": ("opening_time", _TIME),
        "growth_per_k": ("growth", _number()),
    }),
    "surface": (Surface, {
        "rate_after_hour": ("rate_after_hour", _leak(AllowKind.THROUGHPUT, '"2e-5 Pa*m3/s"')),
        "exponent": ("exponent", _number()), "gas": ("gas", _GAS), "place": ("place", _PLACE),
        "onset": ("onset", _TIME), "kept_after_sweep": ("kept_after_sweep", _quantity("fraction")),
        "kept_after_vent": ("kept_after_vent", _quantity("fraction")),
        "activation_kj_per_mol": ("activation", _number(1e3)),
    }),
    "pool": (Pool, {
        "rise": ("amount", _PRESSURE), "time_constant": ("time_constant", _TIME), "gas": ("gas", _GAS),
        "place": ("place", _PLACE), "equilibrium": ("equilibrium", _PRESSURE),
        "activation_kj_per_mol": ("activation", _number(1e3)),
    }),
    "water": (FreeWater, {
        "mass": ("mass", _quantity("mass")), "area_cm2": ("area", _number(1e-4)),
        "evaporation_coefficient": ("evaporation_coefficient", _number()), "access": ("access", _quantity("flow")),
        "coupling_w_per_k": ("coupling", _number()), "place": ("place", _PLACE),
    }),
    "step": (Step, {
        "do": ("kind", _choice(StepKind)), "for": ("duration", _TIME), "at_most": ("duration", _TIME),
        "until": ("until", _PRESSURE), "fill_time": ("fill_time", _TIME),
        "temperature": ("temperature", _quantity("temperature")), "rig_warmed": ("is_rig_warmed", _flag),
    }),
}
_TOP: dict[str, tuple[str, Reader]] = {
    "name": ("name", _text), "seed": ("seed", _whole), "volume": ("volume", _quantity("volume")),
    "initial_gas": ("initial_gas", _GAS), "initial_pressure": ("initial_pressure", _PRESSURE),
}
_LOG: dict[str, Reader] = {"file": _text, "dialect": _text, "unit": _unit, "started": _moment}
_SINGLE = ("rig", "pump", "ambient", "gauge")
_MANY = {"leak": "leaks", "surface": "surfaces", "pool": "pools", "water": "waters", "step": "steps"}


@dataclass(frozen=True, slots=True)
class JobFile:
    """What a job file says."""

    job: Job  # the job; what the file leaves out is as in the dataclasses
    about: str = ""  # what it shows, in a sentence or two
    # Its table ``log``: ``file``, ``dialect``, ``unit`` and ``started``, as far as given
    log: Mapping[str, Any] = field(default_factory=dict)
    # Its table ``expected``, unread: it travels to the truth beside the log
    expected: Mapping[str, Any] = field(default_factory=dict)


def read_job_file(path: str | os.PathLike[str]) -> JobFile:
    """Read a job file.

    Parameters
    ----------
    path : str or path-like
        A TOML file.

    Raises
    ------
    CriterionError
        If the file cannot be used, with the place in it and an example that works.
    OSError
        If it cannot be opened.
    """
    where = os.fspath(path)
    try:
        data = read_toml(path)
    except ValueError as problem:
        raise _error(where, "text", f"not a TOML file: {problem}") from problem
    log, expected = data.pop("log", {}), data.pop("expected", {})
    about = _value(_text, data.pop("about", ""), where, "about")
    for label, table in (("log", log), ("expected", expected)):
        if not isinstance(table, Mapping):
            raise _error(where, label, "expected a table")
    for key in log:
        if key not in _LOG:
            raise _error(where, f"log, {key}", not_known(key, _LOG))
    read = {key: _value(_LOG[key], value, where, f"log, {key}") for key, value in log.items()}
    return JobFile(job_from_table(data, where), about, read, expected)


def job_from_table(data: Mapping[str, Any], where: str = "job") -> Job:
    """Return the job that the tables of a job file describe.

    Parameters
    ----------
    data : mapping
        The tables, without ``log`` and ``expected``.
    where : str
        Name of the file, for messages.

    Raises
    ------
    CriterionError
        If a table cannot be used.
    """
    fields: dict[str, Any] = {}
    for key, value in data.items():
        if key in _SINGLE:
            fields[key] = _built(key, value, where, key)
        elif key in _MANY:
            if not isinstance(value, list):
                raise _error(where, key, f"expected tables headed [[{key}]]")
            fields[_MANY[key]] = tuple(_built(key, item, where, f"{key} {i}") for i, item in enumerate(value, 1))
        elif key in _TOP:
            name, read = _TOP[key]
            fields[name] = _value(read, value, where, key)
        else:
            raise _error(where, key, not_known(key, [*_TOP, *_SINGLE, *_MANY]))
    try:
        job = Job(**fields)
        # A pool is told by the rise that all of it would make behind the closed valve.
        pools = tuple(
            replace(p, amount=p.amount * job.isolated_volume) for p in job.pools)
        return Job(**{**fields, "pools": pools})
    except DecayError as problem:
        raise _error(where, "job", str(problem)) from problem


def _built(table: str, data: Any, where: str, label: str) -> Any:
    kind, keys = _TABLES[table]
    if not isinstance(data, Mapping):
        raise _error(where, label, "expected a table")
    fields: dict[str, Any] = {}
    for key, value in data.items():
        if key not in keys:
            raise _error(where, f"{label}, {key}", not_known(key, keys))
        name, read = keys[key]
        fields[name] = _value(read, value, where, f"{label}, {key}")
    try:
        return kind(**fields)
    except TypeError as problem:
        missing = ", ".join(str(problem).rpartition(":")[2].replace("'", "").split())
        raise _error(where, label, f"incomplete, missing {missing}") from problem
    except DecayError as problem:
        raise _error(where, label, str(problem)) from problem


def _value(read: Reader, value: Any, where: str, label: str) -> Any:
    try:
        return read(value)
    except DecayError as problem:
        raise _error(where, label, str(problem)) from problem


def _error(where: str, label: str, found: str) -> CriterionError:
    return CriterionError(f"{where}: {label}: {found}.\n       A job that works:\n{EXAMPLE}")
