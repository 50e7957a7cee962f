"""The hold's fit against lmfit's profile of a line plus one exponential on the same readings, and what follows it."""

from __future__ import annotations

import lmfit
import numpy as np

from decay.pipeline import Ahead, analyze_log
from decay.several.joint import fit_joint
from decay.simulation.simulated_run import run
from tests.bench.jobs import random_job
from tests.fit.holds import fit_of, holds_of_one_job

from .invented_logs import evacuation, hold_alone
from .measuring import Row, at_most, in_turns, seconds, times_faster

LENGTH = 3600.0
"""Length of the hold, one reading a second. [s]"""


def rows(rounds: int) -> list[Row]:
    """Measure the fit of a one-hour hold, and of holds that differ in length only."""
    log, phase = hold_alone(int(LENGTH) + 1, LENGTH)
    short, short_phase = hold_alone(1201, 600.0)
    long, long_phase = hold_alone(1201, 36000.0)
    resolved, left_open = evacuation(7200), run(random_job("slow_damp", 1)).to_log()
    if analyze_log(resolved).basis.next_tests or not analyze_log(left_open).basis.next_tests:
        raise RuntimeError("the benchmark's holds are no longer what they are called")
    found = in_turns(
        rounds,
        plain=lambda: analyze_log(resolved, ahead=Ahead.NOTHING),
        followed_up=lambda: analyze_log(resolved),
        left_open=lambda: analyze_log(left_open),
        ours=lambda: fit_of(log, phase),
        theirs=lambda: _profile(log.time, log.pressure, None),
        one_level=lambda: _profile(log.time, log.pressure, [0.95]),
        short=lambda: fit_of(short, short_phase),
        long=lambda: fit_of(long, long_phase),
    )
    few, many = holds_of_one_job(15), holds_of_one_job(30)  # both too many for one table
    together = in_turns(1, few=lambda: fit_joint(few, is_split=False), many=lambda: fit_joint(many, is_split=False))
    return [
        times_faster("hold's fit with its interval, 1 h at 1 Hz", found["ours"], found["theirs"], 20.0,
                     than="lmfit conf_interval"),
        # For the record: as it is called by default it profiles three levels, and ours one.
        Row("the same against one level of lmfit's", seconds(found["ours"]),
            f"{seconds(found['one_level'])} lmfit conf_interval", f"{found['one_level'] / found['ours']:.0f} x faster",
            "none set", True),
        at_most("hold's fit, 10 h against 10 min, same readings", found["long"], found["short"], 1.5),
        at_most("judging a resolved hold, followed up against not", found["followed_up"], found["plain"], 1.1),
        at_most("judging a hold that is left open against one second", found["left_open"], 1.0, 1.0),
        at_most("joint fit, 30 holds against the two seconds that one waits", together["many"], 2.0, 1.0),
        at_most("joint fit, 30 holds against 15", together["many"], together["few"], (30 / 15) ** 1.5),
    ]


def _profile(time: np.ndarray, pressure: np.ndarray, levels: list[float] | None) -> object:
    """Fit line plus exponential, and profile all four numbers at some levels; ``None`` for the default's three."""
    length = float(time[-1])
    start = lmfit.create_params(
        level=float(pressure[0]),
        leak={"value": float(pressure[-1] - pressure[0]) / length, "min": 0.0},
        height={"value": float(pressure[-1] - pressure[0]) / 3, "min": 0.0},
        time_constant={"value": length / 5, "min": 1.0, "max": 10 * length},
    )

    def residual(parameters: lmfit.Parameters) -> np.ndarray:
        level, leak, height, constant = (parameters[name].value for name in start)
        return level + leak * time + height * (1.0 - np.exp(-time / constant)) - pressure

    minimizer = lmfit.Minimizer(residual, start)
    return lmfit.conf_interval(minimizer, minimizer.minimize(), sigmas=levels)
