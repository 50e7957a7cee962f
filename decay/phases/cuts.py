"""How well a valve closing explains a stretch: the fit of every cut into pumping and holding, all at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, IntArray

# A settling step further back than this sum of exponents is settled; larger ones do not fit a float.
LARGEST_EXPONENT = 650.0


@dataclass(frozen=True, slots=True)
class Corner:
    """Where a stretch is best cut into pumping and holding."""

    index: int  # reading at which the valve closed, counted in the stretch [-]
    gain: float  # misfit that the cut takes away, relative to the noise's variance [-]
    # Slopes of the two sides, the right one after its first settling [Pa/s]
    slope_before: float
    slope_after: float
    jump: float  # height of the settling [Pa]
    misfit: float  # sum of squares that is left, relative to the noise's variance [-]
    # First and last reading, counted in the stretch, that explain it as well within chance [-]
    earliest: int = 0
    latest: int = 0


@dataclass(frozen=True, slots=True)
class Cuts:
    """Every cut of a stretch that was tried: one row for a closing reading, one column for a settling time or lag."""

    squares: FloatArray  # sum of squares, shape (m, q + l) [Pa²]
    # Slopes of the two sides, the right one after its first settling, shape (m, q + l) [Pa/s]
    slope_before: FloatArray
    slope_after: FloatArray
    jump: FloatArray  # height of the settling; 0 with a lag, shape (m, q + l) [Pa]


def corner_costs(
    time: FloatArray,
    pressure: FloatArray,
    tries: IntArray,
    settling: FloatArray,
    lags: FloatArray,
    pumping_since: float,
) -> Cuts:
    """Return the least squares of every pair of closing reading and settling time or lag.

    The model is continuous: a line plus ``1 / t`` before the closing, as a tail falls; after it another line plus one
    settling step ``A (1 - exp(-s / tau))`` of either sign, as rig and system equalise. With a lag the slope after the
    closing sets in gradually instead.

    Parameters
    ----------
    time : ndarray, shape (n,)
        Time. [s]
    pressure : ndarray, shape (n,)
        Pressure. [Pa]
    tries : ndarray of int, shape (m,)
        Readings to try as the last before the valve closed. [-]
    settling : ndarray, shape (q,)
        Settling times to try. [s]
    lags : ndarray, shape (l,)
        Lags to try. [s]
    pumping_since : float
        When the fall began, before the first reading. [s]

    Notes
    -----
    Products of the model's shapes are sums over the readings before a closing or after it, so that running sums give
    them for every closing at once: the cost grows with n + m and not with n m. Shapes before and shapes after meet in
    the common level alone, so that taking out level and left side leaves one or two unknowns a pair.
    """
    length = max(float(time[-1] - time[0]), 1e-9)
    x = (time - time[0]) / length
    value = pressure - pressure.mean()
    # A trace of ridge keeps a side with one reading from making the matrix singular.
    ridge = 1e-9 * len(time)
    gram, right = _left_side(x, value, tries, (time - pumping_since) / length)
    gram += ridge * np.eye(3)
    solved = np.linalg.solve(gram, right)
    # What the left side and the level take from a shape that has no part in the left side, by its product with one.
    (level, slope), (taken, tilted) = solved[:, :2, 0].T[..., None], solved[:, :2, 1].T[..., None]
    explained = np.einsum("mi,mi->m", right[..., 0], solved[..., 0])[:, None]

    rises, rises_1, rises_y, steps, steps_1, steps_y, both = _right_side(
        time, value, tries, np.concatenate([settling, lags]), x
    )
    rises_y = rises_y - level * rises_1
    steps_y = steps_y - level * steps_1
    rises = rises - taken * rises_1**2
    steps = steps - taken * steps_1**2
    both = both - taken * rises_1 * steps_1

    kinds = len(settling)
    step, lagged = slice(None, kinds), slice(kinds, None)
    slope_after, jump = np.empty(steps.shape), np.zeros(steps.shape)
    own_rise, own_step, shared = rises + ridge, steps[:, step] + ridge, both[:, step]
    determinant = own_rise * own_step - shared**2
    slope_after[:, step] = (own_step * rises_y - shared * steps_y[:, step]) / determinant
    jump[:, step] = (own_rise * steps_y[:, step] - shared * rises_y) / determinant
    lag = lags / length
    own = rises - 2.0 * lag * both[:, lagged] + lag**2 * steps[:, lagged] + ridge
    slope_after[:, lagged] = (rises_y - lag * steps_y[:, lagged]) / own
    height = jump.copy()
    height[:, lagged] = -lag * slope_after[:, lagged]

    squares = float(value @ value) - explained - slope_after * rises_y - height * steps_y
    slope_before = slope - tilted * (slope_after * rises_1 + height * steps_1)
    return Cuts(np.maximum(squares, 0.0), slope_before / length, slope_after / length, jump)


def misfit(
    time: FloatArray,
    pressure: FloatArray,
    closed: int,
    column: int,
    settling: FloatArray,
    lags: FloatArray,
    pumping_since: float,
) -> FloatArray:
    """Return what one cut leaves of each reading; its column is that of `Cuts`. [Pa]"""
    shapes = np.concatenate([settling, lags])
    since = np.maximum(time - time[closed], 0.0)
    length = max(float(time[-1] - time[0]), 1e-9)
    settled = 1.0 - np.exp(-since / shapes[column])
    pumped = np.maximum(time - pumping_since, 1e-9)
    fading = np.where(time < time[closed], pumped[closed] / pumped - 1.0, 0.0)
    sides = [np.ones(len(time)), np.minimum(time - time[closed], 0.0) / length, fading]
    after = [since / length, settled] if column < len(settling) else [(since - shapes[column] * settled) / length]
    design = np.stack(sides + after, axis=1)
    return np.asarray(pressure - design @ np.linalg.lstsq(design, pressure, rcond=None)[0])


def _left_side(x: FloatArray, value: FloatArray, tries: IntArray, pumped: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the products of level, slope before and fading with each other, and with the readings and the level."""
    pumped = np.maximum(pumped, 1e-9)
    inverse = 1.0 / pumped
    count = len(x)
    sums = np.zeros((8, count + 1))
    terms = (x, x * x, inverse, inverse * inverse, x * inverse, value, x * value, inverse * value)
    np.cumsum(np.stack(terms), axis=1, out=sums[:, 1:])
    first, second, faded, faded_twice, faded_first, total, moment, faded_total = sums[:, tries]
    here, then = x[tries], pumped[tries]
    slope = first - here * tries
    fading = then * faded - tries
    gram = np.empty((len(tries), 3, 3))
    gram[:, 0, 0] = count
    gram[:, 0, 1] = gram[:, 1, 0] = slope
    gram[:, 0, 2] = gram[:, 2, 0] = fading
    gram[:, 1, 1] = second - here * (first + slope)
    gram[:, 1, 2] = gram[:, 2, 1] = then * (faded_first - here * faded) - slope
    gram[:, 2, 2] = then * (then * faded_twice - faded) - fading
    right = np.zeros((len(tries), 3, 2))
    right[:, 0, 0] = sums[5, -1]
    right[:, 1, 0] = moment - here * total
    right[:, 2, 0] = then * faded_total - total
    right[:, 0, 1] = 1.0
    return gram, right


def _right_side(
    time: FloatArray, value: FloatArray, tries: IntArray, settling: FloatArray, x: FloatArray
) -> tuple[FloatArray, ...]:
    """Return the products of the slope after with itself, with one and the readings; the settling's; and of the two.

    Notes
    -----
    ``exp(-(t - t_i) / tau)`` is the quotient of two terms of one series. A gap counts as at most so many settling
    times that the series stays within what a float holds; what comes after it has settled in either case.
    """
    count = len(time)
    apart = np.zeros((len(settling), count))
    np.minimum(np.diff(time) / settling[:, None], LARGEST_EXPONENT / count, out=apart[:, 1:])
    decayed = np.exp(-np.cumsum(apart, axis=1))
    # Latest reading first: running sums then run over what comes after a reading, and add the small terms first.
    backward = decayed[:, ::-1]
    back_x, back_value = x[::-1], value[::-1]
    at = count - 1 - tries
    series = np.stack([backward, backward * back_x, backward * back_value, backward * backward])
    here, now = x[tries, None], decayed[:, tries]
    left, left_x, left_y, left_twice = np.swapaxes(np.cumsum(series, axis=-1)[..., at] / now, 1, 2)
    plain = np.cumsum(np.stack([back_x, back_x * back_x, back_value, back_x * back_value]), axis=1)
    first, second, total, moment = plain[:, at, None]
    number = (count - tries)[:, None]
    rises_1 = first - here * number
    steps_1 = number - left
    both = rises_1 - left_x + here * left
    rises = second - here * (first + rises_1)
    return (
        rises,
        rises_1,
        moment - here * total,
        steps_1 - left + left_twice / now.T,
        steps_1,
        total - left_y,
        both,
    )


def line_cost(time: FloatArray, pressure: FloatArray) -> float:
    """Return the sum of squares about one parabola, the smooth rival of a cut. [Pa²]"""
    if len(time) <= 3:
        return 0.0
    first = time - time.mean()
    first /= max(float(first[-1]), 1e-9)
    second = first * first
    second -= second.mean() + first * (float(first @ second) / float(first @ first))
    value = pressure - pressure.mean()
    explained = sum(float(shape @ value) ** 2 / float(shape @ shape) for shape in (first, second))
    return max(float(value @ value) - explained, 0.0)
