"""The picture of a comparison: both rises on one clock, and what leak and outgassing were before and after."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from decay import wording
from decay.comparison import BeforeAfter, Comparison
from decay.judge.answer import Judged
from decay.report import plot_style as style
from decay.report.answers import source_name
from decay.report.compare_report import headlines

BEFORE: dict[str, Any] = {"linestyle": (0, (6, 2.5)), "linewidth": 1.9, "color": "#cf5a45"}
AFTER: dict[str, Any] = {"linestyle": "-", "linewidth": 1.9, "color": "#1f5fa8"}
MARKS = {"before": "o", "after": "s"}


def draw_compare(comparison: Comparison) -> Figure:
    """Return the picture of a comparison."""
    with style.our_look():
        figure = style.arranged(*style.SIZE, 0.07)
        axes = figure.subplots(3, 1, height_ratios=[4.2, 1.0, 1.0])
        answers = "\n".join(style.wrapped(text, 100, 2) for text in headlines(comparison))
        figure.suptitle(answers, x=0.01, ha="left", fontsize=14, fontweight="bold")
        draw_rises(axes[0], comparison)
        draw_quantity(axes[1], comparison.leak, wording.rate_size(),
                      f"leak: steady rise [{wording.rate_unit()}]")
        over = f"outgassing within {wording.duration(comparison.span)} [{wording.unit()}]"
        draw_quantity(axes[2], comparison.outgassing, wording.size(), over)
    return figure


def draw_rises(ax: Axes, comparison: Comparison) -> Axes:
    """Draw both holds from the moment the valve closed, each from where its fit begins."""
    pairs = (("before", comparison.before, BEFORE), ("after", comparison.after, AFTER))
    longest = max(a.holds[a.decisive].fit.duration for _, a, _ in pairs if a.decisive is not None)
    unit, name = style.time_unit(longest)
    for label, analysis, look in pairs:
        _draw_rise(ax, label, analysis, look, unit)
    ax.axvline(comparison.span / unit, **style.FIT_FROM, label="end of the shorter hold")
    style.name_axes(ax, f"time since the valve closed [{name}]", f"rise [{wording.unit()}]")
    ax.legend(**style.KEY)
    return ax


def _draw_rise(ax: Axes, label: str, analysis: Judged, look: dict[str, Any], unit: float) -> None:
    if analysis.decisive is None:
        return
    fit, log = analysis.holds[analysis.decisive].fit, analysis.log
    zero = float(fit.curve.model[0])
    inside = log.within(fit.fit_from, fit.end) & ~log.is_over_range & np.isfinite(log.pressure)
    time, rise = log.time[inside] - fit.start, (log.pressure[inside] - zero) / wording.size()
    shown = style.thinned(rise)
    points = style.READINGS | {"color": look["color"], "alpha": 0.35, "markersize": 4}
    ax.plot(time[shown] / unit, rise[shown], **points)
    curve = fit.curve
    elapsed = (curve.time - fit.start) / unit
    ax.fill_between(elapsed, (curve.low - zero) / wording.size(), (curve.high - zero) / wording.size(), **style.BAND)
    name = style.safe(style.shortened(source_name(log.source), 28))
    ax.plot(elapsed, (curve.model - zero) / wording.size(), label=f"{label}: fitted rise\n{name}", **look)
    steady = f"{label}: steady part"
    ax.plot(elapsed, curve.leak / wording.size(), label=steady, **(look | {"linewidth": 1.0, "alpha": 0.8}))


def draw_quantity(ax: Axes, quantity: BeforeAfter, unit: float, title: str) -> Axes:
    """Draw one quantity before and after with its intervals, and the difference in words.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    quantity : BeforeAfter
        Before, after and their difference.
    unit : float
        Unit of the axis. [same as the quantity]
    title : str
        Heading.
    """
    for place, name, estimate, look in (
        (1.0, "before", quantity.before, BEFORE),
        (0.0, "after", quantity.after, AFTER),
    ):
        value, low, high = estimate.value / unit, estimate.low / unit, estimate.high / unit
        ax.plot([low, high], [place, place], **look)
        ax.plot([value], [place], marker=MARKS[name], markersize=7, color=look["color"], linestyle="none")
    changed = quantity.difference
    value, low, high = (x / unit for x in (changed.value, changed.low, changed.high))
    difference = f"difference {wording.number(value, 2)} ({wording.number(low, 2)} to {wording.number(high, 2)})"
    style.title(ax, f"{title}; {difference}: {quantity.change.value}")
    ax.set_yticks([1.0, 0.0], ["before", "after"])
    ax.set_ylim(-0.7, 1.7)
    ax.set_xlim(left=min(0.0, ax.get_xlim()[0]))
    ax.xaxis.set_major_formatter(style.plain_numbers())
    ax.grid(visible=True, axis="x", **style.GRID)
    return ax
