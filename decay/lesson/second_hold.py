"""What a second hold, and a warm one, would have told of an invented system that one hold left open."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from decay.analysis import Analysis
from decay.arrays import frozen
from decay.fit.warm import LEAST_WARMING, Warmed
from decay.log.pressure_log import PressureLog
from decay.pipeline import analyze
from decay.second.next_test import MORE_PULL
from decay.simulate import Job, Step, StepKind, run
from decay.system import System

SECOND = 900.0
"""Length of the second hold. [s]"""


@dataclass(frozen=True, slots=True, eq=False)
class SecondHold:
    """One invented system with one hold, with a second, and with a warm second.

    Parameters
    ----------
    alone, again, warm : Analysis
        What is said of the one hold, of both at one temperature, and of the cold and the warm one.
    minutes : float
        What the second hold costs, pumping included. [min]
    warmer : float
        How much warmer the warm hold is. [K]
    """

    alone: Analysis
    again: Analysis
    warm: Analysis
    minutes: float
    warmer: float


def with_second_hold(
    job: Job, system: System | None = None, *, alone: Analysis | None = None, warmer: float = LEAST_WARMING
) -> SecondHold:
    """Run an invented system's job once more with a second hold, cold and warm.

    Parameters
    ----------
    job : Job
        Its steps end with the hold that is to be repeated.
    system : System, optional
        What the analysis is told of it; its temperature is the job's.
    alone : Analysis, optional
        What is said of the one hold, where that is known.
    warmer : float
        How much warmer the warm hold is, rig included. [K]

    Returns
    -------
    SecondHold
        Three answers about the same system: synthetic, its truth is the job's.
    """
    cold = job.ambient.temperature
    told = replace(System() if system is None else system, ambient=cold, ambient_spread=1.0)
    again, warm = (
        replace(job, steps=(*job.steps, Step(StepKind.PUMP, MORE_PULL, temperature=t),
                            Step(StepKind.HOLD, SECOND, temperature=t)))
        for t in (None, cold + warmer)
    )
    first = analyze(run(job).to_log(), told, looks_ahead=False) if alone is None else alone
    second = analyze(run(again).to_log(), told, looks_ahead=False)
    both = analyze(_with_temperature(warm), told, warmed=Warmed.ALL, looks_ahead=False)
    return SecondHold(first, second, both, (MORE_PULL + SECOND) / 60.0, warmer)


def _with_temperature(job: Job) -> PressureLog:
    """Return the log of a job with the temperature logged beside the pressure."""
    simulated = run(job)
    temperature = np.interp(simulated.readings.time, simulated.time, simulated.ambient)
    return replace(simulated.to_log(), temperature=frozen(temperature))
