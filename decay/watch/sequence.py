"""Looks at one growing hold that together keep one error rate: when to look, and what each look says.

A 95 % interval that is computed again and again while the hold grows misses the truth at some time far more often
than in 5 % of holds. Here a hold is looked at only when it has grown by a fixed factor since the last look, and each
look's interval has the level that `decay.watch.spending` leaves it: one may stop at any look, for any reason. That
holds as far as each interval keeps its level; a young hold knows its gauge's slow wander from few independent
stretches only, so that its looks take Student's quantile for the normal one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

from decay.errors import FitError, RangeError
from decay.examine import ExaminedHold, examine_hold, fit_pulls, known_during
from decay.fit.results import HoldFit
from decay.impact.assess import assess
from decay.interval import Interval
from decay.judge import criteria, practice, signs
from decay.judge.about_hold import missing_of
from decay.judge.answer import IfClosed
from decay.judge.case import Case
from decay.judge.criteria import Criterion
from decay.judge.finding import Cause
from decay.judge.place import fall_before_flat_end
from decay.log.pressure_log import PressureLog
from decay.log.quality import inspect
from decay.phases import find_phases, hold_between
from decay.phases.phase import Kind, Phase
from decay.pipeline import if_closed
from decay.planning.pump_and_gauge import GaugeKind
from decay.planning.trial_holds import Levelling
from decay.several.next_test import AIM, NextTest, TestKind, next_tests
from decay.system import AllowKind, System
from decay.threads import on_one_thread
from decay.watch.look import Decision, Look, Status
from decay.watch.spending import ALPHA, GROWTH, StoppingRule, decisive_length, level_of, students_level

AGAIN = 60.0  # s; a flat end is looked at again after this time
SAME_START = 30.0  # s; a start that moves by less is the same hold, seen better
CLEAR_RISE = 0.2  # of the pressure at the start: no pull's end rises so far while the pump still draws
FIRST = 300.0  # s; several times the memory of a gauge's wander, which a shorter hold cannot tell from a rise


@dataclass(slots=True)
class _Hold:
    """The looks taken at one hold."""

    start: float = -math.inf  # where the hold began by the last look
    ended: float = -math.inf  # last reading that any look used, on the log's clock
    count: int = 0
    last_length: float = 0.0
    look: Look | None = None
    decision: Decision = Decision.OPEN
    decided_at: float | None = None
    is_withdrawn: bool = False
    is_practice_met: bool | None = None


@dataclass(slots=True)
class Watcher:
    """Follows one job; feed it the log again whenever it has grown."""

    system: System  # what the user told us
    # The practice to meet; ``None`` for each stand in turn that judges where none is chosen, the shortest first
    criterion: Criterion | None
    alpha: float = ALPHA  # chance, for each hold, that any of its looks decides wrongly [-]
    growth: float = GROWTH  # factor by which a hold grows from look to look [-]
    first: float = FIRST  # length at its first look [s]
    # Gives the moment at which the valve was closed from the log so far [s], where the user tells it; else the hold is
    # found
    hold_from: Callable[[PressureLog], float] | None = None
    ranks_tests: bool = True  # rank what would settle an open hold, at each look; a count of many holds does without
    _hold: _Hold = field(default_factory=_Hold)
    _flat_since: float | None = None
    _told: IfClosed | None = None

    def __post_init__(self) -> None:
        if self.growth <= 1 or self.first <= 0 or not 0 < self.alpha < 1:
            raise RangeError("looks need a growth above 1, a first length above 0, and an alpha between 0 and 1")

    def begin_anew(self) -> None:
        """Forget the looks taken: the log's clock has begun anew, so its hold is another one."""
        self._hold = _Hold()

    @on_one_thread
    def see(self, log: PressureLog) -> Status | None:
        """Take in the log as it stands.

        Parameters
        ----------
        log : PressureLog
            All readings so far. [s, Pa]

        Returns
        -------
        Status or None
            What is known now; ``None`` for a log without readings.
        """
        phases = find_phases(log, inspect(log))
        if not phases:
            return None
        if self.hold_from is not None:
            phases = _with_hold(log, phases, self.hold_from(log))
        phase = phases[-1]
        if phase.kind is not Kind.HOLD:
            return Status(phase, float(log.time[-1]), float(log.pressure[-1]), if_closed=self._if_closed(log, phases))
        return self.see_hold(log, phases)

    def _if_closed(self, log: PressureLog, phases: tuple[Phase, ...]) -> IfClosed | None:
        """Say what a flat end would prove; a fit for each reading would say the same again and again."""
        now = float(log.time[-1])
        if phases[-1].closings is None:
            self._flat_since, self._told = None, None
        elif self._flat_since is None or now - self._flat_since >= AGAIN:
            self._flat_since = now
            pulls = fit_pulls(log, phases, self.system)
            told = if_closed(log, phases, pulls, self.system, self.criterion)
            # A gauge on the pump's side proves nothing, whenever the valve was closed.
            self._told = None if told is None or fall_before_flat_end(log, told) is not None else told
        return self._told

    @on_one_thread
    def finish(self, log: PressureLog) -> Status | None:
        """Take a last look at the whole of the hold that was watched, due or not, as the report at the end takes it.

        Parameters
        ----------
        log : PressureLog
            All readings. [s, Pa]

        Returns
        -------
        Status or None
            What is known at the end; ``None`` where no look was taken at a hold that is still there.
        """
        phases = find_phases(log, inspect(log))
        if self.hold_from is not None:
            phases = _with_hold(log, phases, self.hold_from(log))
        for last in range(len(phases) - 1, -1, -1):
            if phases[last].kind is Kind.HOLD:
                if self._hold.look is None or phases[last].start >= self._hold.ended:
                    return None
                return self.see_hold(log, phases[: last + 1], is_last=True)
        return None

    @on_one_thread
    def see_hold(self, log: PressureLog, phases: tuple[Phase, ...], *, is_last: bool = False) -> Status:
        """Take in a log whose last phase is a hold; look at it where a look is due.

        Parameters
        ----------
        log : PressureLog
            All readings so far. [s, Pa]
        phases : tuple of Phase
            In order of time; the last is the hold.
        is_last : bool
            No more readings come: what has grown since the last look is looked at now.
        """
        phase = phases[-1]
        if phase.start >= self._hold.ended:
            # Only a hold that begins after all that was looked at is a new one. A start that moves as readings come in
            # does not begin a new count: else errors could be spent twice.
            self._hold = _Hold()
        hold = self._hold
        remark, is_new = "", False
        if hold.look is not None and abs(phase.start - hold.start) > max(SAME_START, 0.1 * hold.last_length):
            # What was looked at was not this hold: its looks are void, but what they spent of alpha stays spent.
            moved = phase.start - hold.start
            remark = f"found to begin {abs(moved):.0f} s {'later' if moved > 0 else 'earlier'}: its looks are void"
            hold.look, hold.decision, hold.decided_at, hold.last_length = None, Decision.OPEN, None, 0.0
            hold.is_withdrawn = False
        is_due = phase.duration >= self._next_length()
        if is_due or (is_last and hold.last_length > 0.0 and phase.end > hold.ended):
            try:
                self._look(log, phases)
                is_new = True
            except FitError as problem:
                remark = remark or str(problem)
        return Status(
            phase=phase,
            time=phase.end if is_last else float(log.time[-1]),
            pressure=phase.end_pressure if is_last else float(log.pressure[-1]),
            look=hold.look,
            is_new_look=is_new,
            next_look=self._next_length(),
            decision=hold.decision,
            decided_at=hold.decided_at,
            practice_left=self._practice_left(log, phase),
            is_practice_met=hold.is_practice_met,
            remark=remark,
        )

    def _practice_left(self, log: PressureLog, phase: Phase) -> float:
        """Return what the hold lacks of the criterion's length, as the report counts it; of the stands in turn, of the
        next one's. [s]"""
        stands = criteria.default_criteria() if self.criterion is None else (self.criterion,)
        left = (missing_of(stand, phase, log, phase.doubt) for stand in stands)
        return min((lacking for lacking in left if lacking > 0.0), default=0.0)

    def _next_length(self) -> float:
        return max(self.first, self._hold.last_length * self.growth)

    def _look(self, log: PressureLog, phases: tuple[Phase, ...]) -> None:
        hold, phase = self._hold, phases[-1]
        number = hold.count + 1
        examined, case = self._case(log, phases, level_of(number, self.alpha, self.growth))
        fit = examined.report.fit
        is_above = case.is_above_allowed if self.system.allow is not None else fit.leak.low > 0
        reads_zero = signs.reads_zero(fit)
        is_below = case.is_above_allowed_excluded and not reads_zero
        is_flat = self.hold_from is None and is_like_pumping(fit)
        hold.count, hold.start, hold.last_length, hold.ended = number, phase.start, phase.duration, phase.end
        hold.is_practice_met = case.outcome.met
        cause = examined.report.cause
        # What was found and not told to be a hold excludes nothing before a second look finds the same; and nothing is
        # excluded where water stands in the system, as no verdict would do so.
        before = hold.look is not None and hold.look.is_below_allowed and not hold.look.is_flat
        is_excluded = is_below and not is_flat and cause is not Cause.FREE_WATER
        is_excluded &= before or self.hold_from is not None
        hold.is_withdrawn |= _contradicts(hold.decision, is_above=is_above, is_below=is_below)
        if hold.decision is Decision.EXCLUDED and not is_below:
            # A leak may open, a valve be moved: what the latest look no longer excludes is not excluded.
            hold.decision, hold.decided_at = Decision.OPEN, None
        if is_above and hold.decision is not Decision.SHOWN:
            hold.decision, hold.decided_at = Decision.SHOWN, phase.duration
        elif is_excluded and hold.decision is Decision.OPEN:
            hold.decision, hold.decided_at = Decision.EXCLUDED, phase.duration
        tests = self._next_tests(examined, case)
        hold.look = Look(
            number=number,
            start=phase.start,
            length=phase.duration,
            leak=fit.leak,
            impact=examined.report.impact,
            is_adequate=fit.tests.adequate,
            is_above_allowed=case.is_above_allowed,
            is_below_allowed=is_below,
            is_flat=is_flat,
            reads_zero=reads_zero,
            cause=cause,
            is_withdrawn=hold.is_withdrawn,
            decisive_length=self._decisive_length(log, examined, tests),
            next_tests=tests,
        )

    def _case(self, log: PressureLog, phases: tuple[Phase, ...], level: float) -> tuple[ExaminedHold, Case]:
        system, phase = self.system, phases[-1]
        pulls = fit_pulls(log, phases, system)
        examined = examine_hold(log, phase, system, students_level(level, phase.duration), phases=phases,
                                pumpdowns=pulls, stated_level=level)
        practised = practice.held_against(self.criterion, examined.report.fit, pulls, log, system, doubt=phase.doubt)
        case = Case(log, system, phases, pulls, (examined.report,), (), None, 0, practised.criterion,
                    practised.outcome, practised.others)
        return examined, case

    def _next_tests(self, examined: ExaminedHold, case: Case) -> tuple[NextTest, ...]:
        """Rank what would settle this hold, where a leak and a slow source explain it alike."""
        if not self.ranks_tests or self._hold.decision is not Decision.OPEN or not case.is_left_open:
            return ()
        return next_tests(examined.measured, examined.report.fit, examined.under_vacuum, only_sooner=True)

    def _decisive_length(self, log: PressureLog, examined: ExaminedHold, tests: tuple[NextTest, ...]) -> float:
        """Return the length at which this hold is expected to decide, if it goes on as fitted. [s]"""
        hold, fit, phase, measured = self._hold, examined.report.fit, examined.phase, examined.measured
        longer = next((test for test in tests if test.kind is TestKind.LONGER), None)
        if longer is not None and self.system.allow is None:
            # The fit alone would go on as one source of many that explain the rise alike; the test tries several.
            return phase.duration + 60.0 * longer.minutes if (longer.chance or 0.0) >= AIM else math.inf
        if hold.decision is not Decision.OPEN:
            return hold.decided_at if hold.decided_at is not None else phase.duration
        allowed = examined.report.impact.allowed_rise
        if self.system.allow is not None and allowed is None:
            return math.inf
        known = known_during(log, phase, self.system)
        gauge = GaugeKind(
            noise=measured.bins.reading_noise,
            step=fit.step,
            interval=phase.duration / max(fit.readings, 1),
            wander=measured.noise.wander,
            wander_time=measured.noise.memory or 1.0,
        )
        rule = StoppingRule(
            shown_above=0.0 if allowed is None else condemning_rise(known, allowed),
            excluded_below=allowed,
            levels=lambda ahead: students_level(level_of(hold.count + ahead, self.alpha, self.growth),
                                                phase.duration * self.growth**ahead),
            growth=self.growth,
        )
        return decisive_length(rule, phase.duration, gauge, leak=fit.leak.value, levelling=_levelling(fit),
                               start=fit.start_pressure, ambient=known.ambient,
                               under_vacuum=examined.under_vacuum)


def _with_hold(log: PressureLog, phases: tuple[Phase, ...], begin: float) -> tuple[Phase, ...]:
    """Return the phases with a hold from a moment to the last reading, once it has readings enough."""
    try:
        told = hold_between(log, begin, float(log.time[-1]))
    except RangeError:
        return phases
    return (*(phase for phase in phases if phase.start < told.start and phase.kind is not Kind.HOLD), told)


def _contradicts(decision: Decision, *, is_above: bool, is_below: bool) -> bool:
    """Tell whether a look speaks against what was decided before it."""
    if decision is Decision.EXCLUDED:
        return not is_below
    return decision is Decision.SHOWN and is_below and not is_above


def is_like_pumping(fit: HoldFit) -> bool:
    """Tell whether no clear rise sets a hold apart from the flat end of a pull."""
    clear = max(CLEAR_RISE * fit.start_pressure, 3.0 * signs.noise_band(fit))
    # As read, and not as fitted: a rise and a fall that a fit lays over each other show nothing.
    return signs.is_within_noise(fit) or fit.end_pressure - fit.start_pressure < clear


def condemning_rise(system: System, allowed: float) -> float:
    """Return the rate of rise above which a leak is larger than allowed whatever the volume and the law of flow.

    Parameters
    ----------
    system : System
        What the user told us, the allowance among it.
    allowed : float
        The smallest rate of rise that the allowance can mean. [Pa/s]

    Returns
    -------
    float
        The rate. [Pa/s]
    """
    if system.allow is None or system.allow.kind is AllowKind.RISE:
        return allowed
    impact = assess(Interval(allowed, allowed, allowed), allowed, system)
    least = 0.0
    if system.allow.kind is AllowKind.THROUGHPUT and impact.throughput is not None:
        least = impact.throughput.low
    if system.allow.kind is AllowKind.LOSS and impact.loss is not None:
        least = impact.loss.least
    return allowed * system.allow.value / least if least > 0 else math.inf


def _levelling(fit: HoldFit) -> tuple[Levelling, ...]:
    """Return what levels off in a hold as one source, of which the hold has seen a part."""
    tau, seen = fit.outgassing_time_constant, fit.outgassing.value
    if tau is None or seen <= 0:
        return ()
    return (Levelling(seen / -math.expm1(-fit.duration / tau), tau),)
