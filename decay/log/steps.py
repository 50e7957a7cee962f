"""The smallest change that a log can show at each pressure, from printed digits and from differences seen."""

from __future__ import annotations

import numpy as np

from decay.arrays import FloatArray
from decay.log.numbers import last_digit

_MULTIPLES = (1000, 500, 250, 200, 100, 50, 25, 20, 10, 5, 4, 2)
_FEWEST = 8
_ENOUGH = 6


def step_sizes(values: FloatArray, printed: list[str], decimal: str) -> FloatArray:
    """Return the step at each reading, in the unit of the readings.

    Within each third of a decade the readings tell the step: it is the largest multiple of the printed digit of
    which (nearly) all of them are whole multiples, or the smallest difference of which all differences are.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Readings; ``nan`` allowed. [any unit]
    printed : list of str
        Cells as printed, a sample of them. [-]
    decimal : str
        Decimal mark. [-]

    Returns
    -------
    step : ndarray, shape (n,)
        Step at each reading. [unit of values]
    """
    digit = _digits(values, printed, decimal)
    size = np.abs(values)
    usable = np.isfinite(values) & (size > 0)
    step = digit.copy()
    if not usable.any():
        return step
    band = np.full(len(values), -10_000)
    band[usable] = np.floor(3 * np.log10(size[usable])).astype(int)
    change = np.abs(np.diff(values, prepend=np.nan))
    for level in np.unique(band[usable]):
        here = band == level
        base = float(np.median(digit[here]))
        seen = values[here]
        if len(seen) > 20000:
            seen = seen[:: len(seen) // 20000 + 1]
        counts = np.round(seen / base)
        distinct = np.unique(counts)
        factor = 1.0
        if len(distinct) >= _FEWEST:
            factor = next((m for m in _MULTIPLES if np.mean(counts % m == 0) > 0.995), 1)
            factor = max(factor, _of_differences(change[here][:20000] / base))
        step[here] = base * factor
    return step


def _of_differences(change: FloatArray) -> float:
    """Return the smallest difference if all others are its multiples (a converted reading), else 1."""
    steps = np.round(change[np.isfinite(change)])
    steps = steps[steps > 0]
    if len(steps) < 12:
        return 1.0
    least = float(steps.min())
    if least < 2:
        return 1.0
    ratio = steps / least
    slack = np.where(least <= 4, 0.0, 1.0)
    fits = np.abs(steps - least * np.round(ratio)) <= slack
    small = ratio < 2.5  # far multiples fit anything: enough of the differences must be one or two steps
    return least if fits.mean() > 0.99 and small.mean() > 0.3 else 1.0


def _digits(values: FloatArray, printed: list[str], decimal: str) -> FloatArray:
    """Return the size of the last meaningful digit at each reading.

    In a decade with enough different readings the finest digit that is not a padding zero counts. Other decades
    take the digit of the nearest one: the same where the trusted ones agree (fixed decimals), else scaled with the
    decade (significant digits).
    """
    texts = [text.strip().replace(",", ".") if decimal == "," else text.strip() for text in printed]
    texts = list({text for text in texts if _plain(text)})
    sizes = np.array([abs(float(text)) for text in texts])
    if not len(sizes) or not np.isfinite(sizes).all():
        return np.full(len(values), _fallback(values))
    whole = np.array([last_digit(text) for text in texts])
    bare = np.array([last_digit(_unpadded(text)) for text in texts])
    positive = sizes > 0
    decade = np.where(positive, np.floor(np.log10(np.where(positive, sizes, 1.0)) + 1e-12), -999).astype(int)
    trusted = {int(d): float(bare[decade == d].min()) for d in np.unique(decade[positive])
               if (decade == d).sum() >= _ENOUGH}
    # Binary noise in the print (0.16999999999999998) is not resolution.
    trusted = {d: max(f, 10.0 ** (d - 7)) for d, f in trusted.items()}
    if not trusted:
        if not any("e" in text.lower() for text in texts):
            return np.full(len(values), max(float(whole.min()), 1e-7 * float(sizes.max()) or 1e-300))
        best = int(np.argmin(bare[positive] / sizes[positive])) if positive.any() else 0
        trusted = {int(decade[positive][best]): float(bare[positive][best])} if positive.any() else {0: 1.0}
    scales = len(set(trusted.values())) > 1 or any("e" in text.lower() for text in texts)
    known = np.array(sorted(trusted))
    floor = 10.0 ** float(known[0])
    safe = np.where(np.isfinite(values) & (values != 0), np.abs(values), floor)
    wanted = np.floor(np.log10(safe) + 1e-12).astype(int)
    step = np.empty(len(values))
    for d in np.unique(wanted):
        near = int(known[np.abs(known - d).argmin()])
        step[wanted == d] = trusted[near] * (10.0 ** float(d - near) if scales else 1.0)
    return step


def _unpadded(text: str) -> str:
    mantissa, mark, exponent = text.lower().partition("e")
    return (mantissa.rstrip("0") if "." in mantissa else mantissa) + mark + exponent


def _plain(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _fallback(values: FloatArray) -> float:
    change = np.abs(np.diff(values[np.isfinite(values)]))
    change = change[change > 0]
    return float(change.min()) if len(change) else 1.0
