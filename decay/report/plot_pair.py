"""The first page of a lesson as a picture: two holds, large, that one rule judges wrongly, and where each leads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from decay import wording
from decay.lesson.holds import Pair, Shown
from decay.lesson.terms import Terms
from decay.quantities import MICRON
from decay.report import lesson_pair
from decay.report import plot_style as style
from decay.report.lesson_pair import Told
from decay.report.plot import DOTS_PER_INCH, our_look

SIZE = (12.0, 7.6)  # inches
LARGE, MIDDLE = 15.0, 12.0  # points: read from the last row
MOST_DOTS = 31
"""Readings that are drawn of a hold: fewer and larger ones are seen from afar. [-]"""
LEFT = 0.014  # of the picture's width, where its words begin
NAMED_AT = 0.75  # of the line that goes on, where its name stands
WRAP = 55  # characters under one of two panels
DOTS: dict[str, Any] = {"linestyle": "none", "marker": "o", "markersize": 5.5, "color": "black"}
LATER: dict[str, Any] = {"linestyle": (0, (4, 2)), "linewidth": 2.0, "color": "#707070"}
LINE: dict[str, Any] = {"linestyle": "-", "linewidth": 2.4, "color": "black"}
LOOKS_HERE: dict[str, Any] = {"marker": "o", "markersize": 17, "markerfacecolor": "none", "markeredgecolor": "black",
                              "markeredgewidth": 2.4, "linestyle": "none"}
AFTER: dict[str, Any] = {"facecolor": "#efefef", "edgecolor": "none"}
BEHIND: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.9}


def draw_pair(terms: Terms, pair: Pair) -> Figure:
    """Return the picture of the two holds.

    Parameters
    ----------
    terms : Terms
        What the lesson is about.
    pair : Pair
        The two holds.

    Returns
    -------
    Figure
        1200 x 760 pixels at its own resolution, made without pyplot.
    """
    with our_look():
        figure = Figure(figsize=SIZE, dpi=DOTS_PER_INCH)
        figure.text(LEFT, 0.98, "One rule, two holds, both judged wrongly", va="top", fontsize=18, fontweight="bold")
        axes = [figure.add_axes((left, 0.36, 0.405, 0.50)) for left in (LEFT + 0.055, 0.58)]
        for ax, shown, told in zip(axes, (pair.damp, pair.leaking), lesson_pair.told_pair(terms, pair), strict=True):
            draw_large(ax, terms, shown, told)
        same_scale(axes)
        rule = f"The rule: {lesson_pair.rule_in_words(terms)}. {lesson_pair.conditions(terms)}"
        figure.text(LEFT, 0.015, style.wrapped(rule, 130), va="bottom", fontsize=10.5, linespacing=1.3)
    return figure


def draw_large(
    ax: Axes, terms: Terms, shown: Shown | None, told: Told | str, *, is_answered: bool = True, width: int = WRAP
) -> Axes:
    """Draw one hold, large and with few words.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    terms : Terms
        What the lesson is about.
    shown : Shown or None
        The hold; ``None`` where no job showed it.
    told : Told or str
        The same in words.
    is_answered : bool
        Whether the picture says how it goes on and what is true, or leaves that to the class.
    width : int
        Of the words under the panel. [characters]

    Returns
    -------
    Axes
        The same.
    """
    if shown is None or isinstance(told, str):
        ax.set_axis_off()
        ax.text(0.5, 0.5, style.wrapped(str(told), 40), transform=ax.transAxes, ha="center", va="center",
                fontsize=MIDDLE)
        return ax
    hold = terms.hold
    unit, name = style.time_unit(shown.held_on.holds[-1].end - shown.held_on.holds[-1].start)
    _draw_readings(ax, shown, hold, unit)
    _draw_line(ax, shown, hold, unit)
    if is_answered:
        _draw_what_follows(ax, shown, hold, unit)
    ax.set_xlim(0.0, (shown.held_on.holds[-1].end - shown.held_on.holds[-1].start) / unit)
    ax.set_xlabel(f"time since the valve closed [{name}]", fontsize=MIDDLE)
    ax.set_ylabel("pressure [micron]", fontsize=MIDDLE)
    ax.tick_params(labelsize=MIDDLE)
    ax.xaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))
    ax.yaxis.set_major_formatter(StrMethodFormatter("{x:,.12g}"))
    ax.grid(visible=True, linewidth=0.5, color="#d0d0d0")
    head = told.title if is_answered else "Pass or fail? And does it leak?"
    ax.set_title(f"{told.letter}. {head}", loc="left", fontsize=LARGE, fontweight="bold", pad=10.0)
    said = [f"Gauge: {told.readings}."]
    if is_answered:
        said += [f"Truth: {told.truth}.", f"The log proves: {told.proof}."]
    text = "\n".join(style.wrapped(sentence, width) for sentence in said)
    ax.annotate(text, (0.0, 0.0), xytext=(0.0, -48.0), xycoords="axes fraction", textcoords="offset points", va="top",
                fontsize=MIDDLE, linespacing=1.4)
    return ax


def same_scale(axes: Sequence[Axes]) -> None:
    """Give panels one scale of pressure, so that one is not taken for steeper than the other."""
    ranges = [ax.get_ylim() for ax in axes if ax.axison]
    for ax in axes:
        if ax.axison:
            ax.set_ylim(min(0.0, *(low for low, _ in ranges)), max(high for _, high in ranges) * 1.12)


def _draw_readings(ax: Axes, shown: Shown, hold: float, unit: float) -> None:
    time, pressure = lesson_pair.held(shown, hold)
    pressure = pressure / MICRON
    kept = np.linspace(0, len(time) - 1, min(len(time), MOST_DOTS)).astype(int)
    ax.plot(time[kept] / unit, pressure[kept], zorder=4, **DOTS)
    ax.plot(time[-1:] / unit, pressure[-1:], zorder=5, **LOOKS_HERE)
    ax.annotate("the rule\nlooks here", (time[-1] / unit, pressure[-1]), xytext=(0.0, -78.0), ha="center",
                textcoords="offset points", fontsize=MIDDLE, zorder=6, bbox=BEHIND,
                arrowprops={"arrowstyle": "->", "linewidth": 1.4, "shrinkB": 9.0})


def _draw_line(ax: Axes, shown: Shown, hold: float, unit: float) -> None:
    limit = shown.analysis.verdict.criterion.limit
    if limit is None:
        return
    ax.axhline(limit / MICRON, zorder=3, **LINE)
    ax.annotate(f"the rule's line, {wording.pressure(limit)}", (1.0, limit / MICRON), xytext=(-6.0, -5.0),
                xycoords=("axes fraction", "data"), textcoords="offset points", ha="right", va="top", fontsize=MIDDLE,
                zorder=6)


def _draw_what_follows(ax: Axes, shown: Shown, hold: float, unit: float) -> None:
    """Draw the true pressure had the valve stayed shut."""
    made = shown.held_on
    start, end = made.holds[-1].start, made.holds[-1].end
    after = (made.time >= start + hold) & (made.time <= end)
    ax.axvspan(hold / unit, (end - start) / unit, zorder=0, **AFTER)
    time, pressure = (made.time[after] - start) / unit, made.pressure[after] / MICRON
    ax.plot(time, pressure, zorder=3.5, **LATER)
    place = int(NAMED_AT * len(time))
    ax.annotate("had the valve\nstayed shut", (float(time[place]), float(pressure[place])), xytext=(-6.0, 4.0),
                textcoords="offset points", ha="right", va="bottom", fontsize=MIDDLE, zorder=6)
