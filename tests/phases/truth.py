"""Seeded logs whose edges are known: pulls with knee and tail, holds with jump, leak and outgassing, sweeps, vents."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from decay.log.pressure_log import PressureLog
from decay.phases.phase import Kind

MICRON = 0.133322387415
ATMOSPHERE = 101325.0


@dataclass
class Edge:
    """One true phase: kind, and its ends in seconds."""

    kind: Kind
    start: float
    end: float


@dataclass
class Bench:
    """Builds one log phase by phase; pressure is known at every moment."""

    rng: np.random.Generator
    sampling: float = 1.0
    time: list[float] = field(default_factory=list)
    pressure: list[float] = field(default_factory=list)
    edges: list[Edge] = field(default_factory=list)
    now: float = 0.0
    level: float = ATMOSPHERE

    def _add(self, kind: Kind, length: float, curve) -> None:
        count = max(round(length / self.sampling), 1)
        # The last reading of the phase before is this one's moment zero.
        since = np.arange(1, count + 1) * self.sampling
        values = curve(since)
        start = self.now
        self.time.extend(start + since)
        self.pressure.extend(values)
        self.now = start + count * self.sampling
        self.level = float(values[-1])
        self.edges.append(Edge(kind, start, self.now))

    def rest(self, length: float) -> None:
        """Stand at the present pressure."""
        level = self.level
        if not self.time:
            self.time.append(0.0)
            self.pressure.append(level)
        self._add(Kind.ATMOSPHERE, length, lambda s: np.full(len(s), level))

    def pull(self, length: float, fast: float, ultimate: float, tail: float, exponent: float = 0.9) -> None:
        """Pump: fast exponential fall, then a tail that fades as a power of time."""
        level = self.level
        begin = 8.0 * fast
        # A second pull starts low: its tail never stands above where it began.
        tail = min(tail, 0.6 * max(level - ultimate, 0.0))

        def curve(s):
            share = np.exp(-s / fast)
            return (level - ultimate) * share + ultimate + tail * (1 - share) * (1 + s / begin) ** -exponent

        self._add(Kind.PUMPDOWN, length, curve)

    def hold(self, length: float, leak: float, amplitude: float, slow: float, jump: float, settle: float) -> None:
        """Close the valve: equalising jump, steady leak, outgassing that levels off."""
        level = self.level
        self._add(
            Kind.HOLD,
            length,
            lambda s: level
            + jump * (1 - np.exp(-s / settle))
            + leak * s
            + amplitude * (1 - np.exp(-s / slow)),
        )

    def let_in(self, kind: Kind, target: float, fill: float, length: float) -> None:
        """Break the vacuum to a pressure and dwell there."""
        level = self.level
        self._add(kind, length, lambda s: target - (target - level) * np.exp(-s / fill))

    def let_in_evenly(self, kind: Kind, rate: float, length: float) -> None:
        """Let gas in at one pace, as through a regulator."""
        level = self.level
        self._add(kind, length, lambda s: level + rate * s)

    def log(
        self, step: float = MICRON, noise: float = 0.003, least: float = 0.5 * MICRON, top: float | None = None
    ) -> PressureLog:
        """Return what a gauge writes: relative and absolute noise, steps, end of its range."""
        true = np.asarray(self.pressure)
        read = true * (1 + noise * self.rng.standard_normal(len(true))) + least * self.rng.standard_normal(len(true))
        read = np.maximum(np.round(read / step) * step, 0.0) if step > 0 else read
        over = np.zeros(len(true), dtype=bool) if top is None else read > top
        read = np.where(over, np.nan, read)
        return PressureLog(
            "made",
            np.asarray(self.time),
            read,
            np.arange(len(true)) + 2,
            over,
            np.full(len(true), step),
            "gauge",
            "micron",
            len(true),
        )


def random_job(seed: int) -> tuple[PressureLog, list[Edge]]:
    """Return a clean log of one to three pulls and holds, and its true edges."""
    rng = np.random.default_rng(seed)
    bench = Bench(rng, sampling=float(rng.choice([1.0, 1.0, 2.0, 5.0, 10.0])))
    if rng.random() < 0.7:
        bench.rest(rng.uniform(20, 120))
    else:
        bench.time.append(0.0)
        bench.pressure.append(bench.level)
    cycles = int(rng.choice([1, 1, 2, 3]))
    for cycle in range(cycles):
        fast = rng.uniform(4, 30)
        bench.pull(
            max(rng.uniform(600, 2400), 25 * fast),
            fast,
            ultimate=min(rng.uniform(20, 150) * MICRON, 0.5 * bench.level),
            tail=10 ** rng.uniform(2.3, 3.3) * MICRON,
            exponent=rng.uniform(0.7, 1.3),
        )
        minutes = rng.uniform(5, 40)
        damp = rng.random() < 0.6
        bench.hold(
            minutes * 60,
            leak=rng.choice([0.0, 10 ** rng.uniform(-0.5, 2)]) * MICRON / 60,
            amplitude=10 ** rng.uniform(1.3, 3) * MICRON if damp else rng.uniform(5, 40) * MICRON,
            slow=rng.uniform(60, 1500),
            jump=rng.uniform(-0.1, 0.6) * bench.level,
            settle=rng.uniform(1, 8),
        )
        if cycle + 1 < cycles:
            if rng.random() < 0.7:
                target = 10 ** rng.uniform(3.0, 5.0)
                bench.let_in(Kind.SWEEP, max(target, 4 * bench.level), rng.uniform(3, 15), rng.uniform(60, 300))
        elif rng.random() < 0.5:
            bench.let_in(Kind.VENT, ATMOSPHERE, rng.uniform(2, 15), rng.uniform(40, 200))
    top = float(rng.choice([0, 25000 * MICRON, 12000 * MICRON])) or None
    step = float(rng.choice([0.1, 1.0, 1.0, 5.0])) * MICRON
    return bench.log(step=step, noise=rng.uniform(0.0005, 0.004), top=top), bench.edges


def holds_of(edges: list[Edge]) -> list[Edge]:
    """Return the true holds."""
    return [edge for edge in edges if edge.kind is Kind.HOLD]
