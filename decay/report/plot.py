"""The picture of one analysis: verdict on top, the whole log, the deciding hold, and the leak on a scale in g/year."""

from __future__ import annotations

import math
import operator
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator
from matplotlib.transforms import ScaledTranslation

from decay import wording
from decay.interval import Interval
from decay.judge.answer import HoldReport, Judged
from decay.report import plot_style as style
from decay.report.answers import picture_text, source_in_words
from decay.report.plot_hold import draw_hold
from decay.report.plot_log import STRIP, draw_log
from decay.wording import GRAM_PER_YEAR

WIDTH, HEIGHT = style.SIZE
LEFT, RIGHT = 1.05, 2.25
"""Beside the panels: the pressures with their name, and the key. [inch]"""
ABOVE, BELOW = 0.30, 0.56
"""Above and below a panel: its title, and the times with their name. [inch]"""
FOOT = 0.15
"""Below a last panel that has no axis of times. [inch]"""
NAME_LEFT, NAME_BELOW = 0.83, 0.32
"""From a panel to the name of its axis. [inch]"""
KEY_LINE = 0.165
"""One line of a key, rather too much than too little. [inch]"""
KEY_GAP = 0.035
"""Between two entries of a key. [inch]"""


@dataclass(frozen=True, slots=True)
class Panel:
    """One panel of a picture: its axes, its least height, what further scales take above it, and who gets the rest.

    ``has_key_beside`` says whether its key stands to its right, and so asks for height; ``below`` is for its times.
    """

    axes: Axes
    least: float
    above: float = 0.0
    grows: bool = False
    has_key_beside: bool = True
    below: float = BELOW


def stack(figure: Figure, head: float, panels: Sequence[Panel]) -> None:
    """Place panels below each other.

    Parameters
    ----------
    figure : Figure
        The picture; made taller where the panels need it.
    head : float
        Height that is taken by the head. [inch]
    panels : sequence of Panel
        From the top down, drawn already: the lines of a key say how much room it needs.
    """
    keys = [_key_height(panel.axes) - panel.below if panel.has_key_beside else 0.0 for panel in panels]
    heights = [max(panel.least, key) for panel, key in zip(panels, keys, strict=True)]
    around = head + sum(ABOVE + panel.above + panel.below for panel in panels)
    free = max(HEIGHT - around - sum(heights), 0.0)
    heights = [height + panel.grows * free for height, panel in zip(heights, panels, strict=True)]
    total = around + sum(heights)
    figure.set_size_inches(WIDTH, total)
    width = WIDTH - LEFT - RIGHT
    top = total - head
    for panel, height in zip(panels, heights, strict=True):
        top -= ABOVE + panel.above + height
        ax = panel.axes
        ax.set_position((LEFT / WIDTH, top / total, width / WIDTH, height / total))
        ax.xaxis.set_label_coords(0.5, -NAME_BELOW / height)
        ax.yaxis.set_label_coords(-NAME_LEFT / width, 0.5)
        top -= panel.below


def _key_height(ax: Axes) -> float:
    legend = ax.get_legend()
    if legend is None:
        return 0.0
    texts = [text.get_text() for text in (*legend.get_texts(), legend.get_title()) if text.get_text()]
    return sum(KEY_LINE * (text.count("\n") + 1) + KEY_GAP for text in texts)


SCALE_STEP = 0.25
"""What a further scale takes above the panel. [inch]"""
ROW = 0.4
"""Height of one row. [inch]"""
# The name of a scale stands beyond its end: no number is written in the last part, where it would run into the name.
END_FREE = 0.96
LIMIT: dict[str, Any] = {"linestyle": (0, (4, 2)), "linewidth": 1.6, "color": "black"}
ALLOWED: dict[str, Any] = {"linestyle": (0, (1, 1)), "linewidth": 2.2, "color": "black"}


def draw_leak_scale(ax: Axes, analysis: Judged) -> Axes:
    """Draw the leak's interval on a scale of its own.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    analysis : Judged
        The answer about one log; it must have a deciding hold.

    Returns
    -------
    Axes
        The same; two further scales at its top where the loss of refrigerant is known.

    Raises
    ------
    ValueError
        If there is no hold that decides.
    """
    if analysis.decisive is None:
        raise ValueError("a leak scale needs a hold")
    report = analysis.holds[analysis.decisive]
    impact = report.impact
    rows = _rows(analysis)
    smallest = _smallest(analysis)
    limit = smallest / wording.rate_size()
    allowed = None if impact.allowed_rise is None else impact.allowed_rise / wording.rate_size()
    right = _right_end(rows, limit, allowed)
    ax.set_xlim(0.0, right)
    for height, (_, interval) in enumerate(reversed(rows)):
        _draw_interval(ax, height, interval, right)
    ax.axvline(limit, label=_limit_in_words(analysis, smallest), **LIMIT)
    if impact.allowed_rise is not None and allowed is not None:
        beyond = ",\nbeyond this picture" if allowed > right else ""
        ax.axvline(allowed, label=f"allowed, {wording.rate(impact.allowed_rise)}{beyond}", **ALLOWED)
    ax.set_ylim(-0.55, len(rows) - 0.25)
    ax.set_yticks(range(len(rows)), [name for name, _ in reversed(rows)])
    ax.set_xlabel(f"steady rise [{wording.rate_unit()}]")
    ax.xaxis.set_major_formatter(style.plain_numbers())
    ax.legend(**{**style.KEY, "bbox_to_anchor": (1.01, 1.02)})
    _add_losses(ax, analysis, report)
    return ax


def scale_height(analysis: Judged) -> float:
    """Return the height that the panel is drawn for. [inch]"""
    return ROW * len(_rows(analysis)) + 0.16


def _rows(analysis: Judged) -> list[tuple[str, Interval]]:
    """Return the intervals that are drawn: of the hold alone, and what the verdict rests on where that is another."""
    fit, basis = analysis.holds[analysis.decisive or 0].fit, analysis.basis
    rows = [("this hold", fit.leak)]
    if basis.leak is not None and basis.leak != fit.leak:
        name = "all holds" if basis.is_joint else "without the rig" if basis.is_without_rig else "the answer"
        rows.append((name, basis.leak))
    elif analysis.joint is not None:
        rows.append(("all holds", analysis.joint.leak))
    return rows


def _smallest(analysis: Judged) -> float:
    """Return the smallest leak that would have shown in what the verdict rests on. [Pa/s]"""
    limit = analysis.basis.detection_limit
    return analysis.holds[analysis.decisive or 0].fit.detection_limit if limit is None else limit


def _limit_in_words(analysis: Judged, limit: float) -> str:
    if not math.isfinite(limit):
        return "no leak of any size would\nshow in 95 % of such holds"
    impact = analysis.basis.impact or analysis.holds[analysis.decisive or 0].impact
    detectable = impact.detectable_loss
    lines = ["smallest leak shown in", "95 % of such holds,", wording.bound(limit)]
    if detectable is not None:
        lines[-1] += ","
        lines.append(wording.between(*detectable))
    return "\n".join(lines)


def _right_end(rows: list[tuple[str, Interval]], limit: float, allowed: float | None) -> float:
    ends = [limit]
    for _, interval in rows:
        ends += [x / wording.rate_size() for x in (interval.value, interval.high) if math.isfinite(x)]
    right = max(x for x in ends if math.isfinite(x)) if any(math.isfinite(x) for x in ends) else 1.0
    if allowed is not None and allowed < 4 * right:
        right = max(right, allowed)
    return 1.12 * right if right > 0 else 1.0


def _draw_interval(ax: Axes, height: int, interval: Interval, right: float) -> None:
    value, low, high = (x / wording.rate_size() for x in (interval.value, interval.low, interval.high))
    ax.plot([max(low, 0.0), min(high, right)], [height, height], color="black", linewidth=5.0, solid_capstyle="butt")
    ax.plot([value], [height], marker="D", markersize=9, color="white", markeredgecolor="black", clip_on=False)
    if high > right:
        ax.plot([right], [height], marker=">", markersize=9, color="black", clip_on=False)
    ax.annotate(
        wording.rate_interval(interval),
        (min(max(value, 0.02 * right), 0.6 * right), height),
        xytext=(0, 9),
        textcoords="offset points",
        fontsize=style.SMALL,
        ha="left",
        va="bottom",
        bbox=style.BEHIND_TEXT,
    )


def _unless_at_the_end(end: float, x: float, _: int) -> str:
    return f"{x:,.12g}" if x < end else ""


def _add_losses(ax: Axes, analysis: Judged, report: HoldReport) -> None:
    """Add g/year scales at the top: both laws are proportional to the rate, so a scale says all of it."""
    detectable, limit = report.impact.detectable_loss, report.fit.detection_limit
    if detectable is None or not 0 < limit < math.inf:
        style.title(ax, "The leak (g/year needs volume, refrigerant and temperature)")
        return
    name = style.safe(analysis.system.refrigerant or "refrigerant")
    step = SCALE_STEP / scale_height(analysis)
    for position, (law, loss) in enumerate(zip(("laminar", "molecular"), detectable, strict=True)):
        factor = loss / GRAM_PER_YEAR / (limit / wording.rate_size())
        if not (math.isfinite(factor) and factor > 0):
            continue
        scale = ax.secondary_xaxis(
            1.0 + position * step,
            functions=(partial(operator.mul, factor), partial(operator.mul, 1.0 / factor)),
        )
        scale.xaxis.set_major_locator(MaxNLocator(8))
        end = END_FREE * factor * ax.get_xlim()[1]
        scale.xaxis.set_major_formatter(FuncFormatter(partial(_unless_at_the_end, end)))
        scale.tick_params(labelsize=style.SMALL, pad=1.5)
        ax.text(
            1.012,
            1.0 + position * step,
            f"g/year, {law} flow",
            transform=ax.transAxes,
            fontsize=style.SMALL,
            ha="left",
            va="bottom",
        )
    style.title(ax, f"The leak, and what it would lose of {name}", above=len(ax.child_axes) * SCALE_STEP)


TITLE_WIDTH, HEAD_WIDTH = 84, 138  # characters
NAME_WIDTH = 40  # characters
def draw(analysis: Judged) -> Figure:
    """Return the picture of one analysis: 1200 x 900 pixels, taller where a key needs it, no window opened."""
    with style.our_look():
        figure = style.Picture(figsize=(WIDTH, HEIGHT), dpi=style.DOTS_PER_INCH)
        has_hold = analysis.decisive is not None
        log, hold, *scale = (figure.add_subplot(2 + has_hold, 1, 1 + row) for row in range(2 + has_hold))
        draw_log(log, analysis)
        draw_hold(hold, analysis)
        panels = [Panel(log, 1.75, above=STRIP), Panel(hold, 2.0, grows=True, has_key_beside=False)]
        if not has_hold:
            panels = [Panel(log, 2.5, above=STRIP, grows=True), Panel(hold, 1.8, below=FOOT)]
        for ax in scale:
            draw_leak_scale(ax, analysis)
            panels.append(Panel(ax, scale_height(analysis), above=SCALE_STEP * len(ax.child_axes)))
        stack(figure, draw_head(figure, analysis), panels)
    return figure


def draw_head(figure: Figure, analysis: Judged) -> float:
    """Write the result with its reason and the two answers, and return the height that they take. [inch]"""
    title, where, *answers = picture_text(analysis)
    title = style.broken(title, TITLE_WIDTH, 2)
    # The end of a log's name tells more than its folders.
    source = source_in_words(analysis)
    name = style.shortened_path(source, NAME_WIDTH)
    where = name + where.removeprefix(source)
    widths = (HEAD_WIDTH - style.excess(name), *[HEAD_WIDTH] * len(answers))
    lines = [line for text, width in zip((where, *answers), widths, strict=True)
             for line in style.broken(text, width, 2).split("\n")]  # fmt: skip
    below = 0.2 + 0.27 * (title.count("\n") + 1)
    for top, text, look in ((0.08, title, {"fontsize": 16, "fontweight": "bold", "linespacing": 1.15}),
                            (below, "\n".join(lines), {"fontsize": 10, "linespacing": 1.25})):
        place = figure.transFigure + ScaledTranslation(LEFT, -top, figure.dpi_scale_trans)
        figure.text(0.0, 1.0, text, transform=place, va="top", **look)
    return below + 0.03 + 0.18 * len(lines)
