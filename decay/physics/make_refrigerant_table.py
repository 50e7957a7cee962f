"""Makes the packaged refrigerant tables from CoolProp: `python -m decay.physics.make_refrigerant_table [FOLDER]`.

Three files: `refrigerants.csv` (one row a refrigerant), `refrigerant_states.csv` (one row a temperature) and
`refrigerant_vapours.csv` (the vapour by density, at each of those temperatures). A blend's standing pressure is its
bubble point, for liquid lies in the system; its saturated vapour is at the dew point.
"""

from __future__ import annotations

import csv
import sys
from pathlib import Path
from typing import Any, TextIO

from decay.constants import STANDARD_ATMOSPHERE

# As the trade writes it, and as CoolProp does. Blends are CoolProp's predefined compositions, computed as mixtures.
# R-502 and R-1233zd(E) are left out: CoolProp has no viscosity for R-115 and for R-1233zd(E).
REFRIGERANTS = {
    "R-12": "R12",
    "R-22": "R22",
    "R-23": "R23",
    "R-32": "R32",
    "R-123": "R123",
    "R-125": "R125",
    "R-134a": "R134a",
    "R-143a": "R143a",
    "R-152a": "R152A",
    "R-290": "Propane",
    "R-404A": "R404A.mix",
    "R-407A": "R407A.mix",
    "R-407C": "R407C.mix",
    "R-407F": "R407F.mix",
    "R-407H": "R407H.mix",
    "R-410A": "R410A.mix",
    "R-422D": "R422D.mix",
    "R-427A": "R427A.mix",
    "R-448A": "R448A.mix",
    "R-449A": "R449A.mix",
    "R-450A": "R450A.mix",
    "R-452A": "R452A.mix",
    "R-452B": "R452B.mix",
    "R-454A": "R454A.mix",
    "R-454B": "R454B.mix",
    "R-454C": "R454C.mix",
    "R-455A": "R455A.mix",
    "R-507A": "R507A.mix",
    "R-513A": "R513A.mix",
    "R-600a": "IsoButane",
    "R-717": "Ammonia",
    "R-744": "CarbonDioxide",
    "R-1234yf": "R1234yf",
    "R-1234ze(E)": "R1234ze(E)",
    "R-1270": "Propylene",
}
TEMPERATURES = [233.15 + 5.0 * i for i in range(23)]  # K; -40 to 70 degC
NEAR_CRITICAL = 0.985  # of the critical temperature: a blend's bubble point is not sought above it

REFRIGERANT_COLUMNS = (
    "name",
    "is_blend",
    "molar_mass_kg_per_mol",
    "critical_temperature_k",
    "critical_pressure_pa",
)
STATE_COLUMNS = (
    "name",
    "temperature_k",
    "standing_pressure_pa",
    "vapour_density_kg_per_m3",
    "vapour_viscosity_pa_s",
    "thin_viscosity_pa_s",
)
VAPOUR_COLUMNS = ("name", "temperature_k", "density_kg_per_m3", "pressure_pa", "viscosity_pa_s")
SHARES = [i / 8 for i in range(1, 9)]  # of the saturated vapour's density
ABOVE_CRITICAL = [i / 20 for i in range(1, 41)]  # of the critical density: a usual fill is below twice that


def refrigerant_row(name: str, fluid: str) -> list[str]:
    """Return one row of `refrigerants.csv`, of a refrigerant as the trade and as CoolProp write it."""
    import CoolProp.CoolProp as CP  # noqa: N817 - seconds to load; only here

    state = CP.AbstractState("HEOS", fluid)
    if fluid.endswith(".mix"):
        stable = [point for point in state.all_critical_points() if point.stable]
        critical = max(stable, key=lambda point: point.T)
        temperature, pressure = critical.T, critical.p
    else:
        temperature, pressure = state.T_critical(), state.p_critical()
    return [
        name,
        "yes" if fluid.endswith(".mix") else "no",
        f"{state.molar_mass():.7g}",
        f"{temperature:.6g}",
        f"{pressure:.6g}",
    ]


def state_row(name: str, fluid: str, temperature: float, critical_temperature: float) -> list[str]:
    """Return one row of `refrigerant_states.csv`; what does not exist at that temperature stays empty.

    Parameters
    ----------
    name, fluid : str
        The refrigerant as the trade and as CoolProp write it.
    temperature : float
        Temperature. [K]
    critical_temperature : float
        Of the refrigerant. [K]

    Returns
    -------
    list of str
        The cells, in the order of `STATE_COLUMNS`.
    """
    saturated = ["", "", ""]
    thin_pressure = STANDARD_ATMOSPHERE
    limit = NEAR_CRITICAL if fluid.endswith(".mix") else 0.9995
    if temperature < limit * critical_temperature:
        bubble = _value("P", temperature, "Q", 0.0, fluid)
        dew = _value("P", temperature, "Q", 1.0, fluid)
        thin_pressure = min(thin_pressure, 0.9 * dew)
        density = _value("D", temperature, "Q", 1.0, fluid)
        viscosity = _value("V", temperature, "Q", 1.0, fluid)
        saturated = [f"{bubble:.6g}", f"{density:.6g}", f"{viscosity:.5g}"]
    return [name, f"{temperature:.2f}", *saturated, f"{_thin_viscosity(temperature, thin_pressure, fluid):.5g}"]


def vapour_rows(name: str, fluid: str, state: list[str]) -> list[list[str]]:
    """Return rows of `refrigerant_vapours.csv`: one isotherm, from thin vapour to saturation or beyond.

    There are none for a blend where its saturation could not be solved; ``state`` is its row of
    `refrigerant_states.csv`.
    """
    import CoolProp
    import CoolProp.CoolProp as CP  # noqa: N817

    temperature, is_saturated = float(state[1]), state[3] != ""
    at = CP.AbstractState("HEOS", fluid)
    if fluid.endswith(".mix"):
        if not is_saturated:
            return []
        at.specify_phase(CoolProp.iphase_gas)
    densities = [share * float(state[3]) for share in SHARES] if is_saturated else [
        share * at.rhomass_critical() for share in ABOVE_CRITICAL]
    found = []
    for density in densities:
        # A last digit beyond saturation would be liquid: a hair below it is vapour for sure.
        at.update(CoolProp.DmassT_INPUTS, density * (1 - 1e-6), temperature)
        pressure = at.p()
        found.append([name, state[1], f"{density:.5g}", f"{pressure:.6g}", f"{_viscosity_near(at, density):.5g}"])
    return found


def _viscosity_near(at: Any, density: float) -> float:
    """Return the viscosity there, or at a neighbouring density where the solver behind it finds no root."""
    import CoolProp

    temperature = at.T()
    for share in (1 - 1e-6, 0.99, 0.97, 0.95, 0.92, 0.88, 0.84, 0.78, 0.7, 0.6, 0.5):
        try:
            at.update(CoolProp.DmassT_INPUTS, density * share, temperature)
            return float(at.viscosity())
        except ValueError:
            continue
    raise ValueError(f"no viscosity at {density} kg/m³ and {temperature} K")


def _thin_viscosity(temperature: float, pressure: float, fluid: str) -> float:
    """Return the viscosity of thin vapour, which hardly depends on pressure.

    At single states the corresponding-states solver behind it finds no root; a neighbouring pressure then serves.
    """
    for share in (1.0, 0.95, 0.9, 0.8, 0.6, 0.4):
        try:
            return _value("V", temperature, "P", share * pressure, fluid)
        except ValueError:
            continue
    raise ValueError(f"no viscosity of {fluid} at {temperature} K")


def _value(what: str, temperature: float, other: str, at: float, fluid: str) -> float:
    import CoolProp.CoolProp as CP  # noqa: N817

    return float(CP.PropsSI(what, "T", temperature, other, at, fluid))


def make(folder: Path) -> None:
    """Write the tables into a folder."""
    import CoolProp

    about = f"# Made by decay.physics.make_refrigerant_table from CoolProp {CoolProp.__version__}. Do not edit.\n"
    with (
        (folder / "refrigerants.csv").open("w", encoding="utf-8", newline="") as refrigerants,
        (folder / "refrigerant_states.csv").open("w", encoding="utf-8", newline="") as states,
        (folder / "refrigerant_vapours.csv").open("w", encoding="utf-8", newline="") as vapours,
    ):
        summary, detail = _begun(refrigerants, about, REFRIGERANT_COLUMNS), _begun(states, about, STATE_COLUMNS)
        isotherms = _begun(vapours, about, VAPOUR_COLUMNS)
        for name, fluid in REFRIGERANTS.items():
            row = refrigerant_row(name, fluid)
            summary.writerow(row)
            critical = float(row[3])
            below = [t for t in TEMPERATURES if t < critical]
            # One more point just below the critical one, so that the interpolation reaches up to it.
            extra = [0.999 * critical] if critical < TEMPERATURES[-1] and not fluid.endswith(".mix") else []
            above = [t for t in TEMPERATURES if t >= critical]
            for temperature in sorted(below + extra + above):
                state = _solved_row(name, fluid, temperature, critical)
                detail.writerow(state)
                isotherms.writerows(vapour_rows(name, fluid, state))


def _solved_row(name: str, fluid: str, temperature: float, critical: float) -> list[str]:
    """Return the row at a temperature, or at a neighbour where the mixture's solver finds no solution there.

    Where it finds none nearby either, the saturated state stays empty.
    """
    for shift in (0.0, 0.5, -0.5, 1.0, -1.0, 1.5, -1.5):
        try:
            return state_row(name, fluid, temperature + shift, critical)
        except ValueError:
            continue
    return state_row(name, fluid, temperature, critical_temperature=0.0)


def _begun(file: TextIO, about: str, columns: tuple[str, ...]) -> Any:
    file.write(about)
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(columns)
    return writer


if __name__ == "__main__":
    make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
