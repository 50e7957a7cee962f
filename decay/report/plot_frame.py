"""Where a picture's panels stand: in inches, so that pictures can be laid side by side and nothing is measured first.

A layout that measures every text before it places one takes as long as the drawing itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

WIDTH, HEIGHT = 12.0, 9.0
"""Size of a picture; it grows in height where its keys need more. [inch]"""
LEFT, RIGHT = 1.05, 2.25
"""Beside the panels: the pressures with their name, and the key. [inch]"""
ABOVE, BELOW = 0.30, 0.56
"""Above and below a panel: its title, and the times with their name. [inch]"""
NAME_LEFT, NAME_BELOW = 0.83, 0.32
"""From a panel to the name of its axis. [inch]"""
KEY_LINE = 0.165
"""One line of a key, rather too much than too little. [inch]"""
KEY_GAP = 0.035
"""Between two entries of a key. [inch]"""


@dataclass(frozen=True, slots=True)
class Panel:
    """One panel of a picture: its axes, its least height, what further scales take above it, and who gets the rest.

    ``has_key_beside`` says whether its key stands to its right, and so asks for height.
    """

    axes: Axes
    least: float
    above: float = 0.0
    grows: bool = False
    has_key_beside: bool = True


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
    keys = [_key_height(panel.axes) - BELOW if panel.has_key_beside else 0.0 for panel in panels]
    heights = [max(panel.least, key) for panel, key in zip(panels, keys, strict=True)]
    around = head + sum(ABOVE + panel.above + BELOW for panel in panels)
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
        top -= BELOW


def _key_height(ax: Axes) -> float:
    legend = ax.get_legend()
    if legend is None:
        return 0.0
    texts = [text.get_text() for text in (*legend.get_texts(), legend.get_title()) if text.get_text()]
    return sum(KEY_LINE * (text.count("\n") + 1) + KEY_GAP for text in texts)
