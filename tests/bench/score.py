"""What the program says of a simulated job against its truth, and the table of many of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from decay.errors import RangeError
from decay.judge.finding import Cause
from decay.pipeline import Ahead, analyze_log
from decay.simulation.simulated_run import SimulatedRun, run
from decay.system import System

from .jobs import RATE, random_job

NAMED = (Cause.LEAK, Cause.LEAK_AND_OUTGASSING)
DENIED = (Cause.TIGHT, Cause.OUTGASSING)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One job: the truth and what the verdict says of it, in microns a minute; `alone` is its last hold by itself."""

    kind: str
    seed: int
    hold: float
    interval: float
    truth: float
    is_found: bool
    low: float = float("nan")
    high: float = float("nan")
    alone_low: float = float("nan")
    detection: float = float("nan")
    cause: str = ""
    start_error: float = float("nan")
    is_edge_visible: bool = False
    is_adequate: bool = True
    joint_low: float = float("nan")
    joint_high: float = float("nan")

    @property
    def is_covered(self) -> bool:
        """The interval holds the truth."""
        return self.low <= self.truth <= self.high

    @property
    def is_falsely_named(self) -> bool:
        """Named a leak without there being one."""
        return self.truth == 0 and self.cause in NAMED

    @property
    def is_denied(self) -> bool:
        """Called tight or outgassing with a leak above twice the stated limit."""
        return self.truth > 2 * self.detection and self.cause in DENIED

    @property
    def is_named(self) -> bool:
        """Named a leak, rightly."""
        return self.truth > 0 and self.cause in NAMED

    @property
    def relative_width(self) -> float:
        """Width of the interval over the truth, above 3 microns a minute; else nan."""
        return (self.high - self.low) / self.truth if self.truth > 3 else float("nan")


def outcome(kind: str, seed: int, is_told: bool = False) -> Outcome:
    """Run one random job, judge its log, and compare; where told, the hold's two ends are given and not found."""
    job = random_job(kind, seed)
    simulated = run(job)
    truth = simulated.holds[-1]
    log = simulated.to_log()
    first = simulated.readings.time[0]
    system = System(ambient=job.ambient.temperature, ambient_spread=2.0)
    # The hold may end after the last reading that the log has of it.
    ends = (truth.start - first, min(truth.end - first, float(log.time[-1]))) if is_told else None
    common = {
        "kind": kind,
        "seed": seed,
        "hold": truth.end - truth.start,
        "interval": job.gauge.interval,
        "truth": truth.leak_rate / RATE if job.leaks else 0.0,
    }
    try:
        analysis = analyze_log(log, system, hold=ends, ahead=Ahead.NOTHING)
    except RangeError:
        # A hold that leaves the gauge's range within a few readings cannot be pointed at.
        return Outcome(**common, is_found=False)
    near = [h for h in analysis.holds if abs(h.fit.start + first - truth.start) < 0.25 * (truth.end - truth.start)]
    if not near:
        return Outcome(**common, is_found=False)
    report = near[-1]
    fit, joint = report.fit, analysis.joint
    decides = analysis.decisive is not None and analysis.holds[analysis.decisive] is report
    leak = (analysis.basis.leak if decides else None) or fit.leak
    limit = analysis.basis.detection_limit if decides else None
    return Outcome(
        **common,
        is_found=True,
        low=leak.low / RATE,
        high=leak.high / RATE,
        alone_low=fit.leak.low / RATE,
        # The limit that the verdict states: of all holds together where its interval is theirs.
        detection=(fit.detection_limit if limit is None else limit) / RATE,
        cause=(analysis.verdict.cause if decides else None) or report.cause,
        start_error=fit.start + first - truth.start,
        is_edge_visible=_is_edge_visible(simulated, truth.start),
        is_adequate=fit.tests.adequate,
        joint_low=joint.leak.low / RATE if joint else float("nan"),
        joint_high=joint.leak.high / RATE if joint else float("nan"),
    )


def tolerance(interval: float) -> float:
    """Return by how much a hold's found start may miss the true one: two readings, or three seconds. [s]"""
    return max(2.0 * interval, 3.0)


def _is_edge_visible(simulated: SimulatedRun, start: float) -> bool:
    """Tell whether the gauge itself shows the valve close: a pull at its ultimate pressure leaves no mark in time."""
    gauge, readings = simulated.job.gauge, simulated.readings
    before, after = np.interp(
        (start, start + tolerance(gauge.interval)), readings.time, np.nan_to_num(readings.pressure)
    )
    step = float(np.interp(start, readings.time, readings.step))
    return bool(after - before > 2.0 * step + 3.0 * np.hypot(gauge.noise, gauge.wander))


def _share(flags: Iterable[bool]) -> float:
    values = list(flags)
    return float(np.mean(values)) if values else float("nan")


def table(outcomes: list[Outcome], by: Callable[[Outcome], object]) -> str:
    """Return one row for each group and one for all, as text."""
    groups: dict[object, list[Outcome]] = {}
    for o in outcomes:
        groups.setdefault(by(o), []).append(o)
    rows = [*sorted(groups.items(), key=lambda item: str(item[0])), ("all", outcomes)]
    head = (
        f"{'group':12} {'jobs':>5} {'found':>6} {'covered':>8} {'false':>7} {'denied':>7} {'named':>6} "
        f"{'width':>6} {'edge':>5} {'unfit':>6}"
    )
    lines = [head]
    for name, members in rows:
        found = [o for o in members if o.is_found]
        edge = _share(abs(o.start_error) <= tolerance(o.interval) for o in found if o.is_edge_visible)
        widths = [o.relative_width for o in found if not np.isnan(o.relative_width)]
        lines.append(
            f"{name!s:12} {len(members):5d} {_share(o.is_found for o in members):6.3f} "
            f"{_share(o.is_covered for o in found):8.3f} "
            f"{_share(o.is_falsely_named for o in found if o.truth == 0):7.4f} "
            f"{sum(o.is_denied for o in found):7d} {_share(o.is_named for o in found if o.truth > 0):6.3f} "
            f"{np.median(widths) if widths else float('nan'):6.3f} {edge:5.3f} "
            f"{_share(not o.is_adequate for o in found):6.3f}"
        )
    return "\n".join(lines)
