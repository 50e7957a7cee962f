"""The animation of a hold that grows: readings come in, and interval, answer and rule of thumb change with them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.animation import FFMpegWriter, PillowWriter
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from decay import wording
from decay.errors import RangeError
from decay.files import drafted
from decay.judge.finding import Cause
from decay.lesson.growing import GrowingHold, Moment
from decay.lesson.plot_pages import LINE
from decay.report import plot_style as style
from decay.report.plot_hold import OPEN_END

FILMS = (".gif", ".mp4")
"""Endings of an animation's file; MP4 needs the program ffmpeg beside this one."""
SIZES = {1: (10.0, 7.0), 2: (14.0, 7.4)}  # inches, by the number of holds side by side
FILM_DOTS = 70
PICTURES_A_SECOND = 4
STANDS = 8
"""Pictures for which the whole hold stands at the end, so that it can be read. [-]"""
SETTLED = 0.3
"""Share of the hold from which on intervals must fit into the scale; younger ones may run out of it. [-]"""
FILM_READINGS: dict[str, Any] = {"linestyle": "none", "marker": "o", "markersize": 4.0, "color": "black"}
FILM_FAN: dict[str, Any] = {"facecolor": "#d4d4d4", "edgecolor": "#8a8a8a", "hatch": "//", "linewidth": 0.8}
FIT: dict[str, Any] = {"linestyle": "-", "linewidth": 2.0, "color": "#a8452f"}
TRUTH: dict[str, Any] = {"linestyle": (0, (5, 3)), "linewidth": 1.6, "color": "black"}
NOW = {Cause.TIGHT: "no leak seen", Cause.OUTGASSING: "no leak seen: it levels off", Cause.LEAK: "LEAK",
       Cause.LEAK_AND_OUTGASSING: "LEAK, beside outgassing", Cause.FREE_WATER: "free water explains it",
       Cause.UNRESOLVED: "leak or slow outgassing: open"}


def film_faults(path: str | os.PathLike[str]) -> str | None:
    """Return why an animation cannot be written under a name; ``None`` where it can."""
    kind = Path(path).suffix.lower()
    if kind not in FILMS:
        return f'"{path}" must end in {" or ".join(FILMS)}'
    if kind == ".mp4" and not FFMpegWriter.isAvailable():
        return "MP4 needs the program ffmpeg, which is not installed here: install it, or name a file that ends in .gif"
    return None


def save_film(holds: Sequence[GrowingHold], path: str | os.PathLike[str], *, replace: bool = False) -> Path:
    """Write the animation of one hold, or of two side by side.

    Parameters
    ----------
    holds : sequence of GrowingHold
        One or two, each with as many moments.
    path : str or path-like
        The file: GIF by pillow, MP4 by ffmpeg.
    replace : bool
        Whether a file that is there is replaced.

    Raises
    ------
    RangeError
        If the name ends otherwise, or ffmpeg is not there.
    OSError
        If it cannot be written, or exists and ``replace`` is false.
    """
    fault = film_faults(path)
    if fault is not None:
        raise RangeError(fault)
    target = Path(path)
    maker = PillowWriter if target.suffix.lower() == ".gif" else FFMpegWriter
    with style.our_look(), drafted(target, replace=replace) as draft:
        # The writers tell the kind of file by its ending.
        named = draft.with_name(f"{draft.name}{target.suffix.lower()}")
        try:
            figure = Figure(figsize=SIZES[len(holds)], dpi=FILM_DOTS)
            writer = maker(fps=PICTURES_A_SECOND)
            with writer.saving(figure, str(named), FILM_DOTS):
                count = len(holds[0].moments)
                for index in [*range(count), *([count - 1] * STANDS)]:
                    draw_moment(figure, holds, index)
                    writer.grab_frame()
            named.replace(draft)
        finally:
            named.unlink(missing_ok=True)
    return target


def draw_moment(figure: Figure, holds: Sequence[GrowingHold], index: int) -> Figure:
    """Draw one picture of the animation, in place of what stood on the figure."""
    figure.clear()
    wide = 0.88 / len(holds)
    top = 0.0
    panels = []
    for column, hold in enumerate(holds):
        left = 0.09 + column * (wide + 0.02)
        above = figure.add_axes((left, 0.42, wide - 0.07, 0.40))
        below = figure.add_axes((left, 0.07, wide - 0.07, 0.22))
        _draw_readings(above, hold, hold.moments[index])
        _draw_intervals(below, hold, index)
        panels.append(above)
        top = max(top, above.get_ylim()[1])
        _draw_words(figure, left, hold, hold.moments[index])
    for above in panels:
        above.set_ylim(min(ax.get_ylim()[0] for ax in panels), top)
    return figure


def _draw_words(figure: Figure, left: float, hold: GrowingHold, moment: Moment) -> None:
    name = style.safe(style.shortened(hold.name, 44))
    figure.text(left, 0.985, f"{name}, {wording.duration(moment.elapsed)}", va="top", fontsize=15, fontweight="bold")
    figure.text(left, 0.935, f"{_rule_so_far(moment)}\n{_answer(moment)}", va="top", fontsize=13, linespacing=1.5)


def _rule_so_far(moment: Moment) -> str:
    if moment.analysis is None:
        return "Rule: too early to say"
    outcome, readings = moment.analysis.verdict.criterion, moment.analysis.log.pressure
    if outcome.met is not None:
        said = "PASS" if outcome.met else "FAIL"
    elif outcome.limit is None:
        said = "hold too short to say"
    else:
        last = float(readings[np.isfinite(readings)][-1])
        said = "under its line so far" if last <= outcome.limit else "over its line"
    return style.safe(f"Rule, {outcome.short or outcome.title}: {said}")


def _answer(moment: Moment) -> str:
    analysis = moment.analysis
    leak = None if analysis is None else analysis.basis.leak
    if analysis is None or leak is None or analysis.verdict.cause is None:
        return "The log: too short to say anything"
    ends = f"{wording.rate_number(leak.low)} to {wording.rate_high(leak)}"
    return f"The log: {NOW[analysis.verdict.cause]} ({ends})"


def _draw_readings(ax: Axes, hold: GrowingHold, moment: Moment) -> None:
    length = hold.end - hold.start
    unit, name = style.time_unit(length)
    time, pressure = hold.log.readings(hold.start, hold.start + moment.elapsed)
    kept = style.worth_drawing(pressure, 160)
    ax.plot(time[kept] / unit, pressure[kept] / wording.size(), zorder=4, **FILM_READINGS)
    _, whole = hold.log.readings(hold.start, hold.end)
    low, high = float(whole.min()) / wording.size(), float(whole.max()) / wording.size()
    limit = None if moment.analysis is None else moment.analysis.verdict.criterion.limit
    if limit is not None and limit / wording.size() < high + 2.0 * (high - low):
        high = max(high, limit / wording.size())
        ax.axhline(limit / wording.size(), zorder=3, **LINE)
        ax.annotate("the rule's line", (0.01, limit / wording.size()), xytext=(2.0, 4.0), textcoords="offset points",
                    xycoords=("axes fraction", "data"), fontsize=11, zorder=6)
    if moment.analysis is not None and moment.analysis.decisive is not None:
        fit = moment.analysis.holds[moment.analysis.decisive].fit
        last = fit.start + moment.elapsed
        ahead = np.array([moment.elapsed, length])
        begin = float(fit.curve.model[-1]) / wording.size()
        low_end, high_end = (begin + min(end, OPEN_END) * (ahead + hold.start - last) / wording.size()
                             for end in (fit.leak.low, fit.leak.high))
        ax.fill_between(ahead / unit, low_end, high_end, zorder=1, **FILM_FAN)
        ax.plot((fit.curve.time - hold.start) / unit, fit.curve.model / wording.size(), zorder=5, **FIT)
    margin = 0.12 * max(high - low, 1.0)
    ax.set(xlim=(0.0, length / unit), ylim=(low - margin, high + 2.0 * margin))
    style.name_axes(ax, f"time since the valve closed [{name}]", f"pressure [{wording.unit()}]", 11)
    ax.yaxis.set_major_locator(MaxNLocator(6))
    ax.set_title("dots: readings   line: fit   hatched: where a leak may take it", loc="left", fontsize=10)


def _draw_intervals(ax: Axes, hold: GrowingHold, index: int) -> None:
    """Draw the interval of the leak at each moment so far."""
    length = hold.end - hold.start
    unit, _ = style.time_unit(length)
    times, lows, highs = _intervals(hold)
    settled = highs[times >= SETTLED * length]
    finite = settled[np.isfinite(settled)]
    top = 1.25 * max(float(finite.max()) if finite.size else 1.0, (hold.truth or 0.0) / wording.rate_size(), 1e-3)
    shown = times <= hold.moments[index].elapsed + 1e-9
    ax.vlines(times[shown] / unit, lows[shown], np.minimum(highs[shown], 2.0 * top), color="black", linewidth=3.0)
    if hold.truth is not None:
        ax.axhline(hold.truth / wording.rate_size(), zorder=4, **TRUTH)
        ax.annotate("truth", (1.0, hold.truth / wording.rate_size()), xytext=(4.0, 0.0), textcoords="offset points",
                    xycoords=("axes fraction", "data"), va="center", fontsize=11, annotation_clip=False)
    ax.set(xlim=(0.0, length / unit), ylim=(-0.06 * top, top))
    ax.set_ylabel(f"leak\n[{wording.rate_unit()}]", fontsize=11)
    ax.yaxis.set_major_locator(MaxNLocator(4))
    ax.grid(visible=True, axis="y", **style.GRID)
    ax.set_title("95 % interval of the leak, moment by moment", loc="left", fontsize=10)


def _intervals(hold: GrowingHold) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return times [s] and ends of the leak's interval [micron/min] of the moments that have one."""
    known = [(m.elapsed, m.analysis.basis.leak) for m in hold.moments
             if m.analysis is not None and m.analysis.basis.leak is not None]
    if not known:
        return np.empty(0), np.empty(0), np.empty(0)
    return (np.array([elapsed for elapsed, _ in known]),
            np.array([leak.low / wording.rate_size() for _, leak in known]),
            np.array([leak.high / wording.rate_size() for _, leak in known]))
