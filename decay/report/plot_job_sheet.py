"""The job sheet: one page to hand to the customer or to keep as proof, with what is needed to make it again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from typing import Any

from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from decay.errors import RangeError
from decay.judge.answer import Judged
from decay.judge.finding import Finding
from decay.report import plot_style as style
from decay.report.plot_hold import draw_hold
from decay.report.plot_log import draw_log

PAPERS = {"A4": style.A4, "Letter": (8.5, 11.0)}
"""Width and height. [inch]"""
BORDER = 0.7
"""Around the page. [inch]"""
BESIDE = (0.55, 2.1)
"""Beside a panel, within the margins: its pressures, and its names or key. [inch]"""
PANEL_ABOVE, PANEL_BELOW = 0.45, 0.5
"""Above and below a panel: its title with the strip of phases, and its times. [inch]"""
LOG_SHARE = 0.42
"""Of the height for both panels, what the whole log gets."""
MOST_NOTES = 8
TEXT, SMALL_PRINT = 8.5, 7.5
"""Sizes of letters. [point]"""
LEADING = 0.0176
"""From line to line for each point of the letters' size. [inch]"""
LETTER_WIDTH = 0.0084
"""Width of a letter for each point of its size, rather too much than too little. [inch]"""
LIMITS = ("K01", "K02")
"""What the test never says, whatever the log."""
SHEET_CAUTIONS = ("S01", "S02", "S03")


@dataclass(frozen=True, slots=True)
class JobSheet:
    """What goes on the page beside the answer."""

    headline: str  # the result and its reason, as the summary says it
    answers: tuple[str, ...]  # what is known of the leak, and of the practice
    notes: tuple[str, ...]  # words of the job: customer, place, technician, in the user's order
    command: str  # the command line that made it
    checksum: str  # of the log's bytes, with the name of the sum; empty where the log came by standard input
    paper: str = "A4"  # one of `PAPERS`


def draw_job_sheet(analysis: Judged, sheet: JobSheet) -> Figure:
    """Return the page.

    Parameters
    ----------
    analysis : Judged
        The answer about one log.
    sheet : JobSheet
        What stands beside it.

    Raises
    ------
    RangeError
        If there are more notes than the page holds, or no such paper.
    """
    if sheet.paper not in PAPERS:
        raise RangeError(f'no paper "{sheet.paper}": choose one of {", ".join(PAPERS)}')
    if len(sheet.notes) > MOST_NOTES:
        raise RangeError(f"a job sheet holds {MOST_NOTES} notes, got {len(sheet.notes)}: join or shorten some")
    with style.our_look():
        page = _Page(Figure(figsize=PAPERS[sheet.paper], dpi=100))
        day = (analysis.log.started or "date not in the log").replace("T", " ")
        page.title("Pressure-rise test of an evacuated circuit", day)
        page.box(analysis.verdict.result.value.upper(), sheet.headline)
        page.write(_Text(sheet.answers, TEXT + 1.0), _Text(sheet.notes, TEXT))
        small_print = _small_print(analysis, sheet)
        page.panels(analysis, sum(text.height(page.inside) for text in small_print))
        page.write(*small_print)
        page.signature()
    return page.figure


def _small_print(analysis: Judged, sheet: JobSheet) -> list[_Text]:
    verdict = analysis.verdict
    criterion = verdict.criterion
    made = f"decay {version('decay')}; log {analysis.log.source}; {sheet.checksum or 'no checksum of a stream'}"
    sections = {
        "Criterion": (f"{criterion.title}. Source: {criterion.source}; status: {criterion.standing}.",),
        "What this test does not say": _said(verdict.caveats, LIMITS),
        "Cautions": _said((*verdict.caveats, *verdict.next_steps), SHEET_CAUTIONS),
        "To make it again": (made, sheet.command),
    }
    return [_Text(lines, SMALL_PRINT, title) for title, lines in sections.items() if lines]


def _said(findings: Sequence[Finding], codes: tuple[str, ...]) -> tuple[str, ...]:
    """Return what the findings of some codes say."""
    return tuple(f"{finding.summary} [{finding.code}]" for finding in findings if finding.code in codes)


@dataclass(frozen=True, slots=True)
class _Text:
    """Paragraphs in letters of one size [point], under a title or none."""

    paragraphs: tuple[str, ...]
    size: float
    title: str = ""

    def lines(self, width: float) -> str:
        """Return the paragraphs, broken to a width. [inch]"""
        letters = int(width / (LETTER_WIDTH * self.size))
        return "\n".join(style.broken(paragraph, letters) for paragraph in self.paragraphs)

    def height(self, width: float) -> float:
        """Return what the text takes with the gap below it. [inch]"""
        if not self.paragraphs:
            return 0.0
        count = self.lines(width).count("\n") + 1 + bool(self.title)
        return LEADING * self.size * (count + 0.8)


class _Page:
    """A page that is written from the top down; what comes next stands below what came before."""

    def __init__(self, figure: Figure) -> None:
        self.figure = figure
        self.width, self.height = (float(side) for side in figure.get_size_inches())
        self.inside = self.width - 2 * BORDER
        self.below = BORDER - 0.15

    def _put(self, x: float, y: float, text: str, **look: Any) -> None:
        """Write text at a place that is counted from the page's upper left corner. [inch]"""
        self.figure.text(x / self.width, 1.0 - y / self.height, text, va="top", linespacing=1.2, **look)

    def title(self, left: str, right: str) -> None:
        """Write what the page is, and of when."""
        self._put(BORDER, self.below, left, fontsize=13, fontweight="bold")
        self._put(self.width - BORDER, self.below + 0.04, style.safe(right), fontsize=TEXT, ha="right")
        self.below += 0.36

    def box(self, result: str, headline: str) -> None:
        """Write the result, framed, with its reason."""
        reason_from = 0.35 + 0.15 * len(result)
        letters = int((self.inside - reason_from) / (LETTER_WIDTH * 11))
        reason = style.broken(headline.removeprefix(f"{result}: "), letters)
        height = 0.3 + 0.19 * (reason.count("\n") + 1)
        corner = (BORDER / self.width, 1.0 - (self.below + height) / self.height)
        frame = Rectangle(corner, self.inside / self.width, height / self.height, transform=self.figure.transFigure,
                          facecolor="none", edgecolor="black", linewidth=1.2)  # fmt: skip
        self.figure.add_artist(frame)
        self._put(BORDER + 0.12, self.below + 0.13, result, fontsize=15, fontweight="bold")
        self._put(BORDER + reason_from, self.below + 0.16, reason, fontsize=11)
        self.below += height + 0.14

    def write(self, *texts: _Text) -> None:
        """Write texts below each other."""
        for text in texts:
            if not text.paragraphs:
                continue
            lead = LEADING * text.size if text.title else 0.0
            if text.title:
                self._put(BORDER, self.below, text.title, fontsize=text.size + 0.5, fontweight="bold")
            self._put(BORDER, self.below + lead, text.lines(self.inside), fontsize=text.size)
            self.below += text.height(self.inside)

    def panels(self, analysis: Judged, below: float) -> None:
        """Draw the whole log and the hold that decides, as high as what comes below them [inch] leaves room."""
        left, right = BORDER + BESIDE[0], BORDER + BESIDE[1]
        both = self.height - self.below - below - BORDER - 0.1 - 2 * (PANEL_ABOVE + PANEL_BELOW)
        for share, draw in ((LOG_SHARE, draw_log), (1.0 - LOG_SHARE, draw_hold)):
            height = share * both
            self.below += PANEL_ABOVE + height
            bottom = 1.0 - self.below / self.height
            wide = 1.0 - (left + right) / self.width
            ax = self.figure.add_axes((left / self.width, bottom, wide, height / self.height))
            draw(ax, analysis)
            self.below += PANEL_BELOW
        if analysis.decisive is not None:
            style.title(ax, "The hold")  # its times stand in the answer, and the key needs the room

    def signature(self) -> None:
        """Leave room at the foot for who stands for it."""
        line = "_" * 24
        self._put(BORDER, self.height - 0.6, f"Tested by {line}   Date {'_' * 14}   Signature {line}", fontsize=TEXT)
