"""The panel that puts the leak's interval beside the smallest leak the hold could show, in micron/min and g/year."""

from __future__ import annotations

import math
import operator
from functools import partial
from typing import Any

from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator, StrMethodFormatter

from decay import wording
from decay.analysis import Analysis
from decay.interval import Interval
from decay.judge.answer import HoldReport
from decay.report import plot_style as style
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE

SCALE_STEP = 0.25
"""What a further scale takes above the panel. [inch]"""
ROW = 0.4
"""Height of one row. [inch]"""
# The name of a scale stands beyond its end: no number is written in the last part, where it would run into the name.
END_FREE = 0.96
LIMIT: dict[str, Any] = {"linestyle": (0, (4, 2)), "linewidth": 1.6, "color": "black"}
ALLOWED: dict[str, Any] = {"linestyle": (0, (1, 1)), "linewidth": 2.2, "color": "black"}


def draw_leak_scale(ax: Axes, analysis: Analysis) -> Axes:
    """Draw the leak's interval on a scale of its own.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    analysis : Analysis
        The answer about one log; it must have a deciding hold.

    Returns
    -------
    Axes
        The same; two further scales at its top where the loss of refrigerant is known.

    Raises
    ------
    ValueError
        If there is no hold that decides.
    """
    if analysis.decisive is None:
        raise ValueError("a leak scale needs a hold")
    report = analysis.holds[analysis.decisive]
    fit, impact = report.fit, report.impact
    rows: list[tuple[str, Interval]] = [("this hold", fit.leak)]
    if analysis.joint is not None:
        rows.append(("all holds", analysis.joint.leak))
    limit = fit.detection_limit / MICRON_PER_MINUTE
    allowed = None if impact.allowed_rise is None else impact.allowed_rise / MICRON_PER_MINUTE
    right = _right_end(rows, limit, allowed)
    ax.set_xlim(0.0, right)
    for height, (name, interval) in enumerate(reversed(rows)):
        _draw_interval(ax, height, name, interval, right)
    ax.axvline(limit, label=_limit_in_words(report), **LIMIT)
    if impact.allowed_rise is not None and allowed is not None:
        beyond = ",\nbeyond this picture" if allowed > right else ""
        ax.axvline(allowed, label=f"allowed, {wording.rate(impact.allowed_rise)}{beyond}", **ALLOWED)
    ax.set_ylim(-0.55, len(rows) - 0.25)
    ax.set_yticks(range(len(rows)), [name for name, _ in reversed(rows)])
    ax.set_xlabel("steady rise [micron/min]")
    ax.xaxis.set_major_formatter(StrMethodFormatter("{x:,.12g}"))
    ax.legend(**{**style.KEY, "bbox_to_anchor": (1.01, 1.02)})
    _add_losses(ax, analysis, report)
    return ax


def scale_height(analysis: Analysis) -> float:
    """Return the height that the panel is drawn for. [inch]"""
    return ROW * (1 if analysis.joint is None else 2) + 0.16


def _limit_in_words(report: HoldReport) -> str:
    fit = report.fit
    if not math.isfinite(fit.detection_limit):
        return "no leak of any size would\nshow in 95 % of such holds"
    detectable = report.impact.detectable_loss
    lines = ["smallest leak shown in", "95 % of such holds,", wording.bound(fit.detection_limit)]
    if detectable is not None:
        lines[-1] += ","
        lines.append(wording.between(*detectable))
    return "\n".join(lines)


def _right_end(rows: list[tuple[str, Interval]], limit: float, allowed: float | None) -> float:
    ends = [limit]
    for _, interval in rows:
        ends += [x / MICRON_PER_MINUTE for x in (interval.value, interval.high) if math.isfinite(x)]
    right = max(x for x in ends if math.isfinite(x)) if any(math.isfinite(x) for x in ends) else 1.0
    if allowed is not None and allowed < 4 * right:
        right = max(right, allowed)
    return 1.12 * right if right > 0 else 1.0


def _draw_interval(ax: Axes, height: int, name: str, interval: Interval, right: float) -> None:
    value, low, high = (x / MICRON_PER_MINUTE for x in (interval.value, interval.low, interval.high))
    ax.plot([max(low, 0.0), min(high, right)], [height, height], color="black", linewidth=5.0, solid_capstyle="butt")
    ax.plot([value], [height], marker="D", markersize=9, color="white", markeredgecolor="black", clip_on=False)
    if high > right:
        ax.plot([right], [height], marker=">", markersize=9, color="black", clip_on=False)
    ax.annotate(
        wording.rate_interval(interval),
        (min(max(value, 0.02 * right), 0.6 * right), height),
        xytext=(0, 9),
        textcoords="offset points",
        fontsize=style.SMALL,
        ha="left",
        va="bottom",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85},
    )


def _unless_at_the_end(end: float, x: float, _: int) -> str:
    return f"{x:,.12g}" if x < end else ""


def _add_losses(ax: Axes, analysis: Analysis, report: HoldReport) -> None:
    """Add g/year scales at the top: both laws are proportional to the rate, so a scale says all of it."""
    detectable, limit = report.impact.detectable_loss, report.fit.detection_limit
    if detectable is None or not 0 < limit < math.inf:
        style.title(ax, "The leak (g/year needs volume, refrigerant and temperature)")
        return
    name = style.safe(analysis.system.refrigerant or "refrigerant")
    step = SCALE_STEP / scale_height(analysis)
    for position, (law, loss) in enumerate(zip(("laminar", "molecular"), detectable, strict=True)):
        factor = loss / GRAM_PER_YEAR / (limit / MICRON_PER_MINUTE)
        if not (math.isfinite(factor) and factor > 0):
            continue
        scale = ax.secondary_xaxis(
            1.0 + position * step,
            functions=(partial(operator.mul, factor), partial(operator.mul, 1.0 / factor)),
        )
        scale.xaxis.set_major_locator(MaxNLocator(8))
        end = END_FREE * factor * ax.get_xlim()[1]
        scale.xaxis.set_major_formatter(FuncFormatter(partial(_unless_at_the_end, end)))
        scale.tick_params(labelsize=style.SMALL, pad=1.5)
        ax.text(
            1.012,
            1.0 + position * step,
            f"g/year, {law} flow",
            transform=ax.transAxes,
            fontsize=style.SMALL,
            ha="left",
            va="bottom",
        )
    style.title(ax, f"The leak, and what it would lose of {name}", above=len(ax.child_axes) * SCALE_STEP)
