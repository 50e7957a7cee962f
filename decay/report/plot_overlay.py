"""Several holds in one picture, each from the moment its valve closed: up to a class of them, or two compared."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import LogLocator, NullFormatter

from decay import wording
from decay.arrays import FloatArray
from decay.comparison import BeforeAfter, Comparison
from decay.errors import RangeError
from decay.judge.answer import Judged
from decay.judge.finding import Result
from decay.report import plot_style as style
from decay.report.answers import ruled_out_above, source_name
from decay.report.compare_report import headlines

MOST_HOLDS = 30
"""Holds of one picture: more lines than a class has seats cannot be told apart. [-]"""
WIDTH, HEAD, FOOT, ROW = 13.0, 0.75, 0.95, 0.235  # inches
LEAST_HEIGHT = 4.6  # inches of the panel
PANEL = (0.065, 0.56)  # of the width: from, to
TABLE = (0.625, 0.655, 0.815, 0.915)  # of the width: where number, name, result and leak begin
OVERLAY_NAME = 26  # characters
WIDE_RANGE = 12.0
"""Ratio of the highest to the lowest pressure from which the scale is logarithmic. [-]"""
MOST_READINGS = 300
"""Points that one line is drawn through. [-]"""
# Three kinds that differ by dashes and weight, so that colour only helps.
LOOKS: dict[Result, dict[str, Any]] = {
    Result.PASS: {"linestyle": "-", "linewidth": 1.1, "color": "#2d6c9e"},
    Result.INCONCLUSIVE: {"linestyle": (0, (4, 2)), "linewidth": 1.5, "color": "#6a6a6a"},
    Result.FAIL: {"linestyle": "-", "linewidth": 2.6, "color": "#8e2f1b"},
}
SHARED: dict[str, Any] = {"linestyle": (0, (9, 2, 2, 2)), "linewidth": 1.4, "color": "black"}
NUMBER_LEADER: dict[str, Any] = {"linewidth": 0.6, "color": "#888888", "clip_on": False}
BEFORE: dict[str, Any] = {"linestyle": (0, (6, 2.5)), "linewidth": 1.9, "color": "#cf5a45"}
AFTER: dict[str, Any] = {"linestyle": "-", "linewidth": 1.9, "color": "#1f5fa8"}
NAME_PLACES = (0.12, 0.3, 0.5, 0.7, 0.88)
"""Where along a line its name may stand, in shares of the panel's width. [-]"""
NAME_WIDTH = 0.13
"""Half of what a name takes, likewise. [-]"""
MARKS = {"before": "o", "after": "s"}


def draw_overlay(analyses: Sequence[Judged], names: Sequence[str] | None = None) -> Figure:
    """Return the picture of several holds.

    Parameters
    ----------
    analyses : sequence of Judged
        One a log; the hold that decides is drawn.
    names : sequence of str, optional
        What each is called; by default the log's name without its folder.

    Raises
    ------
    RangeError
        If there are none, or more than `MOST_HOLDS`.
    """
    if not 1 <= len(analyses) <= MOST_HOLDS:
        raise RangeError(f"a picture of several holds takes 1 to {MOST_HOLDS} logs, got {len(analyses)}")
    told = names or [analysis.log.source.replace("\\", "/").rpartition("/")[2] for analysis in analyses]
    panel = max(LEAST_HEIGHT, ROW * (len(analyses) + 1.5))
    height = HEAD + panel + FOOT
    with style.our_look():
        figure = Figure(figsize=(WIDTH, height), dpi=style.DOTS_PER_INCH)
        ax = figure.add_axes((PANEL[0], FOOT / height, PANEL[1] - PANEL[0], panel / height))
        figure.text(0.012, 1.0 - 0.12 / height, _headline(analyses), va="top", fontsize=15, fontweight="bold")
        draw_holds(ax, analyses)
        _write_table(figure, analyses, told, (FOOT + panel) / height, ROW / height)
        kinds = [kind for kind in LOOKS if any(a.verdict.result is kind for a in analyses)]
        figure.legend([Line2D([], [], **LOOKS[kind]) for kind in kinds], [kind.value for kind in kinds],
                      loc="lower left", bbox_to_anchor=(PANEL[0], 0.0), ncols=3, frameon=False, fontsize=10)
    return figure


def _headline(analyses: Sequence[Judged]) -> str:
    counted = [(kind.value, sum(a.verdict.result is kind for a in analyses)) for kind in Result]
    holds = "hold" if len(analyses) == 1 else "holds"
    return f"{len(analyses)} {holds} from the closing of the valve: " + ", ".join(f"{n} {kind}" for kind, n in counted)


def draw_holds(ax: Axes, analyses: Sequence[Judged]) -> Axes:
    """Draw the holds over each other, each with its number at the right end of its line."""
    lines = {number: found for number, found in enumerate(map(_readings, analyses), 1) if found is not None}
    if not lines:
        ax.set_axis_off()
        ax.text(0.5, 0.5, "None of the logs has a usable hold.", transform=ax.transAxes, ha="center", fontsize=12)
        return ax
    longest = max(float(time[-1]) for time, _ in lines.values())
    unit, name = style.time_unit(longest)
    ends = {}
    for number, (time, pressure) in lines.items():
        kept = style.worth_drawing(pressure, MOST_READINGS)
        ax.plot(time[kept] / unit, pressure[kept] / wording.size(), **LOOKS[analyses[number - 1].verdict.result])
        ends[number] = (float(time[-1]) / unit, float(pressure[-1]) / wording.size())
    every = np.concatenate([pressure for _, pressure in lines.values()]) / wording.size()
    _scale(ax, every)
    limits = {a.verdict.criterion.limit for a in analyses if a.verdict.criterion.limit is not None}
    named = None
    if len(limits) == 1:
        limit = limits.pop()
        line = limit / wording.size()
        if ax.get_ylim()[0] < line < 1.5 * ax.get_ylim()[1]:
            ax.set_ylim(top=max(ax.get_ylim()[1], 1.06 * line))
            ax.axhline(line, **SHARED)
            named = (line, f"criterion, {wording.pressure(limit)}")
    ax.set_xlim(0.0, longest / unit)
    if named is not None:
        _name_line(ax, *named, [(t / unit, p / wording.size()) for t, p in lines.values()])
    _number_lines(ax, ends)
    style.name_axes(ax, f"time since the valve closed [{name}]", f"pressure [{wording.unit()}]")
    return ax


def _name_line(ax: Axes, line: float, name: str, drawn: list[tuple[FloatArray, FloatArray]]) -> None:
    """Name a level line where it stands farthest from what is drawn, as shares of the panel."""
    to_share = ax.transScale + ax.transLimits
    level = float(to_share.transform((0.0, line))[1])
    points = np.concatenate([to_share.transform(np.column_stack(both)) for both in drawn])

    def room(at: tuple[float, bool]) -> float:
        place, is_above = at
        beside = points[np.abs(points[:, 0] - place) < NAME_WIDTH, 1] - level
        beside = beside[beside > 0.0] if is_above else -beside[beside <= 0.0]
        edge = 1.0 - level if is_above else level
        return min(float(beside.min()) if beside.size else np.inf, 2.0 * edge)

    place, is_above = max(((place, side) for side in (True, False) for place in NAME_PLACES), key=room)
    ax.annotate(name, (place, line), xytext=(0.0, 3.0 if is_above else -3.0), fontsize=9, zorder=6,
                ha="center", va="bottom" if is_above else "top",
                xycoords=("axes fraction", "data"), textcoords="offset points")


def _readings(analysis: Judged) -> tuple[FloatArray, FloatArray] | None:
    """Return times since the closing [s] and readings [Pa] of the hold that decides."""
    span = analysis.basis.span
    if span is None:
        return None
    time, pressure = analysis.log.readings(*span)
    return (time, pressure) if time.size > 1 else None


def _scale(ax: Axes, every: FloatArray) -> None:
    positive = every[every > 0]
    if positive.size and float(every.max()) > WIDE_RANGE * float(positive.min()):
        ax.set_yscale("log")
        ax.set_ylim(float(positive.min()) / 1.15, float(every.max()) * 1.15)
        ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        ax.yaxis.set_minor_formatter(NullFormatter())


def _number_lines(ax: Axes, ends: dict[int, tuple[float, float]]) -> None:
    """Write each line's number beside the panel, moved apart where lines end together."""
    height = ax.bbox.height / style.DOTS_PER_INCH
    transform = ax.transScale + ax.transLimits
    at = {number: float(transform.transform((x, y))[1]) for number, (x, y) in ends.items()}
    order = sorted(at, key=lambda number: at[number])
    places = spread([at[number] for number in order], 0.155 / height)
    for number, place in zip(order, places, strict=True):
        x, y = ends[number]
        ax.annotate(str(number), (1.0, place), xytext=(17.0, 0.0), xycoords="axes fraction", va="center", ha="center",
                    textcoords="offset points", fontsize=9, annotation_clip=False)
        ax.annotate("", (x, y), xytext=(1.018, place), xycoords="data", textcoords="axes fraction",
                    arrowprops={"arrowstyle": "-", **NUMBER_LEADER}, annotation_clip=False)


def spread(wanted: Sequence[float], apart: float) -> list[float]:
    """Return places in the order of those wanted, each at least so far from the next, moved as little as that needs.

    Parameters
    ----------
    wanted : sequence of float
        Rising. [-]
    apart : float
        Least distance. [-]

    Examples
    --------
    >>> [round(x, 2) for x in spread([0.5, 0.5, 0.9], 0.1)]
    [0.45, 0.55, 0.9]
    """
    # Neighbours that are too close become one group about its middle, until no two groups touch.
    groups: list[tuple[float, int]] = []
    for place in wanted:
        groups.append((place, 1))
        while len(groups) > 1:
            (low, few), (high, many) = groups[-2:]
            if high - low >= apart * (few + many) / 2 - 1e-12:
                break
            groups[-2:] = [((low * few + high * many) / (few + many), few + many)]
    return [middle + (i - (count - 1) / 2) * apart for middle, count in groups for i in range(count)]


def _write_table(
    figure: Figure, analyses: Sequence[Judged], names: Sequence[str], top: float, step: float
) -> None:
    look: dict[str, Any] = {"va": "top", "fontsize": 9.5}
    for left, head in zip(TABLE, ("", "hold", "result", "leak"), strict=True):
        figure.text(left, top, head, fontweight="bold", **look)
    for number, (analysis, name) in enumerate(zip(analyses, names, strict=True), 1):
        at = top - number * step
        result = analysis.verdict.result
        weight = "bold" if result is Result.FAIL else "normal"
        cells = (str(number), style.safe(style.shortened(name, OVERLAY_NAME)), result.value.upper(), _leak(analysis))
        for left, cell in zip(TABLE, cells, strict=True):
            figure.text(left, at, cell, fontweight=weight if left == TABLE[2] else "normal", **look)
    figure.text(TABLE[1], top - (len(analyses) + 1.3) * step,
                f'leak in {wording.rate_unit()}, 95 % interval; "< 2": above 2 is ruled out', va="top", fontsize=8.5)


def _leak(analysis: Judged) -> str:
    """Return what is known of the leak, short enough for a column, without its unit"""
    leak = analysis.basis.leak
    if leak is None:
        return "no usable hold"
    if not analysis.basis.is_leak_seen:
        edge = ruled_out_above(analysis.basis)
        return f"< {wording.bound_number(edge)}" if math.isfinite(edge) else "any"
    low, high = wording.rate_ends(leak)
    return f"{low} to {high}"


def draw_compare(comparison: Comparison) -> Figure:
    """Return the picture of a comparison."""
    with style.our_look():
        figure = style.arranged(*style.SIZE, 0.07)
        axes = figure.subplots(3, 1, height_ratios=[4.2, 1.0, 1.0])
        answers = "\n".join(style.broken(text, 100, 2) for text in headlines(comparison))
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
    shown = style.worth_drawing(rise)
    points = style.READINGS | {"color": look["color"], "alpha": 0.35, "markersize": 4}
    ax.plot(time[shown] / unit, rise[shown], **points)
    curve = fit.curve
    elapsed = (curve.time - fit.start) / unit
    ax.fill_between(elapsed, (curve.low - zero) / wording.size(), (curve.high - zero) / wording.size(), **style.BAND)
    name = style.safe(style.shortened_path(source_name(log.source), 28))
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
    told, least, most = wording.span(quantity.difference, unit)
    style.title(ax, f"{title}; difference {told} ({least} to {most}): {quantity.change.value}")
    ax.set_yticks([1.0, 0.0], ["before", "after"])
    ax.set_ylim(-0.7, 1.7)
    ax.set_xlim(left=min(0.0, ax.get_xlim()[0]))
    ax.xaxis.set_major_formatter(style.plain_numbers())
    ax.grid(visible=True, axis="x", **style.GRID)
    return ax
