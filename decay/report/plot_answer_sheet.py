"""The sheet that a class fills in by hand: one row a log, three things to cross, and room for a reason."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from decay.report.plot import our_look

PAGE = (8.27, 11.69)
"""A4 upright (ISO 216). [inch]"""
ROWS = 20
"""Logs on one page. [-]"""
LEFT, RIGHT, TOP, STEP = 0.08, 0.94, 0.83, 0.037  # of the page
BOXES = ((0.20, "leaks"), (0.29, "no leak"), (0.38, "cannot tell"))  # of the width: where each is crossed
REASON = 0.50  # of the width


def answer_sheets(logs: Sequence[str]) -> Iterator[Figure]:
    """Yield the pages of an answer sheet.

    Parameters
    ----------
    logs : sequence of str
        Names of the logs.

    Yields
    ------
    Figure
        One page; as many as the logs need.
    """
    pages = [logs[first : first + ROWS] for first in range(0, len(logs), ROWS)]
    for place, part in enumerate(pages, 1):
        with our_look():
            yield _sheet(part, place, len(pages))


def _sheet(logs: Sequence[str], place: int, pages: int) -> Figure:
    page = Figure(figsize=PAGE)
    page.text(LEFT, 0.955, "Does it leak?", fontsize=20, fontweight="bold", va="top")
    page.text(LEFT, 0.915, "Name ______________________________     Date ____________________", fontsize=11, va="top")
    small: dict[str, Any] = {"fontsize": 10, "va": "center"}
    page.text(LEFT, TOP + 0.03, "log", fontweight="bold", **small)
    for left, name in BOXES:
        page.text(left, TOP + 0.03, name.replace(" ", "\n"), fontweight="bold", ha="center", **small)
    page.text(REASON, TOP + 0.03, "What in the log says so?", fontweight="bold", **small)
    for row, log in enumerate(logs):
        at = TOP - row * STEP
        page.text(LEFT, at, log, **small)
        for left, _ in BOXES:
            page.add_artist(Rectangle((left - 0.0115, at - 0.008), 0.023, 0.016, facecolor="none", edgecolor="black",
                                      linewidth=0.9, transform=page.transFigure))
        page.add_artist(Rectangle((REASON, at - 0.014), RIGHT - REASON, 0.0, edgecolor="#808080", linewidth=0.7,
                                  transform=page.transFigure))
    foot = "Logs are synthetic: invented jobs of known truth, nothing was measured."
    page.text(LEFT, 0.04, foot + (f"   Page {place} of {pages}." if pages > 1 else ""), fontsize=9)
    return page
