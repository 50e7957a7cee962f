"""What the fits return: frozen results, each number with its interval and the tests of its own model."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum

from decay.arrays import FloatArray, frozen
from decay.interval import Interval


class Inflow(Enum):
    """How a leak's inflow goes as the vessel fills."""

    STEADY = "steady"
    LAMINAR = "laminar"
    ORIFICE = "orifice"


@dataclass(frozen=True, slots=True)
class ResidualTests:
    """How far the hold's model describes the readings.

    Parameters
    ----------
    misfit : float
        Weighted sum of squares per degree of freedom; 1 where the noise model holds. [-]
    correlation : float
        Lag-one autocorrelation of the binned residuals. [-]
    runs_p : float
        Probability of so few runs of equal sign among independent residuals (Wald and Wolfowitz 1940). [-]
    bend_p : float
        Probability of so strong an upward bend if the rise did not accelerate. [-]
    bend : float
        Rise at the end of the hold that an accelerating part accounts for. [Pa]
    inflation : float
        Factor by which the squared misfit's threshold was widened. [-]
    adequate : bool
        False where the model does not describe the hold; the interval is then widened, never narrowed.
    """

    misfit: float
    correlation: float
    runs_p: float
    bend_p: float
    bend: float
    inflation: float
    adequate: bool


@dataclass(frozen=True, slots=True)
class Description:
    """The picture an instructor draws: a line plus one exponential, as a description and not as evidence.

    Parameters
    ----------
    rate : Interval
        Slope of the line. [Pa/s]
    amplitude : Interval
        Height of the exponential part. [Pa]
    time_constant : Interval
        Its time constant. [s]
    start : float
        Pressure at the start. [Pa]
    plateau : float
        Where the exponential alone would level off. [Pa]
    """

    rate: Interval
    amplitude: Interval
    time_constant: Interval
    start: float
    plateau: float


@dataclass(frozen=True, slots=True)
class WaterFit:
    """Free water as the only source, rising towards its saturation pressure.

    Parameters
    ----------
    saturation : Interval
        Ceiling at the stated, logged or assumed temperature. [Pa]
    is_possible : bool
        True where water alone explains the hold as well as leak and outgassing do.
    is_crossed : bool
        True where the rise went beyond the ceiling: not water alone.
    is_bending : bool
        True where the rise bends towards the ceiling: the curve itself speaks for water.
    misfit_growth : float
        Growth of the weighted misfit against the full model. [-]
    """

    saturation: Interval
    is_possible: bool
    is_crossed: bool
    is_bending: bool
    misfit_growth: float


@dataclass(frozen=True, slots=True, eq=False)
class HoldCurve:
    """The fitted hold on a time axis of its own, for drawing.

    Parameters
    ----------
    time : ndarray, shape (m,)
        Time in the log. [s]
    model, low, high : ndarray, shape (m,)
        Fitted pressure and the two curves that the ends of the leak's interval give. [Pa]
    leak, outgassing : ndarray, shape (m,)
        The two parts of the fitted rise, each beginning at zero. [Pa]
    """

    time: FloatArray
    model: FloatArray
    low: FloatArray
    high: FloatArray
    leak: FloatArray
    outgassing: FloatArray

    def __post_init__(self) -> None:
        for name in ("time", "model", "low", "high", "leak", "outgassing"):
            object.__setattr__(self, name, frozen(getattr(self, name)))


@dataclass(frozen=True, slots=True, eq=False)
class HoldFit:
    """One hold, judged by itself.

    Parameters
    ----------
    start, end : float
        Isolation (last reading before the rise) and the last undisturbed reading. [s]
    fit_from : float
        Time from which readings enter the fit; what lies before belongs to equalisation. [s]
    start_pressure, end_pressure : float
        Pressure at ``start`` and ``end``. [Pa]
    readings : int
        Readings in the fit. [-]
    leak : Interval
        Steady rise: its ends let in sources as slow as ``kappa`` holds; its value is what the hold itself shows. [Pa/s]
    short : Interval
        The same where only sources up to one hold long are let in: what a usual line-plus-curve would claim. [Pa/s]
    outgassing : Interval
        Rise during the hold that levels off, less what is taken up again. [Pa]
    outgassing_time_constant : float or None
        Time constant of that part, weighted by what each source rose in the hold; where gas is taken up again, the
        time in which 1 - 1/e of that rise was there. [s]
    plateau : float or None
        Pressure where it would level off without the leak. [Pa]
    decision_threshold, detection_limit : float
        Smallest steady rise that counts as seen (at most 5 % false alarms) and smallest leak that shows as one in
        95 % of such holds (Currie 1968; ISO 11929). [Pa/s]
    is_leak_seen : bool
        A steady part is there whatever slow source is let in: the interval's lower end is above zero. (It stays true
        where free water could not be excluded and the lower end was therefore set to zero.)
    is_steady_rise_seen : bool
        A rise that goes on: nothing levels off, or more goes on than sources up to one hold long make. A slower source
        might make it still.
    is_outgassing_seen : bool
        The lower end of the outgassing's interval is above the noise.
    noise : float
        Standard deviation of one reading about the fit. [Pa]
    step : float
        Largest step of the readings in the hold. [Pa]
    kappa : float
        Longest time constant let in, in holds. [-]
    tests : ResidualTests
        The model's own tests.
    water : WaterFit or None
        The free-water hypothesis; ``None`` where it could not be posed.
    description : Description or None
        Line plus one exponential; ``None`` where the readings do not carry it.
    curve : HoldCurve
        For drawing.
    assumptions : tuple of str
        What the numbers rest on, one sentence each.
    plain_inflation : float
        Factor by which the threshold would have been widened for sources alone, without hose or sinks. [-]
    hose_drop : float or None
        Pressure drop along the hose at the start of the fit, where the readings show one that fades: gas then comes in
        on the gauge's side of the hose. [Pa]
    share_at_zero : float
        Share of the readings in the fit that are zero. [-]
    is_constant : bool
        All of them are the same.
    naming_limit : float
        Smallest leak that such a hold tells from sources up to ``kappa`` holds slow in 95 % of cases. [Pa/s]
    sudden_rise : float
        Rise in the first seconds, before rig and system had equalised. [Pa]
    inflow : Inflow
        Law by which the leak's inflow fades as the vessel fills; ``leak`` is then the rate into an empty one.
    """

    start: float
    end: float
    fit_from: float
    start_pressure: float
    end_pressure: float
    readings: int
    leak: Interval
    short: Interval
    outgassing: Interval
    outgassing_time_constant: float | None
    plateau: float | None
    decision_threshold: float
    detection_limit: float
    is_leak_seen: bool
    is_steady_rise_seen: bool
    is_outgassing_seen: bool
    noise: float
    step: float
    kappa: float
    tests: ResidualTests
    water: WaterFit | None
    description: Description | None
    curve: HoldCurve
    assumptions: tuple[str, ...] = ()
    plain_inflation: float = 1.0
    hose_drop: float | None = None
    share_at_zero: float = 0.0
    is_constant: bool = False
    naming_limit: float = float("inf")
    sudden_rise: float = 0.0
    inflow: Inflow = Inflow.STEADY

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
    """A stretch of the pumpdown on which the pressure stood.

    Parameters
    ----------
    start, end : float
        Times. [s]
    pressure, highest : float
        Median and highest pressure. [Pa]
    meaning : str
        What it may have stood at, in words, with the temperature that belongs to the pressure where it is one of
        water's.
    stood_at : StoodAt
        The same as a code.
    """

    start: float
    end: float
    pressure: float
    highest: float
    meaning: str
    stood_at: StoodAt = StoodAt.UNKNOWN

    @property
    def is_water(self) -> bool:
        """Whether the pull may have stood where liquid water or ice stands."""
        return self.stood_at in (StoodAt.WATER, StoodAt.ICE)


@dataclass(frozen=True, slots=True)
class Band:
    """The pumpdown between two pressures.

    Parameters
    ----------
    high, low : float
        Pressures that bound the band. [Pa]
    time : float
        From the first passage of the one to that of the other. [s]
    time_constant : Interval
        Of an exponential fall through the readings between them. [s]
    """

    high: float
    low: float
    time: float
    time_constant: Interval


@dataclass(frozen=True, slots=True)
class PumpdownFit:
    """One pull.

    Parameters
    ----------
    start, end : float
        Times. [s]
    lowest : float
        Lowest pressure. [Pa]
    end_pressure : float
        Pressure at its end. [Pa]
    time_constant : Interval or None
        Of the first, fast fall; ``None`` where the log starts too late for it. [s]
    bands : tuple of Band
        By decade of pressure.
    knee : tuple of float, or None
        Time and pressure where the fast fall ends. [s, Pa]
    plateaus : tuple of Plateau
        Where the pressure stood.
    tail_exponent : Interval or None
        n of the tail's p - p_ultimate ~ t^-n. [-]
    longer_pull : tuple of tuple of float
        Pairs of extra pumping time and the pressure then expected from the tail. [s, Pa]
    water_suspected : bool
        The pull stood where water or ice would make it stand.
    """

    start: float
    end: float
    lowest: float
    end_pressure: float
    time_constant: Interval | None
    bands: tuple[Band, ...]
    knee: tuple[float, float] | None
    plateaus: tuple[Plateau, ...]
    tail_exponent: Interval | None
    longer_pull: tuple[tuple[float, float], ...]
    water_suspected: bool


@dataclass(frozen=True, slots=True)
class JointFit:
    """Several holds that share one leak.

    Parameters
    ----------
    leak : Interval
        The shared steady rise. [Pa/s]
    holds_used : tuple of int
        Indices of the holds, counted from 0. [-]
    each : tuple of Interval
        The steady rise that each hold gives alone. [Pa/s]
    homogeneity_p : float
        Probability of such disagreement if the leak was the same in all. [-]
    is_homogeneous : bool
        False where one leak cannot explain all holds.
    is_leak_seen : bool
        The lower end of the shared interval is above zero and the estimate above the decision threshold.
    decision_threshold, detection_limit : float
        As for a single hold. [Pa/s]
    without : tuple of Interval
        The shared steady rise when one hold is left out, hold by hold: what each adds. Empty where not computed. [Pa/s]
    misfit : float
        Weighted sum of squares per degree of freedom. [-]
    elsewhere : tuple of (str, int)
        Holds of other logs of the same job that were used before this log's: name of the log, and index there. In
        ``each`` and ``without`` they stand first.
    remarks : tuple of str
        What was left out and why, one sentence each.
    """

    leak: Interval
    holds_used: tuple[int, ...]
    each: tuple[Interval, ...]
    homogeneity_p: float
    is_homogeneous: bool
    is_leak_seen: bool
    decision_threshold: float
    detection_limit: float
    without: tuple[Interval, ...] = ()
    misfit: float = 1.0
    elsewhere: tuple[tuple[str, int], ...] = ()
    remarks: tuple[str, ...] = ()
