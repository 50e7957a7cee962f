"""The picture of one analysis: verdict on top, the whole log, the deciding hold, and the leak on a scale in g/year."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import matplotlib
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine

from decay.analysis import Analysis
from decay.errors import RangeError
from decay.files import drafted
from decay.judge.finding import Finding
from decay.report import plot_style as style
from decay.report.plot_hold import draw_hold
from decay.report.plot_leak_scale import draw_leak_scale
from decay.report.plot_log import draw_log
from decay.report.text import cause_in_words

__all__ = ["SUFFIXES", "draw", "draw_head", "draw_hold", "draw_leak_scale", "draw_log", "save"]

SIZE = (12.0, 9.0)  # inches
DOTS_PER_INCH = 100  # 1200 x 900 pixels
HEAD_WIDTH = 138  # characters
NAME_WIDTH = 70  # characters; a name may consist of wide ones
CAVEATS = 2  # the first is the same on every picture, the second is the hold's own
SUFFIXES = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
# Dates and random names out of the files: the same log gives the same bytes.
METADATA: dict[str, dict[str, str | None]] = {
    "png": {"Software": None},
    "svg": {"Date": None},
    "pdf": {"CreationDate": None},
}


def draw(analysis: Analysis) -> Figure:
    """Return the picture of one analysis.

    Parameters
    ----------
    analysis : Analysis
        The answer about one log.

    Returns
    -------
    Figure
        1200 x 900 pixels at its own resolution, made without pyplot: nothing is shown and no window opens.
    """
    with our_look():
        figure = Figure(figsize=SIZE, dpi=DOTS_PER_INCH, layout=ConstrainedLayoutEngine(w_pad=0.1, h_pad=0.07))
        has_hold = analysis.decisive is not None
        head = 0.45 + 0.19 * len(_head_lines(analysis))
        scale = 0.85 if analysis.joint is None else 1.4
        heights = [head, 2.9, 4.0, scale] if has_hold else [head, 4.6, 2.6]
        axes = figure.subplots(len(heights), 1, height_ratios=heights)
        draw_head(axes[0], analysis)
        draw_log(axes[1], analysis)
        draw_hold(axes[2], analysis)
        if has_hold:
            draw_leak_scale(axes[3], analysis)
    return figure


def draw_head(ax: Axes, analysis: Analysis) -> Axes:
    """Write the verdict, its first reason and the heaviest caveats.

    Parameters
    ----------
    ax : Axes
        Written on; its frame is taken away.
    analysis : Analysis
        The answer about one log.

    Returns
    -------
    Axes
        The same.
    """
    ax.set_axis_off()
    verdict = analysis.verdict
    title = f"{verdict.result.value.upper()}: {cause_in_words(analysis)}"
    ax.text(0.0, 1.0, title, transform=ax.transAxes, va="top", fontsize=17, fontweight="bold")
    # Points below the top, so that a taller head does not tear the lines from the verdict.
    ax.annotate(
        "\n".join(_head_lines(analysis)),
        (0.0, 1.0),
        xytext=(0.0, -27.0),
        xycoords="axes fraction",
        textcoords="offset points",
        va="top",
        fontsize=10,
        linespacing=1.25,
    )
    return ax


def _head_lines(analysis: Analysis) -> list[str]:
    verdict = analysis.verdict
    name = "standard input" if analysis.log.source == "-" else analysis.log.source
    lines = [style.safe(style.shortened(name, NAME_WIDTH))]
    lines += [line for finding in verdict.reasons[:1] for line in _lines("Why", finding)]
    lines += [line for finding in verdict.caveats[:CAVEATS] for line in _lines("Keep in mind", finding)]
    more = len(verdict.caveats) - CAVEATS
    if more > 0:
        lines.append(f"{more} further caveat{'s' if more > 1 else ''} in the summary.")
    return lines


def _lines(label: str, finding: Finding) -> list[str]:
    return style.wrapped(f"{label}: {finding.summary} [{finding.code}]", HEAD_WIDTH, 2).split("\n")


def save(figure: Figure, path: str | os.PathLike[str], *, replace: bool = True) -> Path:
    """Write a picture whole or not at all.

    Parameters
    ----------
    figure : Figure
        What `draw` returned.
    path : str or path-like
        Where to; the suffix (.png, .svg or .pdf) says which kind.
    replace : bool
        Whether a file that is there is replaced.

    Returns
    -------
    Path
        The file that was written.

    Raises
    ------
    RangeError
        If the suffix is none of the three.
    OSError
        If the folder cannot be written, or the file exists and ``replace`` is false; nothing is left behind.
    """
    target = Path(path)
    kind = SUFFIXES.get(target.suffix.lower())
    if kind is None:
        raise RangeError(
            f'a picture cannot be written as "{target.name}": its name must end in {", ".join(SUFFIXES)}, '
            f'for example "{target.stem or "hold"}.png"'
        )
    with drafted(target, replace=replace) as draft, draft.open("xb") as stream, our_look():
        figure.savefig(stream, format=kind, dpi=DOTS_PER_INCH, metadata=METADATA[kind])
    return Path(os.path.realpath(target))


@contextmanager
def our_look() -> Iterator[None]:
    """Draw with the library's own defaults, whatever the user's matplotlibrc says."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams["svg.hashsalt"] = "decay"
        matplotlib.rcParams["hatch.linewidth"] = 0.5
        yield
