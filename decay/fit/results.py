"""What the fits return: frozen results, each number with its interval and the tests of its own model."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, StrEnum
from functools import cached_property

from decay.arrays import FloatArray, frozen
from decay.interval import Interval


class Inflow(Enum):
    """How a leak's inflow goes as the vessel fills."""

    STEADY = "steady"
    LAMINAR = "laminar"
    ORIFICE = "orifice"


@dataclass(frozen=True, slots=True)
class ResidualTests:
    """How far the hold's model describes the readings."""

    misfit: float  # weighted sum of squares per degree of freedom; 1 where the noise model holds [-]
    correlation: float  # lag-one autocorrelation of the binned residuals [-]
    runs_p: float  # probability of so few runs of equal sign among independent residuals (Wald and Wolfowitz 1940) [-]
    bend_p: float  # probability of so strong an upward bend if the rise did not accelerate [-]
    bend: float  # rise at the end of the hold that an accelerating part accounts for [Pa]
    inflation: float  # factor by which the squared misfit's threshold was widened [-]
    adequate: bool  # false where the model does not describe the hold; the interval is then widened, never narrowed


@dataclass(frozen=True, slots=True)
class Description:
    """The picture an instructor draws: a line plus one exponential, as a description and not as evidence."""

    rate: Interval  # slope of the line [Pa/s]
    amplitude: Interval  # height of the exponential part [Pa]
    time_constant: Interval  # its time constant [s]
    start: float  # pressure at the start [Pa]
    plateau: float  # where the exponential alone would level off [Pa]


@dataclass(frozen=True, slots=True)
class WaterFit:
    """Free water as the only source, rising towards its saturation pressure."""

    saturation: Interval  # ceiling at the stated, logged or assumed temperature [Pa]
    is_possible: bool  # true where water alone explains the hold as well as leak and outgassing do
    is_crossed: bool  # true where the rise went beyond the ceiling: not water alone
    is_bending: bool  # true where the rise bends towards the ceiling: the curve itself speaks for water
    misfit_growth: float  # growth of the weighted misfit against the full model [-]


@dataclass(frozen=True, slots=True, eq=False)
class HoldCurve:
    """The fitted hold on a time axis of its own, for drawing."""

    time: FloatArray  # time in the log, shape (m,) [s]
    # Fitted pressure and the two curves that the ends of the leak's interval give, shape (m,) [Pa]
    model: FloatArray
    low: FloatArray
    high: FloatArray
    # The two parts of the fitted rise, each beginning at zero, shape (m,) [Pa]
    leak: FloatArray
    outgassing: FloatArray

    def __post_init__(self) -> None:
        for name in ("time", "model", "low", "high", "leak", "outgassing"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, eq=False)
class HoldFit:
    """One hold, judged by itself."""

    # Isolation (last reading before the rise) and the last undisturbed reading [s]
    start: float
    end: float
    fit_from: float  # time from which readings enter the fit; what lies before belongs to equalisation [s]
    # Pressure at ``start`` and ``end`` [Pa]
    start_pressure: float
    end_pressure: float
    readings: int  # readings in the fit [-]
    # Steady rise: its ends let in sources as slow as ``kappa`` holds; its value is what the hold itself shows [Pa/s]
    leak: Interval
    # The same where only sources up to one hold long are let in: what a usual line-plus-curve would claim [Pa/s]
    short: Interval
    outgassing: Interval  # rise during the hold that levels off, less what is taken up again [Pa]
    # Time constant of that part, weighted by what each source rose in the hold; where gas is taken up again, the time
    # in which 1 - 1/e of that rise was there [s]
    outgassing_time_constant: float | None
    plateau: float | None  # pressure where it would level off without the leak [Pa]
    # Smallest steady rise that counts as seen (at most 5 % false alarms) and smallest leak that shows as one in 95 % of
    # such holds (Currie 1968; ISO 11929) [Pa/s]
    decision_threshold: float
    detection_limit: float
    # A steady part is there whatever slow source is let in: the interval's lower end is above zero. (It stays true
    # where free water could not be excluded and the lower end was therefore set to zero.)
    is_leak_seen: bool
    # A rise that goes on: nothing levels off, or more goes on than sources up to one hold long make. A slower source
    # might make it still.
    is_steady_rise_seen: bool
    is_outgassing_seen: bool  # the lower end of the outgassing's interval is above the noise
    noise: float  # standard deviation of one reading about the fit [Pa]
    step: float  # largest step of the readings in the hold [Pa]
    kappa: float  # longest time constant let in, in holds [-]
    tests: ResidualTests  # the model's own tests
    water: WaterFit | None  # the free-water hypothesis; ``None`` where it could not be posed
    curve: HoldCurve  # for drawing
    assumptions: tuple[str, ...] = ()  # what the numbers rest on, one sentence each
    # Factor by which the threshold would have been widened for sources alone, without hose or sinks [-]
    plain_inflation: float = 1.0
    # Pressure drop along the hose at the start of the fit, where the readings show one that fades: gas then comes in on
    # the gauge's side of the hose [Pa]
    hose_drop: float | None = None
    share_at_zero: float = 0.0  # share of the readings in the fit that are zero [-]
    is_constant: bool = False  # all of them are the same
    sudden_rise: float = 0.0  # rise in the first seconds, before rig and system had equalised [Pa]
    # Law by which the leak's inflow fades as the vessel fills; ``leak`` is then the rate into an empty one
    inflow: Inflow = Inflow.STEADY
    # What a report alone asks for is worked out when it does
    describing: Callable[[], Description | None] | None = None
    naming: Callable[[], float] | None = None

    @cached_property
    def description(self) -> Description | None:
        """Line plus one exponential; ``None`` where the readings do not carry it."""
        return None if self.describing is None else self.describing()

    @cached_property
    def naming_limit(self) -> float:
        """Smallest leak that such a hold tells from sources up to ``kappa`` holds slow in 95 % of cases. [Pa/s]"""
        return math.inf if self.naming is None else self.naming()

    @property
    def duration(self) -> float:
        """Length of the hold. [s]"""
        return self.end - self.start

    @property
    def rise(self) -> float:
        """Rise over the hold. [Pa]"""
        return self.end_pressure - self.start_pressure


class StoodAt(StrEnum):
    """What a pull may have stood at."""

    WATER = "water"
    ICE = "ice"
    LIMIT = "limit"          # of pump or gauge
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Plateau:
    """A stretch of the pumpdown on which the pressure stood."""

    # Times [s]
    start: float
    end: float
    # Median and highest pressure [Pa]
    pressure: float
    highest: float
    # What it may have stood at, in words, with the temperature that belongs to the pressure where it is one of water's
    meaning: str
    stood_at: StoodAt = StoodAt.UNKNOWN  # the same as a code

    @property
    def is_water(self) -> bool:
        """Whether the pull may have stood where liquid water or ice stands."""
        return self.stood_at in (StoodAt.WATER, StoodAt.ICE)


@dataclass(frozen=True, slots=True)
class Band:
    """The pumpdown between two pressures."""

    # Pressures that bound the band [Pa]
    high: float
    low: float
    time: float  # from the first passage of the one to that of the other [s]
    time_constant: Interval  # of an exponential fall through the readings between them [s]


@dataclass(frozen=True, slots=True)
class PumpdownFit:
    """One pull."""

    # Times [s]
    start: float
    end: float
    lowest: float  # lowest pressure [Pa]
    end_pressure: float  # pressure at its end [Pa]
    time_constant: Interval | None  # of the first, fast fall; ``None`` where the log starts too late for it [s]
    bands: tuple[Band, ...]  # by decade of pressure
    knee: tuple[float, float] | None  # time and pressure where the fast fall ends [s, Pa]
    plateaus: tuple[Plateau, ...]  # where the pressure stood
    tail_exponent: Interval | None  # n of the tail's p - p_ultimate ~ t^-n [-]
    # Pairs of extra pumping time and the pressure then expected from the tail [s, Pa]
    longer_pull: tuple[tuple[float, float], ...]
    water_suspected: bool  # the pull stood where water or ice would make it stand


@dataclass(frozen=True, slots=True)
class JointFit:
    """Several holds that share one leak."""

    leak: Interval  # the shared steady rise [Pa/s]
    holds_used: tuple[int, ...]  # indices of the holds, counted from 0 [-]
    each: tuple[Interval, ...]  # the steady rise that each hold gives alone [Pa/s]
    homogeneity_p: float  # probability of such disagreement if the leak was the same in all [-]
    is_homogeneous: bool  # false where one leak cannot explain all holds
    # The lower end of the shared interval is above zero and the estimate above the decision threshold
    is_leak_seen: bool
    # As for a single hold [Pa/s]
    decision_threshold: float
    detection_limit: float
    # The shared steady rise when one hold is left out, hold by hold: what each adds. Empty where not computed. [Pa/s]
    without: tuple[Interval, ...] = ()
    misfit: float = 1.0  # weighted sum of squares per degree of freedom [-]
    growth: float = 0.0  # by how much the weighted sum of squares grows because the holds share their sources [-]
    # What does not level off within a hold, of an earlier hold and of a later one in which there is more of it, though
    # a leak stays and sources fade; ``None`` where there is none such [Pa/s]
    opened: tuple[Interval, Interval] | None = None
    # Holds of other logs of the same job that were used before this log's: name of the log, and index there. In
    # ``each`` and ``without`` they stand first.
    elsewhere: tuple[tuple[str, int], ...] = ()
    remarks: tuple[str, ...] = ()  # what was left out and why, one sentence each
