"""Pages for a class: the lesson's two holds large on a screen, the same to print, and the sheet to answer on."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from decay import wording
from decay.analysis import Analysis
from decay.arrays import FloatArray
from decay.files import drafted
from decay.lesson import lesson_text, plot_lesson
from decay.lesson.holds import LATER, Pair, SecondHold, Shown
from decay.lesson.lesson_text import HoldTold
from decay.lesson.teaching import Lesson
from decay.lesson.terms import Terms
from decay.report import plot_style as style

SCREEN = (12.0, 7.6)  # inches
LARGE, MIDDLE = 15.0, 12.0  # points: read from the last row
MOST_DOTS = 31
"""Readings that are drawn of a hold: fewer and larger ones are seen from afar. [-]"""
SCREEN_LEFT = 0.014  # of the picture's width, where its words begin
NAMED_AT = 0.75  # of the line that goes on, where its name stands
PANEL_WRAP = 55  # characters under one of two panels
DOTS: dict[str, Any] = {"linestyle": "none", "marker": "o", "markersize": 5.5, "color": "black"}
WHAT_FOLLOWS: dict[str, Any] = {"linestyle": (0, (4, 2)), "linewidth": 2.0, "color": "#707070"}
LINE: dict[str, Any] = {"linestyle": "-", "linewidth": 2.4, "color": "black"}
LOOKS_HERE: dict[str, Any] = {"marker": "o", "markersize": 17, "markerfacecolor": "none", "markeredgecolor": "black",
                              "markeredgewidth": 2.4, "linestyle": "none"}
SHADED_AFTER: dict[str, Any] = {"facecolor": "#efefef", "edgecolor": "none"}
BEHIND: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 1.5, "alpha": 0.9}


def draw_pair(terms: Terms, pair: Pair) -> Figure:
    """Return the picture of the two holds."""
    with style.our_look():
        figure = Figure(figsize=SCREEN, dpi=style.DOTS_PER_INCH)
        figure.text(SCREEN_LEFT, 0.98, "One rule, two holds, both judged wrongly", va="top", fontsize=18,
                    fontweight="bold")
        axes = [figure.add_axes((left, 0.40, 0.405, 0.46)) for left in (SCREEN_LEFT + 0.055, 0.58)]
        for ax, shown, told in zip(axes, (pair.damp, pair.leaking), lesson_text.told_pair(terms, pair), strict=True):
            draw_large(ax, terms, shown, told)
        same_scale(axes)
        rule = f"The rule: {lesson_text.rule_in_words(terms)}. {lesson_text.pair_conditions(terms)}"
        figure.text(SCREEN_LEFT, 0.015, style.broken(rule, 130), va="bottom", fontsize=10.5, linespacing=1.3)
    return figure


def draw_large(
    ax: Axes, terms: Terms, shown: Shown | None, told: HoldTold | str, *, is_answered: bool = True,
    width: int = PANEL_WRAP,
) -> Axes:
    """Draw one hold, large and with few words.

    Without ``is_answered`` how it goes on and what is true are left to the class. A hold that no job showed is
    ``None``, and ``told`` says so.
    """
    if shown is None or isinstance(told, str):
        ax.set_axis_off()
        ax.text(0.5, 0.5, style.broken(str(told), 40), transform=ax.transAxes, ha="center", va="center",
                fontsize=MIDDLE)
        return ax
    hold = terms.hold
    unit, name = style.time_unit(shown.held_on.holds[-1].end - shown.held_on.holds[-1].start)
    _draw_readings(ax, shown, hold, unit)
    _draw_line(ax, shown)
    if is_answered:
        _draw_what_follows(ax, shown, hold, unit)
    ax.set_xlim(0.0, (shown.held_on.holds[-1].end - shown.held_on.holds[-1].start) / unit)
    _name_large(ax, name, "pressure")
    head = told.title if is_answered else "Pass or fail? And does it leak?"
    ax.set_title(f"{told.letter}. {head}", loc="left", fontsize=LARGE, fontweight="bold", pad=10.0)
    said = [f"Gauge: {told.readings}."]
    if is_answered:
        said += [f"Truth: {told.truth}.", f"The log proves: {told.proof}.", f"Held once more, {told.warm}."]
    text = "\n".join(style.broken(sentence, width) for sentence in said)
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
    time, pressure = lesson_text.looked_at(shown, hold)
    pressure = pressure / wording.size()
    kept = np.linspace(0, len(time) - 1, min(len(time), MOST_DOTS)).astype(int)
    ax.plot(time[kept] / unit, pressure[kept], zorder=4, **DOTS)
    ax.plot(time[-1:] / unit, pressure[-1:], zorder=5, **LOOKS_HERE)
    ax.annotate("the rule\nlooks here", (time[-1] / unit, pressure[-1]), xytext=(0.0, -78.0), ha="center",
                textcoords="offset points", fontsize=MIDDLE, zorder=6, bbox=BEHIND,
                arrowprops={"arrowstyle": "->", "linewidth": 1.4, "shrinkB": 9.0})


def _draw_line(ax: Axes, shown: Shown) -> None:
    limit = shown.analysis.verdict.criterion.limit
    if limit is None:
        return
    ax.axhline(limit / wording.size(), zorder=3, **LINE)
    ax.annotate(f"the rule's line, {wording.pressure(limit)}", (1.0, limit / wording.size()), xytext=(-6.0, -5.0),
                xycoords=("axes fraction", "data"), textcoords="offset points", ha="right", va="top", fontsize=MIDDLE,
                zorder=6)


def _draw_what_follows(ax: Axes, shown: Shown, hold: float, unit: float) -> None:
    """Draw the true pressure had the valve stayed shut."""
    made = shown.held_on
    start, end = made.holds[-1].start, made.holds[-1].end
    after = (made.time >= start + hold) & (made.time <= end)
    ax.axvspan(hold / unit, (end - start) / unit, zorder=0, **SHADED_AFTER)
    time, pressure = (made.time[after] - start) / unit, made.pressure[after] / wording.size()
    ax.plot(time, pressure, zorder=3.5, **WHAT_FOLLOWS)
    place = int(NAMED_AT * len(time))
    ax.annotate("had the valve\nstayed shut", (float(time[place]), float(pressure[place])), xytext=(-6.0, 4.0),
                textcoords="offset points", ha="right", va="bottom", fontsize=MIDDLE, zorder=6)


def draw_second(ax: Axes, letter: str, second: SecondHold) -> Axes:
    """Draw the rise of a system's second hold, cold and warm."""
    warmer = f"{second.warmer:.0f} K warmer"
    for analysis, name, marker, above in ((second.again, "held again", "o", -20.0), (second.warm, warmer, "s", 8.0)):
        time, rise = _last_rise(analysis)
        unit, unit_name = style.time_unit(float(time[-1]))
        kept = np.linspace(0, len(time) - 1, min(len(time), MOST_DOTS // 2 + 1)).astype(int)
        ax.plot(time[kept] / unit, rise[kept] / wording.size(), color="black", linewidth=1.4, marker=marker,
                markersize=7, markerfacecolor="black" if marker == "s" else "white")
        ax.annotate(name, (float(time[-1]) / unit, float(rise[-1]) / wording.size()), xytext=(-4.0, above),
                    ha="right", va="bottom" if above > 0.0 else "top", textcoords="offset points", fontsize=MIDDLE)
    _name_large(ax, unit_name, "rise")
    title = f"{letter}. Warmed: {lesson_text.pace(second)}"
    ax.set_title(title, loc="left", fontsize=LARGE, fontweight="bold", pad=10.0)
    ax.set_xlim(left=0.0)
    return ax


def _name_large(ax: Axes, unit: str, what: str) -> None:
    """Name the axes of a panel that is seen from afar: time since the closing in a unit, and what rises."""
    style.name_axes(ax, f"time since the valve closed [{unit}]", f"{what} [{wording.unit()}]", MIDDLE)
    ax.tick_params(labelsize=MIDDLE)
    ax.xaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))


def _last_rise(analysis: Analysis) -> tuple[FloatArray, FloatArray]:
    """Return times since the closing [s] and the rise [Pa] of a log's last hold."""
    fit = analysis.holds[-1].fit
    time, pressure = analysis.log.readings(fit.start, fit.end)
    return time, pressure - pressure[0]


PAGE = style.A4[::-1]
"""A4 on its side; a Letter page takes it with its borders. [inch]"""
LEFT, RIGHT, TOP, FOOT = 0.06, 0.95, 0.93, 0.05  # of the page
UNANSWERED = 1.6  # lengths of the hold that the question shows
PAGE_WRAP = 100  # characters across a page


def handout(terms: Terms, pair: Pair, lesson: Lesson | None = None) -> Iterator[Figure]:
    """Yield the pages of a lesson, in grey; with the shares also those that need statistics."""
    told = list(lesson_text.told_pair(terms, pair))
    with style.our_look():
        yield style.in_grey(_question(terms, pair, told))
        for shown, words in zip((pair.damp, pair.leaking), told, strict=True):
            page = _page("", terms)
            ax = draw_large(page.add_axes((0.10, 0.36, 0.84, 0.54)), terms, shown, words, width=PAGE_WRAP)
            same_scale([ax])
            yield style.in_grey(page)
        yield style.in_grey(_shapes(terms, pair))
        yield style.in_grey(_warmed(terms, pair))
        for draw, head in _advanced(lesson) if lesson is not None else ():
            page = _page(head, terms)
            draw(page.add_axes((0.22, 0.34, 0.72, 0.40)))
            yield style.in_grey(page)


def _page(head: str, terms: Terms) -> Figure:
    page = Figure(figsize=PAGE)
    page.text(LEFT, TOP, style.broken(head.replace(" %", "\u00a0%"), 76), va="top", fontsize=18, fontweight="bold")
    rule = lesson_text.rule_in_words(terms)
    foot = f"The rule: {rule}. Synthetic: invented jobs of known truth, nothing was measured."
    page.text(LEFT, FOOT, style.broken(foot, 150), va="bottom", fontsize=9.5)
    return page


def _question(terms: Terms, pair: Pair, told: list[HoldTold | str]) -> Figure:
    page = _page("Which of these two systems leaks? And which one does the rule pass?", terms)
    axes = [page.add_axes((left, 0.45, 0.38, 0.36)) for left in (0.10, 0.57)]
    for ax, shown, words in zip(axes, (pair.damp, pair.leaking), told, strict=True):
        draw_large(ax, terms, shown, words, is_answered=False, width=52)
        if ax.axison:
            ax.set_xlim(0.0, ax.get_xlim()[1] * UNANSWERED / LATER)
        ax.annotate("Rule:    pass / fail\nSystem:  leaks / tight / cannot tell\nWhy:", (0.0, 0.0),
                    xytext=(0.0, -112.0), xycoords="axes fraction", textcoords="offset points", va="top",
                    fontsize=MIDDLE, linespacing=1.9)
    same_scale(axes)
    return page


def _shapes(terms: Terms, pair: Pair) -> Figure:
    """Draw both holds over each other: the same line, two shapes."""
    page = _page("Look at the shape, not at the line", terms)
    ax = page.add_axes((0.10, 0.36, 0.84, 0.46))
    for letter, shown, marker, left in (("A: levels off, gas from inside", pair.damp, "o", 10.0),
                                        ("B: goes on, air from outside", pair.leaking, "s", 70.0)):
        if shown is None:
            continue
        made = shown.held_on
        start, end = made.holds[-1].start, made.holds[-1].end
        unit, name = style.time_unit(end - start)
        inside = (made.time >= start) & (made.time <= end)
        time, pressure = (made.time[inside] - start) / unit, made.pressure[inside] / wording.size()
        ax.plot(time, pressure, markevery=max(len(time) // 12, 1),
                **{**DOTS, "linestyle": "-", "marker": marker, "markersize": 7})
        ax.annotate(letter, (float(time[-1]), float(pressure[-1])), xytext=(-left, 8.0), ha="right",
                    va="bottom" if left < 50.0 else "center", textcoords="offset points", fontsize=LARGE)
        _name_large(ax, name, "pressure")
        limit = shown.analysis.verdict.criterion.limit
        if limit is not None:
            ax.axhline(limit / wording.size(), **{**LINE, "linestyle": (0, (8, 3))})
    ax.set_ylim(0.0, 1.06 * ax.get_ylim()[1])
    ax.set_xlim(left=0.0)
    page.text(0.10, 0.25, style.broken(f"{lesson_text.WHERE_TO_LOOK} {lesson_text.NEVER_SHOWN}", PAGE_WRAP), va="top",
              fontsize=MIDDLE, linespacing=1.4)
    return page


def _warmed(terms: Terms, pair: Pair) -> Figure:
    """Draw each system's second hold, cold and warm: what grows with the temperature is no leak."""
    page = _page("Hold once more, warm: gas from inside grows, a leak does not", terms)
    axes = [page.add_axes((left, 0.36, 0.38, 0.42)) for left in (0.10, 0.57)]
    for ax, letter, shown in zip(axes, "AB", (pair.damp, pair.leaking), strict=True):
        if shown is None:
            ax.set_axis_off()
        else:
            draw_second(ax, letter, shown.second)
    same_scale(axes)
    page.text(0.10, 0.25, style.broken(lesson_text.ONCE_MORE, PAGE_WRAP), va="top", fontsize=MIDDLE, linespacing=1.4)
    return page


def _advanced(lesson: Lesson) -> Iterator[tuple[Callable[[Axes], Any], str]]:
    """Yield what the shares show, one panel with its headline a page."""
    hold = wording.duration(lesson.terms.hold)
    yield lambda ax: plot_lesson.draw_passing(ax, lesson), lesson_text.passing_in_words(lesson)
    yield lambda ax: plot_lesson.draw_other_lengths(ax, lesson), f"What another length than {hold} changes"
    yield lambda ax: plot_lesson.draw_volumes(ax, lesson), "The same leak in a larger system passes more often"


def save_pages(pages: Iterator[Figure], path: str | os.PathLike[str], *, replace: bool) -> Path:
    """Write pages as one PDF file, whole or not at all.

    Parameters
    ----------
    pages : iterator of Figure
        From `handout`.
    path : str or path-like
        The file.
    replace : bool
        Whether a file that is there is replaced.

    Raises
    ------
    OSError
        If it cannot be written, or exists and ``replace`` is false.
    """
    target = Path(path)
    with (
        drafted(target, replace=replace) as draft,
        style.our_look(),
        draft.open("xb") as stream,
        PdfPages(stream, metadata=dict(style.METADATA["pdf"])) as book,
    ):
        for page in pages:
            book.savefig(page)
    return target


ROWS = 20
"""Logs on one page. [-]"""
SHEET_LEFT, SHEET_RIGHT, SHEET_TOP, ROW_STEP = 0.08, 0.94, 0.83, 0.037  # of the page
BOXES = ((0.20, "leaks"), (0.29, "no leak"), (0.38, "cannot tell"))  # of the width: where each is crossed
REASON = 0.50  # of the width


def answer_sheets(logs: Sequence[str]) -> Iterator[Figure]:
    """Yield the pages of an answer sheet."""
    pages = [logs[first : first + ROWS] for first in range(0, len(logs), ROWS)]
    for place, part in enumerate(pages, 1):
        with style.our_look():
            yield _sheet(part, place, len(pages))


def _sheet(logs: Sequence[str], place: int, pages: int) -> Figure:
    page = Figure(figsize=style.A4)
    page.text(SHEET_LEFT, 0.955, "Does it leak?", fontsize=20, fontweight="bold", va="top")
    page.text(SHEET_LEFT, 0.915, "Name ______________________________     Date ____________________", fontsize=11,
              va="top")
    small: dict[str, Any] = {"fontsize": 10, "va": "center"}
    page.text(SHEET_LEFT, SHEET_TOP + 0.03, "log", fontweight="bold", **small)
    for left, name in BOXES:
        page.text(left, SHEET_TOP + 0.03, name.replace(" ", "\n"), fontweight="bold", ha="center", **small)
    page.text(REASON, SHEET_TOP + 0.03, "What in the log says so?", fontweight="bold", **small)
    for row, log in enumerate(logs):
        at = SHEET_TOP - row * ROW_STEP
        page.text(SHEET_LEFT, at, log, **small)
        for left, _ in BOXES:
            page.add_artist(Rectangle((left - 0.0115, at - 0.008), 0.023, 0.016, facecolor="none", edgecolor="black",
                                      linewidth=0.9, transform=page.transFigure))
        page.add_artist(Rectangle((REASON, at - 0.014), SHEET_RIGHT - REASON, 0.0, edgecolor="#808080", linewidth=0.7,
                                  transform=page.transFigure))
    foot = "Logs are synthetic: invented jobs of known truth, nothing was measured."
    page.text(SHEET_LEFT, 0.04, foot + (f"   Page {place} of {pages}." if pages > 1 else ""), fontsize=9)
    return page
