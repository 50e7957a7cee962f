"""The places of a picture's panels: in inches, apart from each other, with room for their keys."""

from __future__ import annotations

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from decay.report import plot
from decay.report.plot import Panel, stack

LOOK = {"loc": "upper left", "bbox_to_anchor": (1.01, 1.0), "fontsize": 8.5, "frameon": False}


def two_panels(entries: int) -> tuple[Figure, Axes, Axes]:
    """Return a picture whose upper panel has a key of so many entries, each second of two lines."""
    figure = Figure(figsize=(plot.WIDTH, plot.HEIGHT), dpi=100)
    upper, lower = figure.subplots(2, 1)
    for number in range(entries):
        upper.plot([0, 1], [number, number], label=f"line {number}" + "\nand more" * (number % 2))
    upper.legend(**LOOK)
    stack(figure, 1.0, [Panel(upper, 2.0), Panel(lower, 1.0, grows=True)])
    figure.draw_without_rendering()
    return figure, upper, lower


@pytest.mark.parametrize("entries", [1, 5, 10, 20, 40])
def test_a_key_ends_above_the_next_panel(entries: int) -> None:
    figure, upper, lower = two_panels(entries)
    key = upper.get_legend()
    assert key is not None
    assert key.get_window_extent().y0 > lower.get_window_extent().y1
    assert key.get_window_extent().x1 < figure.bbox.width


def test_a_picture_is_as_high_as_promised_unless_a_key_needs_more() -> None:
    heights = [two_panels(entries)[0].get_size_inches()[1] for entries in (1, 10, 40)]
    assert heights[0] == heights[1] == plot.HEIGHT
    assert heights[2] > plot.HEIGHT


def test_the_panel_that_grows_takes_what_is_free() -> None:
    figure, upper, lower = two_panels(1)
    assert upper.get_window_extent().height == pytest.approx(2.0 * figure.dpi)
    taken = 1.0 + 2 * (plot.ABOVE + plot.BELOW) + 2.0
    assert lower.get_window_extent().height == pytest.approx((plot.HEIGHT - taken) * figure.dpi)


def test_panels_stand_edge_on_edge() -> None:
    figure, upper, lower = two_panels(3)
    for ax in (upper, lower):
        assert ax.get_window_extent().x0 == pytest.approx(plot.LEFT * figure.dpi)
        assert ax.get_window_extent().x1 == pytest.approx((plot.WIDTH - plot.RIGHT) * figure.dpi)
