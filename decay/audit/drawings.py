"""Small drawings of an audit's page, as SVG that prints sharply and asks for nothing from elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np

from decay import wording
from decay.arrays import FloatArray
from decay.log.pressure_log import PressureLog
from decay.wording import MINUTE, number

WIDTH, HEIGHT = 230, 110  # px
LEFT, BELOW, ABOVE, RIGHT = 44, 24, 8, 8  # px around the drawing, for its numbers
WIDE_RANGE = 12.0
"""Ratio of the largest to the smallest value from which a scale is logarithmic. [-]"""
MOST_POINTS = 90
"""Points of a drawing: the lowest and the highest of each stretch. [-]"""


def _frame(x_ends: tuple[str, str], y_ends: tuple[str, str], x_name: str, inside: str, title: str) -> str:
    right, bottom = WIDTH - RIGHT, HEIGHT - BELOW
    return (
        f'<svg role="img" width="{WIDTH}" height="{HEIGHT}" viewBox="0 0 {WIDTH} {HEIGHT}">'
        f"<title>{escape(title)}</title>"
        f'<path d="M{LEFT} {ABOVE}V{bottom}H{right}" fill="none" stroke="#777"/>{inside}'
        f'<text x="{LEFT - 4}" y="{ABOVE + 8}" text-anchor="end">{escape(y_ends[1])}</text>'
        f'<text x="{LEFT - 4}" y="{bottom}" text-anchor="end">{escape(y_ends[0])}</text>'
        f'<text x="{LEFT}" y="{HEIGHT - 10}">{escape(x_ends[0])}</text>'
        f'<text x="{right}" y="{HEIGHT - 10}" text-anchor="end">{escape(x_ends[1])}</text>'
        f'<text x="{(LEFT + right) / 2:.0f}" y="{HEIGHT - 10}" text-anchor="middle">{escape(x_name)}</text></svg>'
    )


def _places(x: FloatArray, y: FloatArray, x_span: tuple[float, float], y_span: tuple[float, float]) -> list[str]:
    across = (WIDTH - RIGHT - LEFT) / max(x_span[1] - x_span[0], 1e-12)
    down = (HEIGHT - BELOW - ABOVE) / max(y_span[1] - y_span[0], 1e-12)
    return [f"{LEFT + (a - x_span[0]) * across:.1f} {HEIGHT - BELOW - (b - y_span[0]) * down:.1f}"
            for a, b in zip(x.tolist(), y.tolist(), strict=True)]


def hold_drawing(log: PressureLog, start: float, end: float) -> str:
    """Return the drawing of one hold: pressure over the time since the valve closed.

    Parameters
    ----------
    log : PressureLog
        The readings.
    start, end : float
        Of the hold. [s]

    Returns
    -------
    str
        SVG; empty where the hold has no two readings.
    """
    time, pressure = log.readings(start, end)
    time, pressure = time / MINUTE, pressure / wording.size()
    if len(time) < 2:
        return ""
    kept = np.linspace(0, len(time) - 1, min(len(time), MOST_POINTS)).astype(np.int64)
    low, high = float(pressure.min()), float(pressure.max())
    path = "L".join(_places(time[kept], pressure[kept], (0.0, float(time[-1])), (low, high)))
    line = f'<path d="M{path}" fill="none" stroke="#111" stroke-width="1.6"/>'
    return _frame(("0", number(float(time[-1]), 2)), (number(low), number(high)), f"min, {wording.unit()}", line,
                  "pressure over the time since the valve closed")


def jobs_drawing(values: FloatArray, name: str, *, is_in_order: bool) -> str:
    """Return the drawing of one quantity, job by job.

    Parameters
    ----------
    values : ndarray, shape (n,)
        One a job, in order; ``nan`` where a job has none. [any unit]
    name : str
        What it is, with its unit.
    is_in_order : bool
        Whether the jobs follow each other by the clock: only then does a line join neighbours.

    Returns
    -------
    str
        SVG; empty where no job has a value.
    """
    known = np.flatnonzero(np.isfinite(values))
    if not known.size:
        return ""
    low, high = float(values[known].min()), float(values[known].max())
    is_wide = low > 0 and high > WIDE_RANGE * low
    drawn = np.log(values[known]) if is_wide else values[known]
    at = _places(known.astype(np.float64), drawn, (0.0, max(len(values) - 1.0, 1.0)),
                 (float(drawn.min()), float(drawn.max())))
    places = dict(zip(known.tolist(), at, strict=True))
    line = _joined(places) if is_in_order else ""
    dots = "".join('<circle cx="{}" cy="{}" r="2.2"/>'.format(*place.split(" ")) for place in places.values())
    told = f"job, {name}{', log' if is_wide else ''}"
    return _frame(("1", str(len(values))), (number(low), number(high)), told, line + dots, name)


def _joined(places: dict[int, str]) -> str:
    """Return lines between jobs that follow each other; one without a value parts them."""
    parts: list[list[str]] = []
    before = -2
    for index, place in places.items():
        if index != before + 1:
            parts.append([])
        parts[-1].append(place)
        before = index
    path = "".join(f"M{'L'.join(part)}" for part in parts if len(part) > 1)
    return f'<path d="{path}" fill="none" stroke="#777"/>' if path else ""


def bar(counts: Sequence[tuple[str, int]]) -> str:
    """Return a bar of shares.

    Parameters
    ----------
    counts : sequence of (str, int)
        Class of each part, and how many. [-]
    """
    parts = "".join(f'<span class="{kind}" style="flex:{n}" title="{n} {kind}">{n}</span>' for kind, n in counts if n)
    return f'<div class="bar">{parts}</div>'
