"""The picture of one analysis: verdict on top, the whole log, the deciding hold, and the leak on a scale in g/year."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import matplotlib
from matplotlib.figure import Figure
from matplotlib.transforms import ScaledTranslation

from decay.analysis import Analysis
from decay.errors import RangeError
from decay.files import drafted
from decay.report import plot_style as style
from decay.report.answers import picture_text, source_in_words
from decay.report.plot_frame import HEIGHT, LEFT, WIDTH, Panel, stack
from decay.report.plot_hold import draw_hold
from decay.report.plot_leak_scale import SCALE_STEP, draw_leak_scale, scale_height
from decay.report.plot_log import STRIP, draw_log

__all__ = ["SUFFIXES", "draw", "draw_head", "draw_hold", "draw_leak_scale", "draw_log", "save"]

SIZE = (WIDTH, HEIGHT)
DOTS_PER_INCH = 100  # 1200 x 900 pixels
TITLE_WIDTH, HEAD_WIDTH = 84, 138  # characters
WHERE_WIDTH, NAME_WIDTH = 110, 40  # characters; a name may consist of wide ones
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
        1200 x 900 pixels at its own resolution, taller where a key needs it, made without pyplot: nothing is shown
        and no window opens.
    """
    with our_look():
        figure = Figure(figsize=SIZE, dpi=DOTS_PER_INCH)
        has_hold = analysis.decisive is not None
        log, hold, *scale = (figure.add_subplot(2 + has_hold, 1, 1 + row) for row in range(2 + has_hold))
        draw_log(log, analysis)
        draw_hold(hold, analysis)
        panels = [Panel(log, 1.75, above=STRIP), Panel(hold, 2.0, grows=True, has_key_beside=False)]
        if not has_hold:
            panels = [Panel(log, 2.5, above=STRIP, grows=True), Panel(hold, 1.8)]
        for ax in scale:
            draw_leak_scale(ax, analysis)
            panels.append(Panel(ax, scale_height(analysis), above=SCALE_STEP * len(ax.child_axes)))
        stack(figure, draw_head(figure, analysis), panels)
    return figure


def draw_head(figure: Figure, analysis: Analysis) -> float:
    """Write the result with its reason and the two answers, and return the height that they take. [inch]"""
    title, where, *answers = picture_text(analysis)
    title = style.wrapped(title, TITLE_WIDTH, 2)
    # The end of a log's name tells more than its folders.
    where = f"{style.shortened(source_in_words(analysis), NAME_WIDTH)}{where.removeprefix(source_in_words(analysis))}"
    widths = (WHERE_WIDTH, *[HEAD_WIDTH] * len(answers))
    lines = [line for text, width in zip((where, *answers), widths, strict=True)
             for line in style.wrapped(text, width, 2).split("\n")]  # fmt: skip
    below = 0.2 + 0.27 * (title.count("\n") + 1)
    for top, text, look in ((0.08, title, {"fontsize": 16, "fontweight": "bold", "linespacing": 1.15}),
                            (below, "\n".join(lines), {"fontsize": 10, "linespacing": 1.25})):
        place = figure.transFigure + ScaledTranslation(LEFT, -top, figure.dpi_scale_trans)
        figure.text(0.0, 1.0, text, transform=place, va="top", **look)
    return below + 0.03 + 0.18 * len(lines)


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
        matplotlib.rcParams["text.hinting"] = "none"  # reads as well, and saves a fifth of the drawing
        yield
