"""A lesson as pages to print: one thought a page, in grey, the question before the answer."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.ticker import StrMethodFormatter

from decay import wording
from decay.files import drafted
from decay.lesson.holds import LATER, Pair
from decay.lesson.lesson import Lesson
from decay.lesson.terms import Terms
from decay.quantities import MICRON
from decay.report import lesson_pair, lesson_text, plot_lesson
from decay.report import plot_style as style
from decay.report.lesson_pair import Told
from decay.report.plot import METADATA, our_look
from decay.report.plot_grey import in_grey
from decay.report.plot_pair import DOTS, LARGE, LINE, MIDDLE, draw_large, same_scale

PAGE = (11.69, 8.27)
"""A4 on its side (ISO 216); a Letter page takes it with its borders. [inch]"""
LEFT, RIGHT, TOP, FOOT = 0.06, 0.95, 0.93, 0.05  # of the page
UNANSWERED = 1.6  # lengths of the hold that the question shows
WRAP = 100  # characters across a page


def handout(terms: Terms, pair: Pair, lesson: Lesson | None = None) -> Iterator[Figure]:
    """Yield the pages of a lesson.

    Parameters
    ----------
    terms : Terms
        What it is about.
    pair : Pair
        The two holds.
    lesson : Lesson, optional
        The shares, for the pages that need statistics.

    Yields
    ------
    Figure
        One page, in grey.
    """
    told = list(lesson_pair.told_pair(terms, pair))
    with our_look():
        yield in_grey(_question(terms, pair, told))
        for shown, words in zip((pair.damp, pair.leaking), told, strict=True):
            page = _page("", terms)
            ax = draw_large(page.add_axes((0.10, 0.36, 0.84, 0.54)), terms, shown, words, width=WRAP)
            same_scale([ax])
            yield in_grey(page)
        yield in_grey(_shapes(terms, pair))
        for draw, head in _advanced(lesson) if lesson is not None else ():
            page = _page(head, terms)
            draw(page.add_axes((0.22, 0.34, 0.72, 0.40)))
            yield in_grey(page)


def _page(head: str, terms: Terms) -> Figure:
    page = Figure(figsize=PAGE)
    page.text(LEFT, TOP, style.wrapped(head.replace(" %", "\u00a0%"), 76), va="top", fontsize=18, fontweight="bold")
    rule = lesson_pair.rule_in_words(terms)
    foot = f"The rule: {rule}. Synthetic: invented jobs of known truth, nothing was measured."
    page.text(LEFT, FOOT, style.wrapped(foot, 150), va="bottom", fontsize=9.5)
    return page


def _question(terms: Terms, pair: Pair, told: list[Told | str]) -> Figure:
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
        time, pressure = (made.time[inside] - start) / unit, made.pressure[inside] / MICRON
        ax.plot(time, pressure, markevery=max(len(time) // 12, 1),
                **{**DOTS, "linestyle": "-", "marker": marker, "markersize": 7})
        ax.annotate(letter, (float(time[-1]), float(pressure[-1])), xytext=(-left, 8.0), ha="right",
                    va="bottom" if left < 50.0 else "center", textcoords="offset points", fontsize=LARGE)
        ax.set_xlabel(f"time since the valve closed [{name}]", fontsize=MIDDLE)
        limit = shown.analysis.verdict.criterion.limit
        if limit is not None:
            ax.axhline(limit / MICRON, **{**LINE, "linestyle": (0, (8, 3))})
    ax.set_ylabel("pressure [micron]", fontsize=MIDDLE)
    ax.tick_params(labelsize=MIDDLE)
    ax.yaxis.set_major_formatter(StrMethodFormatter("{x:,.12g}"))
    ax.set_ylim(0.0, 1.06 * ax.get_ylim()[1])
    ax.set_xlim(left=0.0)
    page.text(0.10, 0.25, style.wrapped(f"{lesson_pair.LOOK} {lesson_pair.CAUTION}", WRAP), va="top", fontsize=MIDDLE,
              linespacing=1.4)
    return page


def _advanced(lesson: Lesson) -> Iterator[tuple[Callable[[Axes], Any], str]]:
    """Yield what the shares show, one panel with its headline a page."""
    hold = wording.duration(lesson.terms.hold)
    yield lambda ax: plot_lesson.draw_passing(ax, lesson), lesson_text.passing_in_words(lesson)
    yield lambda ax: plot_lesson.draw_lengths(ax, lesson), f"What another length than {hold} changes"
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

    Returns
    -------
    Path
        The file.

    Raises
    ------
    OSError
        If it cannot be written, or exists and ``replace`` is false.
    """
    target = Path(path)
    with (
        drafted(target, replace=replace) as draft,
        our_look(),
        draft.open("xb") as stream,
        PdfPages(stream, metadata=dict(METADATA["pdf"])) as book,
    ):
        for page in pages:
            book.savefig(page)
    return target
