"""Which refrigerants are known, by whatever name: the packaged table, and the rows of one of them."""

from __future__ import annotations

import csv
import difflib
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from decay.arrays import FloatArray, frozen
from decay.errors import RangeError

# What people also call them, keyed as `_key` writes it.
_ALSO = {
    "PROPANE": "290",
    "ISOBUTANE": "600A",
    "AMMONIA": "717",
    "CO2": "744",
    "CARBONDIOXIDE": "744",
    "PROPYLENE": "1270",
    "PROPENE": "1270",
    "1234ZE": "1234ZEE",
    "507": "507A",
}


@dataclass(frozen=True, slots=True, eq=False)
class Isotherm:
    """The vapour at one temperature, from no density up to saturation, or above the critical point to a dense fluid."""

    temperature: float  # temperature [K]
    is_saturated: bool  # the last point is the saturated vapour [-]
    # Rising density, pressure and viscosity there, shape (m,) [kg/m³, Pa, Pa·s]
    density: FloatArray
    pressure: FloatArray
    viscosity: FloatArray

    def __post_init__(self) -> None:
        for name in ("density", "pressure", "viscosity"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class Refrigerant:
    """One refrigerant of the packaged table."""

    name: str  # as the table spells it
    is_blend: bool  # a blend with a glide, or nearly without: its standing pressure is the bubble point
    molar_mass: float  # molar mass [kg/mol]
    # Critical point [K, Pa]
    critical_temperature: float
    critical_pressure: float
    temperature: FloatArray  # of the rows, shape (n,) [K]
    # Saturated state; NaN where there is none, shape (n,) [Pa, kg/m³, Pa·s]
    standing_pressure: FloatArray
    vapour_density: FloatArray
    vapour_viscosity: FloatArray
    thin_viscosity: FloatArray  # viscosity of the vapour near atmospheric pressure, shape (n,) [Pa·s]
    # The vapour by density, in order of temperature; none where a blend's saturation could not be solved
    vapours: tuple[Isotherm, ...]

    def __post_init__(self) -> None:
        for name in ("temperature", "standing_pressure", "vapour_density", "vapour_viscosity", "thin_viscosity"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


def refrigerant_names() -> tuple[str, ...]:
    """Return the names in the table.

    Returns
    -------
    tuple of str
        In the table's order.

    Examples
    --------
    >>> "R-134a" in refrigerant_names()
    True
    """
    return tuple(row["name"] for row in _rows("refrigerants.csv"))


@cache
def lookup(name: str) -> Refrigerant:
    """Return a refrigerant by name, however it is written.

    Parameters
    ----------
    name : str
        ``"R134a"``, ``"R-134a"``, ``"r 134A"``, ``"HFC-134a"``, ``"propane"``.

    Returns
    -------
    Refrigerant
        Its part of the table.

    Raises
    ------
    RangeError
        If the table does not have it; the message lists the nearest names.

    Examples
    --------
    >>> lookup("r 134A").name
    'R-134a'
    """
    known = {_key(known_name): known_name for known_name in refrigerant_names()}
    key = _key(name)
    spelled = known.get(_ALSO.get(key, key))
    if spelled is None:
        near = [known[k] for k in difflib.get_close_matches(key, known, n=4, cutoff=0.5)]
        hint = f"nearest are {', '.join(near)}" if near else f"known are {', '.join(refrigerant_names())}"
        raise RangeError(f'refrigerant "{name}" is not in the table: {hint}. Write it like "R134a"')
    head = next(row for row in _rows("refrigerants.csv") if row["name"] == spelled)
    states = [row for row in _rows("refrigerant_states.csv") if row["name"] == spelled]
    critical_temperature = float(head["critical_temperature_k"])

    def column(title: str) -> FloatArray:
        return np.array([float(row[title] or "nan") for row in states])

    return Refrigerant(
        name=spelled,
        is_blend=head["is_blend"] == "yes",
        molar_mass=float(head["molar_mass_kg_per_mol"]),
        critical_temperature=critical_temperature,
        critical_pressure=float(head["critical_pressure_pa"]),
        temperature=column("temperature_k"),
        standing_pressure=column("standing_pressure_pa"),
        vapour_density=column("vapour_density_kg_per_m3"),
        vapour_viscosity=column("vapour_viscosity_pa_s"),
        thin_viscosity=column("thin_viscosity_pa_s"),
        vapours=_vapours(spelled, critical_temperature),
    )


def _vapours(spelled: str, critical_temperature: float) -> tuple[Isotherm, ...]:
    points: dict[float, list[tuple[float, ...]]] = {}
    for line in _lines("refrigerant_vapours.csv"):
        if line.startswith(f"{spelled},"):
            temperature, *point = map(float, line.split(",")[1:])
            points.setdefault(temperature, []).append(tuple(point))
    return tuple(
        Isotherm(temperature, temperature < critical_temperature, *np.array(rows).T)
        for temperature, rows in sorted(points.items())
    )


@cache
def _rows(file: str) -> tuple[dict[str, str], ...]:
    return tuple(csv.DictReader(_lines(file)))


def _lines(file: str) -> list[str]:
    text = files("decay.physics").joinpath(file).read_text(encoding="utf-8")
    return [line for line in text.splitlines() if not line.startswith("#")]


def _key(name: str) -> str:
    bare = re.sub(r"[^A-Z0-9]", "", name.upper())
    return re.sub(r"^(?:R|HFC|HFO|HCFC|CFC|HC)(?=\d)", "", bare)
