"""The case before the judge: all that the rules may look at, gathered in one frozen place."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from decay.fit.odds import Odds
from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.impact.assess import Impact, assess
from decay.interval import Interval
from decay.judge import signs
from decay.judge.about_hold import are_together, pull_before, temperature_during, whole_leak
from decay.judge.answer import Basis, CriterionOutcome, HoldReport, IfClosed
from decay.judge.around import EDGE, Contradiction, JudgedStretch, contradiction, rise_after
from decay.judge.criteria import Criterion
from decay.judge.finding import Cause
from decay.judge.gross import GrossRise, gross_rise
from decay.judge.place import (
    Beside,
    Fall,
    Jump,
    fall_at_closing,
    fall_before_flat_end,
    fall_within,
    feigned,
    gauges_beside,
    jumps_in,
    opens_with_fall,
    widened_by,
)
from decay.judge.verdict import NAMED, QUIET, cause_with_joint
from decay.log.pressure_log import PressureLog
from decay.log.quality import Bottom, bottom_of_range
from decay.phases.flat import GOES_ON
from decay.phases.phase import Begun, ClosingEvidence, Kind, Phase
from decay.pull.gas_load import GasLoad
from decay.several.next_test import NextTest
from decay.several.rig import RigShare
from decay.several.warm import WarmFit
from decay.system import AllowKind, System

HELD = 60.0
"""A stretch before a gross rise that is shorter belongs to the rise. [s]"""
HELD_ROWS = 5
"""The same in rows. [-]"""


@dataclass(frozen=True, eq=False)
class Case:
    """One job as it stands before the verdict."""

    log: PressureLog  # the readings
    system: System  # what the user told us
    phases: tuple[Phase, ...]  # in order of time
    pumpdowns: tuple[PumpdownFit, ...]  # one a pull
    holds: tuple[HoldReport, ...]  # the holds that could be fitted
    unfitted: tuple[tuple[Phase, str], ...]  # the holds that could not be fitted, each with the reason
    joint: JointFit | None  # where several holds share one leak
    decisive: int | None  # index in ``holds`` of the one that decides
    # The practice that judges: the one that was chosen, or the longest stand that the hold can answer
    criterion: Criterion
    outcome: CriterionOutcome  # how the hold stands against it
    # Where no criterion was chosen: how the hold stands against the other stands
    others: tuple[CriterionOutcome, ...] = ()
    rig: RigShare | None = None  # what of the steady rise is the rig's, where the rig was held alone
    load: GasLoad | None = None  # the pull against pump and hose, where they were told
    odds: Odds | None = None  # how likely a leak is, where the interval leaves it open
    # Where no hold was found and the log ends flat: what it would prove if the valve was closed by some moment
    if_closed: IfClosed | None = None
    warm: WarmFit | None = None  # a cold and a warm hold together, where there are two
    next_tests: tuple[NextTest, ...] = ()  # what would settle a leak that is left open, the best first
    closing: ClosingEvidence = ClosingEvidence.SHOWN  # how the log tells the closing of the hold that decides

    @property
    def hold(self) -> HoldReport | None:
        """The hold that decides."""
        return None if self.decisive is None else self.holds[self.decisive]

    @property
    def fit(self) -> HoldFit | None:
        """The fit of the hold that decides."""
        return None if self.hold is None else self.hold.fit

    @cached_property
    def cause(self) -> Cause | None:
        """The cause of the hold that decides; the whole log may name a gross leak, or contradict a quiet hold."""
        if self.is_gross_leak:
            return Cause.LEAK
        is_doubted = self.is_withheld and self.cause_of_hold not in NAMED
        return Cause.UNRESOLVED if is_doubted or self.gross is not None else self.cause_of_hold

    @cached_property
    def is_withheld(self) -> bool:
        """Whether the upper end of a hold is not believed.

        The rest of the log or another gauge contradicts it, or a pump that runs on may have left it.
        """
        if self.hold is None:
            return False
        if self.contradiction is not None or self.fall is not None or self.is_closing_open:
            return True
        return self.cause_of_hold in QUIET and any(other.rises_alone for other in self.beside)

    @property
    def if_confirmed(self) -> IfClosed | None:
        """What the hold proves once somebody confirms its closing; ``None`` where that is not what it lacks."""
        leak, limit, fit = self.leak_of_hold, self.detection_limit, self.fit
        if not self.is_closing_open or self.contradiction is not None or leak is None or limit is None or fit is None:
            return None
        return IfClosed(fit.start, fit.end, leak, limit, self.outcome) if math.isfinite(leak.high) else None

    @property
    def is_closing_open(self) -> bool:
        """Whether nothing marks the closing of a hold that does not speak for itself, by a leak or by water."""
        is_quiet = self.cause_of_hold in QUIET or self.cause_of_hold is Cause.UNRESOLVED
        return self.closing is ClosingEvidence.CREEPING and is_quiet

    @cached_property
    def gross(self) -> GrossRise | None:
        """A rise off the gauge's range that no hold came before and that the hold's own fit does not name."""
        if self.cause_of_hold in NAMED:
            return None
        rise = gross_rise(self.log)
        if rise is None or self.stretch is None:
            return rise
        # After a hold whose closing is known somebody lets gas in: that is no leak.
        held = rise.start - self.stretch.start
        is_after = self.stretch.is_closing_known and held > max(HELD, HELD_ROWS * self.log.sampling)
        # A fit of the rise itself knows more of water than a few readings do.
        is_judged = self.cause_of_hold not in QUIET and self.stretch.start < rise.end and self.stretch.end > rise.start
        return None if is_after or (is_judged and not rise.is_beyond_water) else rise

    @property
    def is_gross_leak(self) -> bool:
        """Whether a gross leak is named: nothing speaks for water, or for gas that was let in."""
        if self.gross is None or not self.gross.is_beyond_water or self.gross.may_be_let_in:
            return False
        pull = pull_before(self.pumpdowns, self.gross.start)
        return pull is None or not pull.water_suspected

    @cached_property
    def contradiction(self) -> Contradiction | None:
        """What in the whole log contradicts that no leak is seen, or none above the interval's upper end.

        ``None`` where nothing does, or none is claimed.
        """
        if self.stretch is None:
            return None
        if self.cause_of_hold in QUIET:
            return contradiction(self.log, self.stretch)
        is_small = self.allowed is not None and self.stretch.upper <= self.allowed
        # A rise before a hold that is open may be its own source, that fades; one after it is none of them.
        return rise_after(self.log, self.stretch) if self.cause_of_hold is Cause.UNRESOLVED or is_small else None

    @cached_property
    def fall(self) -> Fall | None:
        """The fall at the closing that tells of a gauge on the pump's side.

        ``None`` where a rise told the closing, unless the stretch itself opens with that fall, or the fall lies some
        time back and the rise never comes up to it again: such a rise is a wander of what the pump holds.
        """
        if self.if_closed is not None:
            return fall_before_flat_end(self.log, self.if_closed)
        if self.stretch is None or self.cause_of_hold not in QUIET:
            return None
        fall, phase = fall_at_closing(self.log, self.stretch, self._last_hold_ended()), self.phase
        if fall is None or phase is None or phase.begun is not Begun.READINGS:
            return fall
        if opens_with_fall(self.log, self.stretch):
            return fall
        return fall if phase.start > fall.end + EDGE and phase.end_pressure < fall.top else None

    def _last_hold_ended(self) -> float:
        """Return when the last hold before the judged one ended that only a closed valve can have left. [s]"""
        start = -math.inf if self.stretch is None else self.stretch.start
        ends = (p.end for p in self.phases if p.kind is Kind.HOLD and p.end < start and p.is_shown
                and p.end_pressure > (1.0 + GOES_ON) * p.start_pressure)
        return max(ends, default=-math.inf)

    @cached_property
    def beside(self) -> tuple[Beside, ...]:
        """What the log's other gauges show during the judged stretch."""
        if self.fit is None or not self.log.other_gauges:
            return ()
        return gauges_beside(self.log, JudgedStretch(self.fit.start, self.fit.end, 0.0, self.fit.noise, True))

    @property
    def phase(self) -> Phase | None:
        """The phase of the hold that decides; ``None`` where the user pointed at it."""
        if self.fit is None:
            return None
        return next((p for p in self.phases if p.kind is Kind.HOLD and p.start == self.fit.start), None)

    @property
    def stretch(self) -> JudgedStretch | None:
        """The stretch that is judged and the largest steady rise that it allows."""
        fit, leak = self.fit, self.leak_of_hold
        if fit is None or leak is None:
            return None
        is_known = self.phase is None or self.phase.begun not in (Begun.END_OF_FALL, Begun.LOG)
        return JudgedStretch(fit.start, fit.end, leak.high, fit.noise, is_known)

    @cached_property
    def bottom(self) -> Bottom | None:
        """The bottom of the gauge's range, where the judged stretch stands at it."""
        return None if self.fit is None else bottom_of_range(self.log, self.fit.start, self.fit.end)

    @property
    def hidden(self) -> float:
        """The steady rise that the bottom of the gauge's range may hide, however long it stands there. [Pa/s]"""
        return 0.0 if self.bottom is None or self.fit is None else self.bottom.pressure / self.fit.duration

    @cached_property
    def jumps(self) -> tuple[Jump, ...]:
        """Where the gauge jumps within the judged stretch, and its readings go on as before."""
        fit = self.fit
        return () if fit is None else jumps_in(self.log, fit.start, fit.end)

    @cached_property
    def fall_within(self) -> Fall | None:
        """The sudden fall within the judged stretch, as a pump makes that is let in again; no jump of the gauge."""
        fall = None if self.fit is None else fall_within(self.log, self.fit.start, self.fit.end)
        is_jump = fall is not None and any(fall.start <= jump.time <= fall.end for jump in self.jumps)
        return None if is_jump else fall

    @property
    def feigned(self) -> float:
        """The steady rise that these jumps feign or hide. [Pa/s]"""
        return 0.0 if self.fit is None else feigned(self.jumps, self.fit.duration)

    @cached_property
    def cause_of_hold(self) -> Cause | None:
        """The cause of the hold that decides, seen together with the other holds where they share one leak."""
        if self.hold is None:
            return None
        joint = self.joint if self.is_joint else None
        cause = cause_with_joint(self.hold.cause, self.hold.fit, self.pull, joint)
        if self.rig is not None and self.rig.explains_all and cause in NAMED:
            # The rise goes on, but what is the system's of it is not told apart from the rig's.
            return Cause.UNRESOLVED
        is_made_by_jumps = bool(self.jumps) and self.leak_of_hold is not None and self.leak_of_hold.low <= 0.0
        return Cause.UNRESOLVED if is_made_by_jumps and cause in NAMED else cause

    @property
    def is_left_open(self) -> bool:
        """Whether a leak and a slow source, and nothing else, are what the hold that decides cannot tell apart."""
        if self.hold is None or {self.cause, self.hold.cause} != {Cause.UNRESOLVED}:
            return False
        if self.gross is not None or self.is_withheld:
            return False
        fit = self.hold.fit
        is_odd = signs.falls(fit) or signs.accelerates(fit) or not fit.tests.adequate
        is_wet = signs.water_is_open(fit, self.pull) or (self.pull is not None and self.pull.water_suspected)
        return not is_odd and not is_wet

    @cached_property
    def pull(self) -> PumpdownFit | None:
        """The pull before the hold that decides."""
        return None if self.fit is None else pull_before(self.pumpdowns, self.fit.start)

    @cached_property
    def leak(self) -> Interval | None:
        """The steady rise that the verdict rests on: of all holds where they agree, without the rig's share. [Pa/s]

        Where the rest of the log contradicts it, or shows a gross rise, it has no upper end.
        """
        leak = self.leak_of_hold
        if self.gross is not None:
            return self.gross.leak if self.is_gross_leak else replace(self.gross.leak, low=0.0)
        return leak if leak is None or not self.is_withheld else replace(leak, high=math.inf)

    @cached_property
    def leak_of_hold(self) -> Interval | None:
        """The same by the judged stretch alone, as far as the gauge reads, and the gauges agree. [Pa/s]"""
        leak = self.whole_leak if self.rig is None else self.rig.leak
        if leak is None:
            return None
        leak = widened_by(leak, self.beside)
        if self.jumps:
            leak = replace(leak, low=max(leak.low - self.feigned, 0.0), high=leak.high + self.feigned)
        return leak if leak.high >= self.hidden else replace(leak, high=self.hidden)

    @property
    def whole_leak(self) -> Interval | None:
        """The same with whatever share of it is the rig's. [Pa/s]"""
        return whole_leak(self.joint, self.decisive, self.fit)

    @property
    def is_joint(self) -> bool:
        """Whether all holds together give the leak: they agree, and the deciding one is among them."""
        return are_together(self.joint, self.decisive)

    @property
    def is_leak_seen(self) -> bool:
        """Whether that steady rise counts as seen."""
        if self.gross is not None or (self.is_withheld and self.cause_of_hold not in NAMED):
            return self.is_gross_leak
        if self.rig is not None and self.rig.leak.low <= 0.0:
            return False
        if self.jumps and (self.leak_of_hold is None or self.leak_of_hold.low <= 0.0):
            return False
        if self.joint is not None and self.is_joint:
            return self.joint.is_leak_seen
        return self.fit is not None and self.fit.is_leak_seen

    @property
    def detection_limit(self) -> float | None:
        """Smallest leak that would have shown in 95 % of such holds, from the holds that give the leak. [Pa/s]"""
        if self.joint is not None and self.is_joint:
            return max(self.joint.detection_limit, self.hidden) + self.feigned
        return None if self.fit is None else max(self.fit.detection_limit, self.hidden) + self.feigned

    @cached_property
    def impact(self) -> Impact | None:
        """What that steady rise means: without the rig's share, of all holds where they agree, else the hold's own."""
        if self.hold is None or self.leak is None or self.detection_limit is None:
            return None
        if self.leak is self.hold.fit.leak:
            return self.hold.impact
        return assess(self.leak, self.detection_limit, replace(self.system, ambient=self.ambient))

    @property
    def basis(self) -> Basis:
        """What the verdict rests on, for the reports."""
        return Basis(
            span=None if self.fit is None else (self.fit.start, self.fit.end),
            leak=self.leak,
            is_leak_seen=self.is_leak_seen,
            detection_limit=self.detection_limit,
            impact=self.impact,
            cause=self.cause,
            is_joint=self.is_joint,
            is_without_rig=self.rig is not None and self.fit is not None,
            odds_of_leak=None if self.odds is None else self.odds.probability,
            # What the pump's side shows proves nothing, whenever the valve was closed.
            if_closed=None if self.fall is not None else self.if_closed or self.if_confirmed,
            next_tests=self.next_tests,
        )

    @property
    def allowed(self) -> float | None:
        """The tolerated leak as a rate of rise; ``None`` where none was stated or it cannot be converted. [Pa/s]"""
        return None if self.hold is None else self.hold.impact.allowed_rise

    @property
    def is_above_allowed_excluded(self) -> bool:
        """Whether a leak was allowed and everything above it is excluded."""
        return self.leak is not None and self.allowed is not None and self.leak.high <= self.allowed

    @property
    def is_above_allowed(self) -> bool:
        """Whether the leak is larger than allowed whatever the volume, and by whichever law it flows.

        The allowed rise is the smallest that the allowed loss can mean: it excludes, but it does not condemn. To
        condemn, the lower end of the quantity that was stated must lie above what was allowed under both laws.
        """
        allow, leak = self.system.allow, self.leak
        if allow is None or leak is None or self.impact is None or self.allowed is None:
            return False
        impact = self.impact
        if leak.low <= self.allowed:
            return False
        if allow.kind is AllowKind.THROUGHPUT:
            return impact.throughput is not None and impact.throughput.low > allow.value
        if allow.kind is AllowKind.LOSS:
            return impact.loss is not None and impact.loss.least > allow.value
        return leak.low > allow.value

    @property
    def ambient(self) -> float | None:
        """Temperature logged during the hold, else the stated one. [K]"""
        return temperature_during(self.log, self.fit, self.system)
