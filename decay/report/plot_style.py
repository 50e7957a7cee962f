"""How pictures look and are written: styles that survive greyscale, harmless texts, files whole or not at all."""

from __future__ import annotations

import io
import os
import re
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, BinaryIO

import matplotlib
import numpy as np
from matplotlib import font_manager
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import Collection
from matplotlib.colors import to_rgba, to_rgba_array
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text
from matplotlib.ticker import FuncFormatter

from decay.arrays import FloatArray, IntArray
from decay.constants import HOUR, MINUTE
from decay.errors import RangeError
from decay.files import drafted
from decay.phases.phase import Kind
from decay.wording.lines import clean, kept_together, to_ascii

A4 = (8.27, 11.69)
"""Width and height, upright (ISO 216). [inch]"""
SIZE = (12.0, 9.0)
"""Of a picture; some grow in height where their keys need more. [inch]"""
DOTS_PER_INCH = 100  # 1200 x 900 pixels
SUFFIXES = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
# Dates and random names out of the files: the same log gives the same bytes.
METADATA: dict[str, dict[str, str | None]] = {
    "png": {"Software": None},
    "svg": {"Date": None},
    "pdf": {"CreationDate": None},
}
PACKED: dict[str, Any] = {"compress_level": 3}
"""How tightly a PNG's points are packed: the usual 6 takes a tenth of the drawing more, for a file about as large."""
GRID: dict[str, Any] = {"linewidth": 0.4, "color": "#cccccc"}
MOST_POINTS = 4000
SMALL = 8.5
WIDE_LETTER, CAPITAL = 0.75, 0.25
"""By how much such a letter is wider than the mean of a text, of which a width in characters counts. [-]"""
KEY: dict[str, Any] = {"loc": "upper left", "bbox_to_anchor": (1.01, 1.0), "fontsize": SMALL, "frameon": False,
                       "alignment": "left"}
"""A key beside its panel."""

# Each line differs from every other by its dashes, so that colour only helps.
READINGS: dict[str, Any] = {"linestyle": "none", "marker": ".", "markersize": 5, "color": "#777777"}
LEFT_OUT: dict[str, Any] = {"linestyle": "none", "marker": "x", "markersize": 5, "color": "black"}
OVER_RANGE: dict[str, Any] = {"linestyle": "none", "marker": "^", "markersize": 6, "color": "black", "clip_on": False}
OTHER_GAUGE: dict[str, Any] = {"linewidth": 0.9, "color": "#9a9a9a"}
OTHER_GAUGE_DASHES = ((0, (1, 1)), (0, (4, 2)), (0, (6, 2, 1, 2)), (0, (2, 3)))
# The fitted rise is a thin line on its broad, broken parts: either stays visible where they lie on each other.
MODEL: dict[str, Any] = {"linestyle": "-", "linewidth": 1.3, "color": "black"}
LEAK_PART: dict[str, Any] = {
    "linestyle": (0, (3.5, 1.2)), "linewidth": 3.4, "color": "#cf5a45", "dash_capstyle": "butt",
}
OUTGASSING_PART: dict[str, Any] = {
    "linestyle": (0, (0.8, 0.8)), "linewidth": 3.0, "color": "#3f8fc4", "dash_capstyle": "butt",
}
LEAK_NAME, OUTGASSING_NAME = "#a03522", "#1d6394"
"""Letters beside a part, in its colour but dark enough for grey print."""
CRITERION: dict[str, Any] = {"linestyle": (0, (9, 2, 2, 2)), "linewidth": 1.4, "color": "black"}
CEILING: dict[str, Any] = {"linestyle": (0, (3, 1, 1, 1, 1, 1)), "linewidth": 1.4, "color": "#1f5fa8"}
FIT_FROM: dict[str, Any] = {"linestyle": (0, (2, 2)), "linewidth": 1.0, "color": "#444444"}
BEHIND_TEXT: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 0.8, "alpha": 0.85}
"""Keeps letters readable where lines run behind them."""
FAN: dict[str, Any] = {"facecolor": "#dcdcdc", "edgecolor": "#8a8a8a", "linewidth": 0.8}
BAND: dict[str, Any] = {"facecolor": "#c8c8c8", "edgecolor": "none", "alpha": 0.7}

SHADES: dict[Kind, tuple[str, str]] = {
    Kind.ATMOSPHERE: ("#ffffff", "black"),
    Kind.PUMPDOWN: ("#dddddd", "black"),
    Kind.HOLD: ("#4d4d4d", "white"),
    Kind.SWEEP: ("#f2f2f2", "black"),
    Kind.VENT: ("#ffffff", "black"),
    Kind.UNCLEAR: ("#b0b0b0", "black"),
}
"""Ground and letters of a phase in the strip above the log; the strip's frame parts neighbours of one shade."""


def time_unit(duration: float) -> tuple[float, str]:
    """Return the unit [s] and its name in which an axis of such a length [s] reads best."""
    if duration > 4 * HOUR:
        return HOUR, "h"
    return (MINUTE, "min") if duration > 3 * MINUTE else (1.0, "s")


def key_above(ax: Axes, marks: Sequence[Artist], right: float) -> None:
    """Write the key of some marks on the line of the title, up to a share of the panel's width."""
    ax.legend(
        handles=marks,
        loc="lower right",
        bbox_to_anchor=(right, 1.0),
        ncols=max(len(marks), 1),
        fontsize=SMALL,
        frameon=False,
        borderaxespad=0.0,
        handletextpad=0.1,
        columnspacing=1.1,
    )


def name_axes(ax: Axes, x: str, y: str, size: float | None = None) -> None:
    """Name both axes in letters of a size [point], with plain numbers on the upright one, and a thin grid."""
    ax.set_xlabel(x, fontsize=size)
    ax.set_ylabel(y, fontsize=size)
    ax.yaxis.set_major_formatter(plain_numbers())
    ax.grid(visible=True, **GRID)


def say_instead(ax: Axes, text: str, **look: Any) -> Axes:
    """Say in a panel why nothing is drawn in it."""
    ax.set_xticks([])
    ax.set_yticks([])
    ax.text(0.5, 0.5, text, transform=ax.transAxes, ha="center", **look)
    return ax


def mark_over_range(ax: Axes, times: FloatArray) -> list[Line2D]:
    """Mark times at which the gauge was over range on the panel's upper edge; nothing where there are none."""
    if not times.size:
        return []
    drawn = times[np.linspace(0, times.size - 1, min(times.size, 150)).astype(int)]
    return ax.plot(drawn, np.full(drawn.size, 1.0), transform=ax.get_xaxis_transform(),
                   label=f"over range ({times.size:,} readings)", **OVER_RANGE)


def title(ax: Axes, text: str, above: float = 0.0) -> None:
    """Write the title of a panel, so many inches above it: told where, the library need not look for a free place."""
    ax.set_title(text, loc="left", fontsize=11, y=1.0, pad=6.0 + 72.0 * above)


def safe(text: str) -> str:
    """Return text that a picture can show: no control characters, no formula, no letter that the font lacks."""
    known = _known_letters()
    shown = "".join(c if ord(c) in known else to_ascii(c) for c in clean(text))
    return shown.replace("$", r"\$")


def plain_numbers() -> FuncFormatter:
    """Return what writes the numbers of an axis: thousands marked, no padding in an exponent."""
    return FuncFormatter(lambda x, _: re.sub(r"e([+-])0+(?=\d)", r"e\1", f"{x:,.12g}").replace("e+", "e"))


def broken(text: str, width: int, most_lines: int = 0) -> str:
    """Return text broken into lines of a width [characters]; more than ``most_lines`` end in an ellipsis."""
    lines = [line.replace("\u00a0", " ") for line in textwrap.wrap(kept_together(safe(text)), width)]
    if most_lines and len(lines) > most_lines:
        lines = lines[:most_lines]
        lines[-1] = lines[-1][: width - 2].rstrip() + " …"
    return "\n".join(lines)


def excess(text: str) -> int:
    """Return by how many usual characters a text is wider than its number of them: for capitals and wide letters."""
    return round(sum(WIDE_LETTER for c in text if c in "MWmw@%" or ord(c) > 0x1100)
                 + sum(CAPITAL for c in text if c.isupper() and c not in "MW"))


def shortened_path(path: str, most: int) -> str:
    """Return a path of at most so many characters: its folders go first, then the middle of the file's name."""
    name = re.split(r"[/\\]", path)[-1]
    return f"…/{name}" if len(path) > most >= len(name) + 2 else shortened(path, most)


def shortened(text: str, most: int) -> str:
    """Return text of at most so many characters, its middle left out: both ends of a file name tell something."""
    if len(text) <= most:
        return text
    head = (most - 1) // 2
    return f"{text[:head]}…{text[len(text) - (most - 1 - head) :]}"


def worth_drawing(values: FloatArray, most: int = MOST_POINTS) -> IntArray:
    """Return the indices worth drawing: all, or the lowest and highest of each bin where there are too many."""
    n = len(values)
    if n <= most:
        return np.arange(n)
    edges = np.linspace(0, n, most // 2 + 1).astype(np.int64)
    lowest_of = np.where(np.isnan(values), np.inf, values)
    highest_of = np.where(np.isnan(values), -np.inf, values)
    chosen: set[int] = set()
    for first, last in pairwise(edges):
        chosen.add(int(first + np.argmin(lowest_of[first:last])))
        chosen.add(int(first + np.argmax(highest_of[first:last])))
    return np.array(sorted(chosen), dtype=np.int64)


@cache
def _known_letters() -> frozenset[int]:
    font = font_manager.get_font(font_manager.findfont("DejaVu Sans"))
    return frozenset(font.get_charmap())


LUMA = np.array([0.2126, 0.7152, 0.0722])
"""Weights of red, green and blue in the light that is seen, ITU-R BT.709. [-]"""


def grey(colour: Any) -> FloatArray:
    """Return the grey of a colour, its transparency kept.

    Parameters
    ----------
    colour : colour
        As matplotlib takes it.

    Returns
    -------
    ndarray, shape (4,)
        Red, green and blue alike, and alpha. [-]

    Examples
    --------
    >>> [round(float(x), 3) for x in grey("#ff0000")]
    [0.213, 0.213, 0.213, 1.0]
    """
    rgba = np.asarray(to_rgba(colour), dtype=np.float64)
    return np.array([*([float(rgba[:3] @ LUMA)] * 3), rgba[3]])


def in_grey(figure: Figure) -> Figure:
    """Turn a picture grey, and return it."""
    for artist in figure.findobj():
        if isinstance(artist, Line2D):
            artist.set_color(tuple(grey(artist.get_color())))
            for part in ("markerfacecolor", "markeredgecolor"):
                found = getattr(artist, f"get_{part}")()
                if not (isinstance(found, str) and found in ("none", "auto")):
                    getattr(artist, f"set_{part}")(tuple(grey(found)))
        elif isinstance(artist, Patch):
            for part in ("facecolor", "edgecolor"):
                getattr(artist, f"set_{part}")(tuple(grey(getattr(artist, f"get_{part}")())))
        elif isinstance(artist, Collection):
            for part in ("facecolor", "edgecolor"):
                found = to_rgba_array(getattr(artist, f"get_{part}")())
                getattr(artist, f"set_{part}")([grey(colour) for colour in found])
        elif isinstance(artist, Text):
            artist.set_color(tuple(grey(artist.get_color())))
    return figure


def arranged(width: float, height: float, h_pad: float) -> Figure:
    """Return an empty picture [inch] whose panels arrange themselves, so far apart. [inch]"""
    return Figure(figsize=(width, height), dpi=DOTS_PER_INCH, layout=ConstrainedLayoutEngine(w_pad=0.1, h_pad=h_pad))


class Picture(Figure):
    """A figure that a notebook shows by itself, whatever backend it has."""

    def _repr_png_(self) -> bytes:
        return png(self)


def save_picture(figure: Figure, path: str | os.PathLike[str], *, replace: bool = True) -> Path:
    """Write a picture whole or not at all.

    Parameters
    ----------
    figure : Figure
        What `draw` returned.
    path : str or path-like
        Where to; the suffix (.png, .svg or .pdf) says which kind.
    replace : bool
        Whether a file that is there is replaced.

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
    with drafted(target, replace=replace) as draft, draft.open("xb") as stream:
        _write(figure, stream, kind)
    return Path(os.path.realpath(target))


def png(figure: Figure) -> bytes:
    """Return a picture as the bytes of a PNG file, the same that `save_picture` writes."""
    stream = io.BytesIO()
    _write(figure, stream, "png")
    return stream.getvalue()


def _write(figure: Figure, stream: BinaryIO, kind: str) -> None:
    with our_look():
        packed: dict[str, Any] = {"pil_kwargs": PACKED} if kind == "png" else {}
        figure.savefig(stream, format=kind, dpi=DOTS_PER_INCH, metadata=METADATA[kind], **packed)


@contextmanager
def our_look() -> Iterator[None]:
    """Draw with the library's own defaults, whatever the user's matplotlibrc says."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams["svg.hashsalt"] = "decay"
        matplotlib.rcParams["hatch.linewidth"] = 0.5
        matplotlib.rcParams["text.hinting"] = "none"  # reads as well, and saves a fifth of the drawing
        yield
