"""The panel of an audit that shows how the logs of each group ended: stacked bars, the worst group on top."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

from matplotlib.axes import Axes
from matplotlib.ticker import PercentFormatter

from decay.report import plot_style as style

MOST_BARS = 14
"""Groups that get a bar; the rest is put together in one. [-]"""
NAME_LENGTH = 30  # characters
LEAST_SHARE = 0.03
"""Share of a bar below which its number has no room. [-]"""
# From light to dark, hatched where grey print would make two alike.
RESULT_LOOKS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("pass", {"facecolor": "white", "edgecolor": "black", "linewidth": 0.8}),
    ("inconclusive", {"facecolor": "#e4e4e4", "edgecolor": "black", "hatch": "//", "linewidth": 0.8}),
    ("fail", {"facecolor": "#7c2a1c", "edgecolor": "black", "linewidth": 0.8}),
    ("unreadable", {"facecolor": "white", "edgecolor": "black", "hatch": "||||", "linewidth": 0.8}),
)
COUNT: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": style.SMALL}


class GroupResults(Protocol):
    """How the logs of one group ended. [-]"""

    @property
    def group(self) -> str: ...
    @property
    def logs(self) -> int: ...
    @property
    def passes(self) -> int: ...
    @property
    def fails(self) -> int: ...
    @property
    def inconclusives(self) -> int: ...
    @property
    def unreadables(self) -> int: ...


def bars_of(groups: Sequence[GroupResults]) -> list[tuple[str, tuple[int, int, int, int]]]:
    """Return name and counts of each bar: passed, inconclusive, failed, unreadable. [-]

    The worst group comes first, as in ``groups``; what has no bar of its own is put together.
    """
    bars = [(g.group, (g.passes, g.inconclusives, g.fails, g.unreadables)) for g in groups]
    if len(bars) <= MOST_BARS:
        return bars
    rest = [counts for _, counts in bars[MOST_BARS - 1 :]]
    together = (sum(c[0] for c in rest), sum(c[1] for c in rest), sum(c[2] for c in rest), sum(c[3] for c in rest))
    return [*bars[: MOST_BARS - 1], (f"{len(rest)} groups that fail less", together)]


def draw_results(ax: Axes, groups: Sequence[GroupResults]) -> Axes:
    """Draw how the logs of each group ended."""
    bars = bars_of(groups)
    style.title(ax, "Results by group, the worst first")
    for row, (_, counts) in enumerate(bars):
        left, total = 0.0, max(sum(counts), 1)
        for (name, look), count in zip(RESULT_LOOKS, counts, strict=True):
            share = count / total
            ax.barh(row, share, left=left, height=0.72, label=name if row == 0 else None, **look)
            if share >= LEAST_SHARE:
                box = None if name in ("pass", "fail") else {"facecolor": "white", "edgecolor": "none", "pad": 0.8}
                ax.text(left + share / 2, row, str(count), color="white" if name == "fail" else "black", bbox=box,
                        **COUNT)
            left += share
    ax.set_yticks(range(len(bars)), [f"{style.safe(style.shortened(name, NAME_LENGTH))} ({sum(counts)})"
                                     for name, counts in bars])
    ax.set_ylim(len(bars) - 0.5, -0.5)
    ax.set_xlim(0.0, 1.0)
    ax.xaxis.set_major_formatter(PercentFormatter(1.0))
    ax.tick_params(axis="both", labelsize=style.SMALL)
    ax.set_xlabel("share of the logs; the numbers count them")
    handles, labels = ax.get_legend_handles_labels()
    ax.legend(handles, labels, loc="upper left", bbox_to_anchor=(1.005, 1.0), frameon=False, fontsize=style.SMALL)
    return ax
