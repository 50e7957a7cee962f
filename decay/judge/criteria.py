"""The criteria of practice: numbers with their sources, read from data, shipped or the user's own."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from decay import quantities
from decay.constants import DAY, HIGHEST_READING
from decay.errors import CriterionError, DecayError
from decay.toml_file import read_toml

EXAMPLE = """\
       title = "Our own stand"
       source = "shop manual, page 12"
       target = "300 micron"
       hold = "20 min"
       pass_up_to = "500 micron\""""
"""A criterion file that works, shown with each error about one."""

WATCHES = ("throughout", "at the end")


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion of practice.

    Parameters
    ----------
    name, title, short : str
        Its key, its name in words, and the same in two or three.
    source, edition, equipment, standing : str
        Where the numbers come from, which edition, for which class of equipment, and how sure that is.
    hold : float
        Length of the hold that it asks for. [s]
    target : float or None
        Pressure to reach before isolation. [Pa]
    passes, fails : float or None
        Lines that the hold must stay under to pass, and reaches to fail; between the two the source says nothing. [Pa]
    passes_on_line, fails_on_line : bool
        Whether a reading on the line itself passes, or fails.
    is_watched_throughout : bool
        The lines hold at every moment; otherwise at the end of the hold's length only.
    rise : float or None
        Rise that is allowed over the hold. [Pa]
    rise_on_line : bool
        Whether exactly that rise passes.
    no_change : bool
        No rise at all, to the resolution of the gauge.
    ambient_above : float or None
        Temperature that the surroundings must exceed. [K]
    evacuations : int
        Number of pulls to the target. [-]
    pump_on : float
        Pumping time after the target was reached. [s]
    teaching_only : bool
        Too coarse for a verdict to rest on.
    between, unquantified, warning : str
        What the source says between two lines, what it asks for without a number, and what is wrong with it.
    """

    name: str
    title: str
    short: str
    source: str
    edition: str
    equipment: str
    standing: str
    hold: float
    target: float | None = None
    passes: float | None = None
    fails: float | None = None
    passes_on_line: bool = True
    fails_on_line: bool = False
    is_watched_throughout: bool = True
    rise: float | None = None
    rise_on_line: bool = True
    no_change: bool = False
    ambient_above: float | None = None
    evacuations: int = 1
    pump_on: float = 0.0
    teaching_only: bool = False
    between: str = ""
    unquantified: str = ""
    warning: str = ""


def criterion_names() -> tuple[str, ...]:
    """Return the keys of the shipped criteria, those that judge unasked first."""
    return tuple(_shipped()[0])


def default_criteria() -> tuple[Criterion, ...]:
    """Return the stands for built circuits that judge where no criterion was chosen, the longest first."""
    shipped, default = _shipped()
    return tuple(shipped[key] for key in default)


def load_criterion(name_or_path: str | Path | None = None) -> Criterion:
    """Return a shipped criterion by its key, or the user's own from a TOML file.

    Parameters
    ----------
    name_or_path : str or Path, optional
        Key of a shipped criterion, or path of a file that ends in ``.toml``; ``None`` for the longest of
        `default_criteria`.

    Raises
    ------
    CriterionError
        If there is no such criterion, or the file cannot be used.

    Examples
    --------
    >>> load_criterion("field-line").standing
    'common practice, no source'
    """
    shipped = _shipped()[0]
    if name_or_path is None:
        return default_criteria()[0]
    text = str(name_or_path)
    if text in shipped:
        return shipped[text]
    if text.endswith(".toml") or Path(text).is_file():
        return _from_file(Path(text))
    near = difflib.get_close_matches(text, shipped, n=3, cutoff=0.3)
    nearest = f"Nearest: {', '.join(near)}. " if near else ""
    raise CriterionError(
        f'there is no criterion "{text}".\n'
        f"       {nearest}All: {', '.join(shipped)}.\n"
        "       For one of your own give a file that ends in .toml."
    )


@cache
def _shipped() -> tuple[dict[str, Criterion], tuple[str, ...]]:
    """Return the shipped criteria by key, and the keys of those that judge unasked."""
    data = tomllib.loads(resources.files("decay.judge").joinpath("criteria.toml").read_text(encoding="utf-8"))
    default = data.pop("default")
    keys = [*default, *(key for key in data if key not in default)]
    return {key: criterion_from(data[key], key, "criteria.toml") for key in keys}, tuple(default)


def _from_file(path: Path) -> Criterion:
    try:
        data = read_toml(path)
    except OSError as problem:
        raise CriterionError(
            f"{path}: cannot be read ({problem.strerror}).\n"
            "       Expected a TOML file with a criterion, for example:\n" + EXAMPLE
        ) from problem
    except ValueError as problem:
        raise CriterionError(
            f"{path}: not a TOML file: {problem}.\n       Expected key = value lines, for example:\n" + EXAMPLE
        ) from problem
    return criterion_from(data, path.stem, str(path))


_TEXTS = ("title", "short", "source", "edition", "equipment", "standing", "between", "unquantified", "warning")
_PRESSURES = ("target", "pass_up_to", "pass_below", "fail_above", "fail_from", "rise_up_to", "rise_below")
LARGEST = {"pressure": HIGHEST_READING, "time": 366.0 * DAY, "temperature": 1000.0}
"""No line lies above the air outside, no hold lasts longer than a year, and nothing is evacuated at red heat. [SI]"""
_LIMITS = {"pressure": "at most 1.2 atmospheres", "time": "at most a year", "temperature": "at most 1000 K"}
_KINDS = {**dict.fromkeys(_PRESSURES, "pressure"), "hold": "time", "pump_on": "time", "ambient_above": "temperature"}
_SWITCHES = ("teaching_only", "no_change")
KEYS = (*_TEXTS, *_KINDS, "evacuations", "watch", *_SWITCHES)
"""Every key that a criterion may have."""


def criterion_from(data: Mapping[str, Any], name: str, where: str) -> Criterion:
    """Return the criterion that one table of a TOML file states.

    Parameters
    ----------
    data : mapping
        Keys and values of the table; quantities are text with their unit.
    name, where : str
        Key to give it, and the file, for messages.

    Raises
    ------
    CriterionError
        If a key is unknown, missing or contradicted, or a value cannot be used.
    """
    for key in data:
        if key not in KEYS:
            near = difflib.get_close_matches(key, KEYS, n=3)
            raise _error(where, f'unknown key "{key}"', f"Expected one of: {', '.join(near or KEYS)}.")
    if "hold" not in data:
        raise _error(where, 'no key "hold"', "Expected the length of the hold.")
    texts: dict[str, Any] = {"title": name, "source": where, "standing": "the user's own"}
    texts |= {key: _text(data, key, where) for key in _TEXTS if key in data}
    told = {key: _quantity(data[key], key, kind, where) for key, kind in _KINDS.items() if key in data}
    switches: dict[str, Any] = {key: _switch(data, key, where) for key in _SWITCHES}
    passes, fails, rise = _lines(data, told, where)
    if passes is None and rise is None and not switches["no_change"]:
        raise _error(where, "nothing that a hold could meet or miss",
                     "Expected pass_up_to, pass_below, rise_up_to, rise_below or no_change.")
    watch = data.get("watch", WATCHES[0])
    if watch not in WATCHES:
        raise _error(where, f"watch is {watch!r}", f"Expected one of: {', '.join(WATCHES)}.")
    evacuations = data.get("evacuations", 1)
    if isinstance(evacuations, bool) or not isinstance(evacuations, int) or evacuations < 1:
        raise _error(where, f"evacuations is {evacuations!r}", "Expected a whole number, 1 or more.")
    return Criterion(
        name=name,
        hold=told["hold"],
        target=told.get("target"),
        passes=passes,
        fails=passes if fails is None else fails,
        passes_on_line="pass_up_to" in data,
        fails_on_line="fail_from" in data or ("pass_below" in data and fails is None),
        is_watched_throughout=watch == WATCHES[0],
        rise=rise,
        rise_on_line="rise_up_to" in data,
        ambient_above=told.get("ambient_above"),
        evacuations=evacuations,
        pump_on=told.get("pump_on", 0.0),
        **dict.fromkeys(("edition", "equipment"), "") | {"short": texts["title"]} | texts | switches,
    )


def _lines(
    data: Mapping[str, Any], told: Mapping[str, float], where: str
) -> tuple[float | None, float | None, float | None]:
    """Return the lines under which a hold passes and from which it fails, and the rise that is allowed. [Pa]"""
    for one, other in (("pass_up_to", "pass_below"), ("fail_above", "fail_from"), ("rise_up_to", "rise_below")):
        if one in data and other in data:
            raise _error(where, f'both "{one}" and "{other}"', "Expected one of the two.")
    passes, fails = told.get("pass_up_to", told.get("pass_below")), told.get("fail_above", told.get("fail_from"))
    if fails is not None and (passes is None or fails < passes):
        raise _error(where, "a failing line without a passing line under it", "Expected pass_up_to below fail_above.")
    if passes is not None and told.get("target", 0.0) > passes:
        raise _error(where, "a target above the line that passes", "Expected a target at or below it.")
    return passes, fails, told.get("rise_up_to", told.get("rise_below"))


def _error(where: str, found: str, expected: str) -> CriterionError:
    return CriterionError(f"{where}: {found}.\n       {expected} A criterion that works:\n{EXAMPLE}")


def _text(data: Mapping[str, Any], key: str, where: str) -> str:
    value = data[key]
    if not isinstance(value, str):
        raise _error(where, f"{key} is {value!r}", "Expected text in quotes.")
    return value


def _switch(data: Mapping[str, Any], key: str, where: str) -> bool:
    value = data.get(key, False)
    if not isinstance(value, bool):
        raise _error(where, f"{key} is {value!r}", "Expected true or false, without quotes.")
    return value


_SHOWN = {"pressure": '"500 micron"', "time": '"10 min"', "temperature": '"2 degC"'}


def _quantity(value: Any, key: str, kind: str, where: str) -> float:
    if not isinstance(value, str):
        raise _error(where, f"{key} is {value!r}", f"Expected text with a unit, like {_SHOWN[kind]}.")
    try:
        number = quantities.read_quantity(value, kind)
    except DecayError as problem:
        raise _error(where, f"{key}: {problem}", f"Expected text with a unit, like {_SHOWN[kind]}.") from problem
    if not number > 0 or number == float("inf"):
        raise _error(where, f"{key} is {value!r}", "Expected a positive number.")
    if number > LARGEST[kind]:
        raise _error(where, f"{key} is {value!r}", f"Expected {_LIMITS[kind]}.")
    return number
