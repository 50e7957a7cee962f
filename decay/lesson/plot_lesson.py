"""The second page of a lesson as a picture: what the rule passes, what the logs prove, what length and volume do."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from decay import wording
from decay.arrays import FloatArray
from decay.constants import YEAR
from decay.interval import Interval
from decay.lesson import lesson_text
from decay.lesson.lesson_text import litres
from decay.lesson.passing import Proof, RuleCurve, share
from decay.lesson.teaching import Lesson
from decay.report import plot_style as style
from decay.wording import GRAM_PER_YEAR

LESSON_SIZE = (12.0, 10.2)  # inches
HEAD_WIDTH = 148  # characters
HEADLINE_WIDTH = 80  # characters
LESSON_LEFT = 0.012  # of the picture's width, where the head begins
NONE_AT = 0.55  # of the smallest leak: where "no leak" stands on the logarithmic scale
ROW_STEP = 13.5  # points between the rows under the scale
RULE_LINE: dict[str, Any] = {"color": "black", "linewidth": 2.6}
NAMED: dict[str, Any] = {"color": "#a8452f", "linewidth": 1.7}
DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (1.5, 1.5)))
# From the bottom of the stack to its top; light, hatched, and dark also without colour.
UNSEEN: dict[str, Any] = {"facecolor": "#f8f8f8", "edgecolor": "none"}
OPEN: dict[str, Any] = {"facecolor": "#e3e3e3", "edgecolor": "#b4b4b4", "hatch": "//", "linewidth": 0.0}
PROVED: dict[str, Any] = {"facecolor": "#d98c78", "edgecolor": "none"}
BOX: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.88}

def draw_lesson(lesson: Lesson) -> Figure:
    """Return the picture of a lesson."""
    with style.our_look():
        figure = style.arranged(*LESSON_SIZE, 0.09)
        axes = figure.subplot_mosaic(
            [["head", "head"], ["main", "main"], ["length", "volume"]],
            height_ratios=[1.05, 5.2, 3.6],
        )
        _draw_head(axes["head"], lesson)
        draw_passing(axes["main"], lesson)
        draw_other_lengths(axes["length"], lesson)
        draw_volumes(axes["volume"], lesson)
    return figure


def _draw_head(ax: Axes, lesson: Lesson) -> None:
    ax.set_axis_off()
    headline = lesson_text.passing_in_words(lesson).replace(" %", "\u00a0%")
    title = style.broken(headline, HEADLINE_WIDTH, 2)
    told = style.broken(f"{lesson.terms.criterion.title}. {lesson_text.shares_conditions(lesson)}", HEAD_WIDTH, 3)
    look: dict[str, Any] = {"xycoords": ("figure fraction", "axes fraction"), "textcoords": "offset points",
                            "va": "top"}
    ax.annotate(title, (LESSON_LEFT, 1.0), xytext=(0.0, 0.0), fontsize=15, fontweight="bold", linespacing=1.2, **look)
    below = -9.0 - 20.0 * (title.count("\n") + 1)
    ax.annotate(told, (LESSON_LEFT, 1.0), xytext=(0.0, below), fontsize=10.5, linespacing=1.3, **look)


def draw_passing(ax: Axes, lesson: Lesson) -> Axes:
    """Draw how often the rule passes over what the same logs prove, leak size by leak size."""
    proof, rule = lesson.proofs[0], lesson.rules[0]
    at = _places(lesson)
    _draw_axes(ax, lesson)
    _draw_bands(ax, proof, at[proof.indices])
    _draw_rule(ax, rule, at, "passes the rule", DASHES[0], with_error=True)
    _draw_half_lines(ax, lesson)
    _label_leaks(ax, lesson)
    ax.set_ylabel("share of holds")
    length = wording.duration(rule.hold)
    ax.set_title(
        f"Black line: holds that pass the rule. Areas: what the logs of such {length} holds prove. "
        "Bars and band: 95 % counting error", loc="left", fontsize=10.5, pad=30.0)
    return ax


def _draw_bands(ax: Axes, proof: Proof, at: FloatArray) -> None:
    limit = wording.rate(float(proof.smallest_shown[0]))
    names = (f"no leak seen\n(smallest leak that half of these\nholds could show: {limit})",
             "leak or slow outgassing:\nnot distinguishable", "leak\nnamed")
    lower = np.zeros(len(at))
    counted = (proof.unseen, proof.unresolved + proof.without, proof.named)
    for name, look, counts in zip(names, (UNSEEN, OPEN, PROVED), counted, strict=True):
        upper = lower + counts / proof.runs
        ax.fill_between(at, lower, upper, zorder=1, **look)
        _name_band(ax, at, lower, upper, name)
        lower = upper
    # Both edges of the middle band are counts of their own.
    _draw_errors(ax, at[:-1], [share(int(c), proof.runs) for c in proof.unseen[:-1]], "#555555", "^")
    named = [share(int(c), proof.runs) for c in proof.named[:-1]]
    turned = [Interval(1.0 - e.value, 1.0 - e.high, 1.0 - e.low) for e in named]
    _draw_errors(ax, at[:-1] * 1.03, turned, "#7a3020", "v")


def _name_band(ax: Axes, at: FloatArray, lower: FloatArray, upper: FloatArray, name: str) -> None:
    """Write a band's name where it is tallest over a stretch wide enough to read."""
    height = np.minimum(np.minimum((upper - lower)[:-2], (upper - lower)[1:-1]), (upper - lower)[2:])
    if not height.size or height.max() < 0.15:
        return
    # Of places as good as each other, one left of the middle: the lines that cross stand further right.
    best = np.flatnonzero(height > height.max() - 0.06)
    place = int(best[len(best) // 3]) + 1
    ax.text(float(at[place]), float(lower[place] + upper[place]) / 2, name, ha="center", va="center", fontsize=10.5,
            bbox=BOX, zorder=3.5)


def _draw_errors(ax: Axes, at: FloatArray, ends: Sequence[Interval], color: str, marker: str) -> None:
    value = np.array([e.value for e in ends])
    errors = np.array([[e.value - e.low for e in ends], [e.high - e.value for e in ends]])
    ax.errorbar(at, value, yerr=errors, fmt=marker, color=color, markersize=4, elinewidth=0.8, capsize=2, zorder=3)


def _draw_rule(
    ax: Axes, curve: RuleCurve, at: FloatArray, label: str, dashes: Any, *, with_error: bool = False
) -> None:
    ends = [curve.interval(index) for index in range(len(at))]
    values = [e.value for e in ends]
    if with_error:
        low, high = ([getattr(e, end) for e in ends] for end in ("low", "high"))
        ax.fill_between(at[1:], low[1:], high[1:], color="black", alpha=0.2, linewidth=0, zorder=4)
        ax.errorbar(at[:1], values[:1], yerr=[[values[0] - low[0]], [high[0] - values[0]]], fmt="none",
                    color="black", elinewidth=1.4, capsize=4, zorder=5)
    ax.plot(at[1:], values[1:], linestyle=dashes, label=label, zorder=5, **RULE_LINE)
    ax.plot(at[:1], values[:1], marker="o", markersize=6, color="black", zorder=5, clip_on=False)


def _draw_half_lines(ax: Axes, lesson: Lesson) -> None:
    """Mark the leaks that lose half the charge within a year: both laws are proportional to the leak."""
    leaks = lesson.terms.leaks
    for law, name in enumerate(("laminar", "molecular")):
        half = lesson.half(1)[law]
        where = float(leaks[1]) * half / YEAR / wording.rate_size()
        if leaks[1] / wording.rate_size() <= where <= leaks[-1] / wording.rate_size():
            ax.axvline(where, color="black", linewidth=1.2, linestyle=(0, (2, 2)), zorder=3.2)
            ax.annotate(f"half the charge gone\nin a year if {name}", (where, 1.0), xytext=(0.0, 3.0),
                        xycoords=("data", "axes fraction"), textcoords="offset points", fontsize=style.SMALL,
                        va="bottom", ha="center", zorder=6)


def _places(lesson: Lesson) -> FloatArray:
    """Return where each leak size stands on the scale. [micron/min]"""
    at: FloatArray = lesson.terms.leaks / wording.rate_size()
    at = at.copy()
    at[0] = NONE_AT * at[1]
    return at


def _ticks(lesson: Lesson, steps: Sequence[float]) -> list[float]:
    low, high = lesson.terms.leaks[1] / wording.rate_size(), lesson.terms.leaks[-1] / wording.rate_size()
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    return [m * 10.0**d for d in decades for m in steps if low <= m * 10.0**d <= high]


def _draw_axes(ax: Axes, lesson: Lesson) -> None:
    at = _places(lesson)
    ax.set_xscale("log")
    ax.set_xlim(float(at[0]) * 0.75, float(at[-1]))
    ax.set_ylim(0.0, 1.0)
    ax.set_yticks([0, 0.25, 0.5, 0.75, 1.0], ["0", "25 %", "50 %", "75 %", "100 %"])
    ax.minorticks_off()
    ax.grid(visible=True, axis="y", linewidth=0.4, color="#999999", zorder=2)


def _label_leaks(ax: Axes, lesson: Lesson) -> None:
    """Write under each tick what the leak means, in rows: rise, grams a year, days until half the charge is gone."""
    smallest = float(lesson.terms.leaks[1]) / wording.rate_size()
    losses = [x / smallest / GRAM_PER_YEAR for x in lesson.loss(1)]
    halves = [x * smallest for x in lesson.half(1)]
    ticks = _ticks(lesson, (1, 2, 5))
    volume = wording.number(lesson.terms.volume.value * 1e3)
    columns = [(float(_places(lesson)[0]), ["no leak", "0", "0", "never", "never"])]
    for tick in ticks:
        grams = [wording.number(x * tick, 2) for x in losses]
        times = [wording.duration(x / tick) for x in halves]
        columns.append((tick, [wording.number(tick), *grams, *times]))
    heads = [f"leak, {wording.rate_unit()} in {volume} L",
             "g/year if laminar", "g/year if molecular", "half gone if laminar",
             "half gone if molecular"]
    ax.set_xticks([place for place, _ in columns], [""] * len(columns))
    for row, head in enumerate(heads):
        look: dict[str, Any] = {"xycoords": ("data", "axes fraction"), "textcoords": "offset points", "va": "top",
                                "fontsize": 9, "fontweight": "bold" if row == 0 else "normal"}
        below = -7.0 - row * ROW_STEP
        ax.annotate(head, (0.0, 0.0), xytext=(-14.0, below), ha="right", **{**look, "xycoords": "axes fraction"})
        for place, cells in columns:
            ax.annotate(cells[row], (place, 0.0), xytext=(0.0, below), ha="center", **look)


def draw_other_lengths(ax: Axes, lesson: Lesson) -> Axes:
    """Draw how the length of the hold changes what passes and what is named."""
    at = _places(lesson)
    for curve, dashes in zip(lesson.rules, DASHES, strict=True):
        _draw_rule(ax, curve, at, f"rule, {wording.duration(curve.hold)}", dashes)
    for proof, dashes, marker in zip(lesson.proofs, (DASHES[0], DASHES[2]), ("s", "o"), strict=True):
        where = at[proof.indices][1:]
        ends = [share(int(c), proof.runs) for c in proof.named][1:]
        ax.plot(where, [e.value for e in ends], label=f"leak named, {wording.duration(proof.hold)}", linestyle=dashes,
                zorder=4, marker=marker, markersize=4, **NAMED)
        _draw_errors(ax, where, ends, str(NAMED["color"]), marker)
    _finish(ax, lesson, "Other lengths, same line: what passes, what is named")
    return ax


def draw_volumes(ax: Axes, lesson: Lesson) -> Axes:
    """Draw how the volume changes what the rule passes."""
    at = _places(lesson)
    for curve, dashes in zip(lesson.volumes, (DASHES[1], DASHES[0], DASHES[2]), strict=True):
        _draw_rule(ax, curve, at, f"rule, {litres(curve.volume)}", dashes)
    _finish(ax, lesson, "Same leak, other volume: what passes")
    return ax


def _finish(ax: Axes, lesson: Lesson, title: str) -> None:
    _draw_axes(ax, lesson)
    ticks = _ticks(lesson, (1, 3))
    ax.set_xticks([float(_places(lesson)[0]), *ticks], ["none", *(wording.number(t) for t in ticks)])
    ax.set_xlabel(f"leak [{wording.rate_unit()} in {wording.number(lesson.terms.volume.value * 1e3)} L]")
    ax.set_ylabel("share of holds")
    style.title(ax, title)
    handles, labels = ax.get_legend_handles_labels()
    _put_legend(ax, handles, labels, 3 if len(labels) == 3 else 2)


def _put_legend(ax: Axes, handles: list[Any], labels: list[str], columns: int) -> None:
    """Put a legend under a panel, where it hides nothing."""
    ax.legend(handles, labels, loc="upper left", bbox_to_anchor=(-0.02, -0.17), ncols=columns, fontsize=style.SMALL,
              frameon=False, handlelength=2.4, columnspacing=1.2, labelspacing=0.3)
