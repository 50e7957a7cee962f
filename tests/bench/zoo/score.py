"""What the program says of a log of the zoo against its truth, and the table of many of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.analysis import Analysis
from decay.errors import LogError
from decay.judge.finding import Cause
from decay.phases.phase import Kind
from decay.pipeline import Ahead, analyze_log
from decay.system import System
from tests.bench.jobs import RATE
from tests.bench.zoo.sheet import Sheet, usual
from tests.bench.zoo.troubles import WITH_WRONG_READINGS, sheet

DENIED = (Cause.TIGHT, Cause.OUTGASSING)
WITHHOLDING = ("P12", "P15")
"""Findings that take the answer back: what the interval of the stretch says is then claimed of nothing."""
NEAR = 0.25
"""Share of the hold by which its found start may miss the true one."""
SYSTEM = System(ambient=296.0, ambient_spread=5.0)
"""What every job of the zoo is told: a room between 18 and 28 °C."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One log: what is true, and what was said; rates in micron/min."""

    trouble: str
    seed: int
    truth: float
    leaves_mark: bool
    has_answer: bool
    is_refused: bool = False
    error: str = ""
    is_found: bool = False
    extra: int = 0
    low: float = float("nan")
    high: float = float("nan")
    limit: float = float("nan")
    cause: str = ""
    result: str = ""
    is_withheld: bool = False
    is_misread: bool = False
    plain_result: str = ""

    @property
    def has_interval(self) -> bool:
        """Whether an interval is stated that claims something."""
        return bool(np.isfinite(self.low)) and not self.is_withheld

    @property
    def is_covered(self) -> bool:
        """Whether the stated interval holds the truth; a bound from below has no upper end."""
        return self.low <= self.truth and not self.high < self.truth

    @property
    def is_denied(self) -> bool:
        """Called tight or outgassing, or passed, with a leak above twice the stated limit."""
        says = self.cause in DENIED and not self.is_withheld
        return (says or self.result == "pass") and not self.truth <= 2.0 * self.limit

    @property
    def is_changed(self) -> bool:
        """Whether wrong readings alone changed the result."""
        return bool(self.plain_result) and self.plain_result != self.result

    @property
    def is_odd(self) -> bool:
        """Whether anything is wrong with it."""
        is_lost = self.leaves_mark and self.has_answer and not self.is_found
        is_missed = self.has_interval and not self.is_covered
        is_wrong = self.is_denied or self.is_misread or self.is_changed
        return bool(self.error) or is_lost or is_missed or is_wrong or self.extra > 0


def outcome(trouble: str, seed: int, *, ahead: Ahead = Ahead.TESTS) -> Outcome:
    """Write one log of a trouble, read and judge it, and compare; to look ahead takes most of the time."""
    made = sheet(trouble, seed)
    common = {"trouble": trouble, "seed": seed, "truth": made.scene.truth, "leaves_mark": made.leaves_mark,
              "has_answer": made.has_answer}  # fmt: skip
    try:
        log = made.read()
    except LogError as problem:
        return Outcome(**common, is_refused=True, error=str(problem).splitlines()[0])
    except Exception as problem:  # what must not happen is counted
        return Outcome(**common, error=f"{type(problem).__name__}: {problem}")
    try:
        analysis = analyze_log(log, SYSTEM, ahead=ahead)
        plain = ""
        if trouble in WITH_WRONG_READINGS:
            plain = analyze_log(usual(made.scene).read(), SYSTEM, ahead=Ahead.NOTHING).verdict.result.value
    except Exception as problem:
        return Outcome(**common, error=f"{type(problem).__name__}: {problem}")
    return Outcome(**common, **_said(made, analysis), plain_result=plain, is_misread=_is_misread(made, analysis))


def _said(made: Sheet, analysis: Analysis) -> dict[str, object]:
    """Return what the analysis says, as fields of an outcome."""
    verdict = analysis.verdict
    said: dict[str, object] = {"result": verdict.result.value, "cause": verdict.cause.value if verdict.cause else ""}
    phases = [p for p in analysis.phases if p.kind is Kind.HOLD]
    claimed: set[int] = set()
    extra = 0
    for phase in phases:
        # A hold begins with the last reading before the closing: one that is gross has few more than that.
        which = [i for i, (start, end) in enumerate(made.holds)
                 if min(phase.end, end) - max(phase.start, start - made.scene.sampling)
                 >= 0.5 * min(phase.duration, end - start)]
        fresh = set(which) - claimed
        claimed |= fresh
        extra += not fresh
    said["extra"] = extra
    start, end = made.holds[-1]
    said["is_found"] = any(
        abs(r.fit.start - start) <= max(NEAR * (end - start), 2.0 * made.scene.sampling, 3.0)
        and min(r.fit.end, end) - max(r.fit.start, start) >= 0.5 * (end - start)
        for r in analysis.holds
    )
    said["is_withheld"] = any(f.code in WITHHOLDING for f in verdict.reasons)
    basis = analysis.basis
    if basis.leak is not None:
        limit = float("inf") if basis.detection_limit is None else basis.detection_limit
        said |= {"low": basis.leak.low / RATE, "high": basis.leak.high / RATE, "limit": limit / RATE}
    return said


def _is_misread(made: Sheet, analysis: Analysis) -> bool:
    """Tell whether the pressures were read more than a factor of three off."""
    read = analysis.log.pressure[np.isfinite(analysis.log.pressure)] / (RATE * 60.0)
    meant = made.numbers
    low = np.log([np.median(values[values > 0.0]) for values in (read, meant)])
    return bool(abs(low[0] - low[1]) > np.log(3.0))


def _share(part: int, whole: int) -> str:
    return f"{part / whole:.3f}" if whole else "-"


def table(outcomes: list[Outcome]) -> str:
    """Return one row for each trouble and one for all, as text."""
    names = list(dict.fromkeys(o.trouble for o in outcomes))
    groups = [(name, [o for o in outcomes if o.trouble == name]) for name in names]
    head = (f"{'trouble':16} {'logs':>5} {'marked':>6} {'found':>6} {'extra':>6} {'stated':>6} {'covered':>7} "
            f"{'denied':>6} {'misread':>7} {'refused':>7} {'errors':>6} {'changed':>7}")  # fmt: skip
    lines = [head]
    for name, members in (*groups, ("all", outcomes)):
        marked = [o for o in members if o.leaves_mark and o.has_answer]
        stated = [o for o in members if o.has_interval]
        twins = [o for o in members if o.plain_result]
        lines.append(
            f"{name:16} {len(members):5d} {len(marked):6d} {_share(sum(o.is_found for o in marked), len(marked)):>6} "
            f"{_share(sum(o.extra > 0 for o in members), len(members)):>6} {len(stated):6d} "
            f"{_share(sum(o.is_covered for o in stated), len(stated)):>7} {sum(o.is_denied for o in members):6d} "
            f"{sum(o.is_misread for o in members):7d} {sum(o.is_refused for o in members):7d} "
            f"{sum(bool(o.error) and not o.is_refused for o in members):6d} "
            f"{_share(sum(o.is_changed for o in twins), len(twins)):>7}"
        )
    return "\n".join(lines)
