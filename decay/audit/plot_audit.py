"""The picture of an audit: results by group, rates against detection limits, hold lengths, how jobs went over time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, LogLocator, MaxNLocator, NullLocator, PercentFormatter, StrMethodFormatter

from decay import wording
from decay.arrays import FloatArray, IntArray
from decay.audit.summary import GroupSummary, Series, Summary
from decay.constants import MICRON, MINUTE
from decay.report import plot_style as style
from decay.wording import MICRON_PER_MINUTE

MOST_GROUPS = 6
"""Groups that get a line of their own; the rest is drawn as dots without a name. [-]"""
MOST_JOBS = 400
"""Jobs of a group that are drawn one by one. [-]"""
RESULTS_FRAME, RESULTS_ROW = 1.0, 0.22
"""Height of the results by group: around the bars, and for each. [inch]"""
MOST_ERROR_BARS = 600
"""Holds whose intervals are drawn; beyond it they would be a grey field. [-]"""
SEEN: dict[str, Any] = {"linestyle": "none", "marker": "o", "markersize": 5, "color": "black"}
NOT_SEEN: dict[str, Any] = {"linestyle": "none", "marker": "v", "markersize": 5, "markerfacecolor": "white",
                            "markeredgecolor": "#3f8fc4"}
GROUP_LOOKS: tuple[dict[str, Any], ...] = (
    {"linestyle": "-", "marker": "o", "color": "black"},
    {"linestyle": (0, (5, 2)), "marker": "s", "color": "#cf5a45"},
    {"linestyle": (0, (1, 1.4)), "marker": "^", "color": "#3f8fc4"},
    {"linestyle": (0, (8, 2, 2, 2)), "marker": "D", "color": "#666666"},
    {"linestyle": (0, (3, 1, 1, 1, 1, 1)), "marker": "v", "color": "#8a6d1d"},
    {"linestyle": (0, (2, 3)), "marker": "P", "color": "#5a3e8c"},
)
EDGES = (0.5, 1, 2, 3, 5, 7, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 480, 960, 1440, 2880)  # minutes
# Under the axes, where no hold can lie beneath it.
BELOW: dict[str, Any] = {"loc": "upper left", "bbox_to_anchor": (0.0, -0.15), "frameon": False, "borderpad": 0.0,
                         "fontsize": style.SMALL}
NEARLY = 0.97
"""Share of a round length that still counts as it: the ends of a hold are found a few readings inside it. [-]"""


def draw_audit(audit: Summary, hold: float, target: float | None) -> Figure:
    """Return the picture of an audit.

    Parameters
    ----------
    audit : Summary
        The summary of the audit.
    hold : float
        Length of hold that the criterion asks for. [s]
    target : float or None
        Pressure that it asks for before isolation. [Pa]

    Returns
    -------
    Figure
        1200 pixels wide at its own resolution, as high as its groups need, made without pyplot.
    """
    with style.our_look():
        bars = RESULTS_FRAME + RESULTS_ROW * len(bars_of(audit.by_need))
        figure = style.arranged(style.SIZE[0], style.SIZE[1] + bars, 0.1)
        axes = figure.subplot_mosaic([["results", "results"], ["rates", "lengths"], ["times", "lowest"]],
                                     height_ratios=[bars, style.SIZE[1] / 2, style.SIZE[1] / 2])
        figure.suptitle(_headline(audit), x=0.01, ha="left", fontsize=14, fontweight="bold")
        draw_results(axes["results"], audit.by_need)
        draw_rates(axes["rates"], audit.series)
        draw_hold_lengths(axes["lengths"], audit.series, hold)
        draw_times(axes["times"], audit.groups)
        draw_lowest(axes["lowest"], audit.groups, target)
        lines = {text: line for name in ("times", "lowest")
                 for line, text in zip(*axes[name].get_legend_handles_labels(), strict=True)}
        if lines:
            figure.legend(list(lines.values()), list(lines), loc="outside lower left", ncols=4, frameon=False,
                          fontsize=style.SMALL)
    return figure


def _headline(audit: Summary) -> str:
    total = {name: sum(getattr(group, name) for group in audit.groups)
             for name in ("logs", "passes", "fails", "inconclusives", "unreadables")}
    return style.safe(
        f"{total['logs']} logs: {total['passes']} pass, {total['fails']} fail, {total['inconclusives']} inconclusive, "
        f"{total['unreadables']} unreadable; {len(audit.series.length)} holds")


def draw_rates(ax: Axes, series: Series) -> Axes:
    """Draw each hold's steady rise against the smallest leak it could have shown.

    A hold that shows a leak is a dot with its interval; of one that does not the upper end is drawn, which is all it
    says.
    """
    scale = MICRON_PER_MINUTE / wording.rate_size()
    rate, low, high, limit = (np.asarray(x, dtype=np.float64) * scale for x in
                              (series.rate, series.low, series.high, series.limit))
    is_leak = np.asarray(series.is_leak, dtype=bool)
    style.title(ax, "Steady rise against the smallest leak that the hold could show")
    drawn = np.isfinite(limit) & (limit > 0) & np.where(is_leak, rate > 0, np.isfinite(high) & (high > 0))
    if not drawn.any():
        return style.say_instead(ax, "No hold has both a rate and a detection limit.")
    shown = np.where(is_leak, rate, high)
    seen, quiet = drawn & is_leak, drawn & ~is_leak
    ends = np.concatenate((limit[drawn], shown[drawn], high[seen & np.isfinite(high)]))
    left, right = float(ends.min()) / 1.5, float(ends.max()) * 1.5
    if quiet.any():
        ax.plot(limit[quiet], shown[quiet], label=f"no leak seen, or unresolved: upper end ({int(quiet.sum())})",
                **NOT_SEEN)
    if seen.any():
        ax.plot(limit[seen], shown[seen], label=f"leak seen: estimate, 95 % interval ({int(seen.sum())})", **SEEN)
        if int(seen.sum()) <= MOST_ERROR_BARS:
            top = np.where(np.isfinite(high[seen]), high[seen], right)
            ax.vlines(limit[seen], np.maximum(low[seen], left), top, color="black", linewidth=0.8)
    ax.plot([left, right], [left, right], color="#777777", linewidth=1.0, linestyle=(0, (4, 3)),
            label="as large as the detection limit")
    ax.set(xscale="log", yscale="log", xlim=(left, right), ylim=(left, right))
    for axis in (ax.xaxis, ax.yaxis):
        _mark_decades(axis, left, right)
    ax.set_xlabel(f"detection limit [{wording.rate_unit()}]")
    ax.set_ylabel(f"steady rise [{wording.rate_unit()}]")
    ax.legend(**BELOW)
    outside = int((~drawn & ~np.isnan(np.asarray(series.length))).sum())
    if outside:
        _remark(ax, f"{outside} holds without a finite limit or end are not drawn")
    return ax


def draw_hold_lengths(ax: Axes, series: Series, hold: float) -> Axes:
    """Draw how long the holds were.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    series : Series
        The holds.
    hold : float
        Length that the criterion asks for. [s]
    """
    minutes = np.asarray(series.length, dtype=np.float64) / MINUTE
    minutes = minutes[np.isfinite(minutes)]
    style.title(ax, "Lengths of the holds")
    if not len(minutes):
        return style.say_instead(ax, "No log has a hold.")
    asked = hold / MINUTE
    least, most = min(float(minutes.min()), asked), max(float(minutes.max()), asked)
    below = [edge for edge in EDGES if NEARLY * edge <= least]
    above = [edge for edge in EDGES if NEARLY * edge > most]
    between = [edge for edge in EDGES if least < NEARLY * edge <= most]
    edges = sorted({*(below[-1:] or [0.9 * least]), *between, *(above[:1] or [1.1 * most])})
    ax.hist(minutes, bins=[NEARLY * edge for edge in edges], color="#c8c8c8", edgecolor="black", hatch="//",
            linewidth=0.8)
    ax.axvline(asked, label=f"asked for, {wording.duration(hold)}", **style.CRITERION)
    median = float(np.median(minutes))
    ax.axvline(median, color="black", linewidth=1.2, linestyle=(0, (1, 1.5)),
               label=f"median, {wording.duration(median * MINUTE)}")
    ax.set_xscale("log")
    ax.set_xlim(NEARLY * edges[0], edges[-1])
    ax.xaxis.set_major_locator(FixedLocator(edges))
    ax.xaxis.set_minor_locator(NullLocator())
    ax.xaxis.set_major_formatter(StrMethodFormatter("{x:g}"))
    ax.tick_params(axis="x", labelsize=style.SMALL)
    ax.set_xlabel("length [min]")
    ax.set_ylabel("holds")
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.legend(**BELOW)
    return ax


def draw_times(ax: Axes, groups: Sequence[GroupSummary]) -> Axes:
    """Draw how long the target took, job by job."""
    style.title(ax, "Time to the target, job by job")
    if _draw_jobs(ax, groups, [group.times_to_target / MINUTE for group in groups]):
        ax.set_ylabel("time [min]")
    return ax


def draw_lowest(ax: Axes, groups: Sequence[GroupSummary], target: float | None) -> Axes:
    """Draw how low each job came.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    groups : sequence of GroupSummary
        The groups.
    target : float or None
        Pressure that the criterion asks for. [Pa]
    """
    style.title(ax, "Lowest pressure of the pull, job by job")
    if _draw_jobs(ax, groups, [group.lowest_pressures * (MICRON / wording.size()) for group in groups], target):
        ax.set_ylabel(f"pressure [{wording.unit()}]")
    return ax


def _draw_jobs(ax: Axes, groups: Sequence[GroupSummary], values: Sequence[FloatArray],
               target: float | None = None) -> bool:
    """Draw one line a group, the largest groups with their names; return whether there was anything to draw."""
    known = [index for index in range(len(groups)) if np.isfinite(values[index]).any()]
    if not known:
        style.say_instead(ax, "No log shows both the start of its pull\nand the target.")
        return False
    named = sorted(sorted(known, key=lambda index: (-groups[index].logs, groups[index].group))[:MOST_GROUPS])
    for look, index in zip(GROUP_LOOKS, named, strict=False):
        name = style.safe(style.shortened(groups[index].group, 24))
        kept, shown = _in_turn(values[index])
        # Only the clock tells which job followed which; and a job without a value parts its neighbours.
        joined = look if groups[index].ordered_by == "clock" else {**look, "linestyle": "none"}
        # Hollow, so that equal values of two groups do not hide one another.
        ax.plot(kept + 1, shown, markersize=5, markerfacecolor="none", linewidth=1.2, label=name, **joined)
    others = [index for index in known if index not in named]
    for place, index in enumerate(others):
        kept = style.worth_drawing(values[index], MOST_JOBS)
        ax.plot(kept + 1, values[index][kept], label=f"{len(others)} more groups" if place == 0 else None,
                **style.READINGS)
    ends = np.concatenate([values[index][np.isfinite(values[index]) & (values[index] > 0)] for index in known])
    if len(ends):
        ax.set_yscale("log")
        low, high = float(ends.min()), float(ends.max())
        if target is not None:
            low, high = min(low, target / wording.size()), max(high, target / wording.size())
        ax.set_ylim(low / 1.3, high * 1.3)
        _mark_decades(ax.yaxis, low / 1.3, high * 1.3)
    if target is not None:
        ax.axhline(target / wording.size(), label=f"target, {wording.pressure(target)}", **style.CRITERION)
    ordered = {groups[index].ordered_by for index in known}
    by = {"clock": "in the order of the logs' clocks", "path": "in the order of the paths"}
    words = by[ordered.pop()] if len(ordered) == 1 else "in the order of the clocks, or of the paths"
    ax.set_xlim(0.4, max(len(each) for each in values) + 0.6)
    ax.set_xlabel(f"job, {words}")
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    return True


def _in_turn(values: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return which jobs are drawn, and their values; too many are thinned, and then none follows another."""
    kept = style.worth_drawing(values, MOST_JOBS)
    shown = values[kept]
    if len(kept) == len(values):
        return kept, shown
    parted = np.insert(kept.astype(np.float64), np.arange(1, len(kept)), np.nan)
    apart = np.insert(shown, np.arange(1, len(shown)), np.nan)
    return np.nan_to_num(parted).astype(np.int64), apart


def _mark_decades(axis: Axis, low: float, high: float) -> None:
    """Mark a logarithmic axis in plain numbers, more of them where it spans little."""
    fine = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
    subs = (1.0,) if high > 3000 * low else (1.0, 2.0, 5.0) if high > 8 * low else fine
    axis.set_major_locator(LogLocator(subs=subs, numticks=12))
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(style.plain_numbers())


def _remark(ax: Axes, text: str) -> None:
    ax.annotate(text, (0.99, 0.01), xycoords="axes fraction", ha="right", va="bottom", fontsize=style.SMALL)


MOST_BARS = 14
"""Groups that get a bar; the rest is put together in one. [-]"""
NAME_LENGTH = 30  # characters
LEAST_SHARE = 0.03
"""Share of a bar below which its number has no room. [-]"""
# From light to dark, hatched where grey print would make two alike.
RESULT_LOOKS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("pass", {"facecolor": "white", "edgecolor": "black", "linewidth": 0.8}),
    ("inconclusive", {"facecolor": "#e4e4e4", "edgecolor": "black", "hatch": "//", "linewidth": 0.8}),
    ("fail", {"facecolor": "#7c2a1c", "edgecolor": "black", "linewidth": 0.8}),
    ("unreadable", {"facecolor": "white", "edgecolor": "black", "hatch": "||||", "linewidth": 0.8}),
)
COUNT: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": style.SMALL}


def bars_of(groups: Sequence[GroupSummary]) -> list[tuple[str, tuple[int, int, int, int]]]:
    """Return name and counts of each bar: passed, inconclusive, failed, unreadable. [-]

    The worst group comes first, as in ``groups``; what has no bar of its own is put together.
    """
    bars = [(g.group, (g.passes, g.inconclusives, g.fails, g.unreadables)) for g in groups]
    if len(bars) <= MOST_BARS:
        return bars
    rest = [counts for _, counts in bars[MOST_BARS - 1 :]]
    together = (sum(c[0] for c in rest), sum(c[1] for c in rest), sum(c[2] for c in rest), sum(c[3] for c in rest))
    return [*bars[: MOST_BARS - 1], (f"{len(rest)} groups that fail less", together)]


def draw_results(ax: Axes, groups: Sequence[GroupSummary]) -> Axes:
    """Draw how the logs of each group ended."""
    bars = bars_of(groups)
    style.title(ax, "Results by group, the worst first")
    for row, (_, counts) in enumerate(bars):
        left, total = 0.0, max(sum(counts), 1)
        for (name, look), count in zip(RESULT_LOOKS, counts, strict=True):
            share = count / total
            ax.barh(row, share, left=left, height=0.72, label=name if row == 0 else None, **look)
            if share >= LEAST_SHARE:
                box = None if name in ("pass", "fail") else {"facecolor": "white", "edgecolor": "none", "pad": 0.8}
                ax.text(left + share / 2, row, str(count), color="white" if name == "fail" else "black", bbox=box,
                        **COUNT)
            left += share
    ax.set_yticks(range(len(bars)), [f"{style.safe(style.shortened(name, NAME_LENGTH))} ({sum(counts)})"
                                     for name, counts in bars])
    ax.set_ylim(len(bars) - 0.5, -0.5)
    ax.set_xlim(0.0, 1.0)
    ax.xaxis.set_major_formatter(PercentFormatter(1.0))
    ax.tick_params(axis="both", labelsize=style.SMALL)
    ax.set_xlabel("share of the logs; the numbers count them")
    handles, labels = ax.get_legend_handles_labels()
    ax.legend(handles, labels, loc="upper left", bbox_to_anchor=(1.005, 1.0), frameon=False, fontsize=style.SMALL)
    return ax
