"""What a user tells of a job before it begins, made into an intent, with what had to be assumed."""

from __future__ import annotations

from collections.abc import Sequence

from decay.constants import MICRON, MINUTE
from decay.errors import RangeError
from decay.judge.criteria import Criterion
from decay.planning.make import Intent
from decay.planning.pump_and_gauge import Equipment, GaugeKind, Hose
from decay.planning.trial_holds import Levelling
from decay.system import System

DAMP = Levelling(500.0 * MICRON, 10.0 * MINUTE)
"""What a damp system gives off where nothing is told. Common practice, no source."""


def intent_of(
    system: System,
    criterion: Criterion,
    *,
    pump: float | None = None,
    ultimate: float | None = None,
    hoses: Sequence[Hose] = (),
    target: float | None = None,
    water: float | None = None,
    heating: float | None = None,
    damp: float | None = None,
    damp_time: float | None = None,
    gauge_noise: float | None = None,
    gauge_step: float | None = None,
    interval: float | None = None,
) -> tuple[Intent, tuple[str, ...]]:
    """Return what is going to be done, and what had to be assumed for it, one sentence each.

    Parameters
    ----------
    system : System
        Volume, refrigerant, charge, temperature, the leak that matters.
    criterion : Criterion
        The practice to meet.
    pump : float, optional
        Rated speed of the pump. [m³/s]
    ultimate : float, optional
        Pressure below which it moves nothing. [Pa]
    hoses : sequence of Hose
        Side by side.
    target : float, optional
        Pressure to reach; the criterion's if left out. [Pa]
    water : float, optional
        Free water. [kg]
    heating : float, optional
        Heat that reaches it. [W]
    damp, damp_time : float, optional
        Rise that levels off in a damp system, and its time constant. [Pa, s]
    gauge_noise, gauge_step, interval : float, optional
        Of the gauge: scatter and smallest step [Pa], and time between readings [s].

    Raises
    ------
    RangeError
        If what was told does not go together.
    """
    if pump is None and (hoses or ultimate is not None or water is not None):
        raise RangeError('--hose, --ultimate and --water need the pump. Add one, for example: --pump "6 cfm"')
    if heating is not None and water is None:
        raise RangeError('--heating needs the water that it warms. Add it, for example: --water "5 g"')
    if system.refrigerant is not None and system.ambient is None:
        raise RangeError('a refrigerant needs a temperature. Add one, for example: --ambient "24 degC"')
    usual = GaugeKind()
    taken = {"--damp": (damp, DAMP.rise), "--damp-time": (damp_time, DAMP.time_constant),
             "--gauge-noise": (gauge_noise, usual.noise), "--gauge-step": (gauge_step, usual.step),
             "--interval": (interval, usual.interval)}
    rise, time_constant, noise, step, between = (default if told is None else told for told, default in taken.values())
    assumed = []
    if pump is not None and ultimate is None:
        assumed.append("The pump's ultimate pressure is not known: none is assumed.")
    if pump is not None and not hoses:
        assumed.append("No hose was given: the pump is taken to stand right at the system.")
    defaults = [name for name, (told, _) in taken.items() if told is None]
    if defaults:
        assumed.append(f"Taken from the defaults, not from your equipment: {', '.join(defaults)}.")
    return Intent(
        system=system,
        criterion=criterion,
        equipment=None if pump is None else Equipment(pump, ultimate or 0.0, tuple(hoses)),
        gauge=GaugeKind(noise=noise, step=step, interval=between),
        damp=Levelling(rise, time_constant),
        target=target,
        water=water,
        heating=heating,
    ), tuple(assumed)
