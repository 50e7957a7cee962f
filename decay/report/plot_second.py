"""Draws the second hold of one invented system, at the same temperature and warmer, as rises over each other."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator, StrMethodFormatter

from decay import wording
from decay.analysis import Analysis
from decay.arrays import FloatArray
from decay.lesson.second_hold import SecondHold
from decay.report import plot_style as style
from decay.report.lesson_second import pace

MOST_DOTS = 16
"""Readings that are drawn of a hold. [-]"""
SIZE = 12.0  # points


def draw_second(ax: Axes, letter: str, second: SecondHold) -> Axes:
    """Draw the rise of a system's second hold, cold and warm."""
    warmer = f"{second.warmer:.0f} K warmer"
    for analysis, name, marker, above in ((second.again, "held again", "o", -20.0), (second.warm, warmer, "s", 8.0)):
        time, rise = _last_rise(analysis)
        unit, unit_name = style.time_unit(float(time[-1]))
        kept = np.linspace(0, len(time) - 1, min(len(time), MOST_DOTS)).astype(int)
        ax.plot(time[kept] / unit, rise[kept] / wording.size(), color="black", linewidth=1.4, marker=marker,
                markersize=7, markerfacecolor="black" if marker == "s" else "white")
        ax.annotate(name, (float(time[-1]) / unit, float(rise[-1]) / wording.size()), xytext=(-4.0, above),
                    ha="right", va="bottom" if above > 0.0 else "top", textcoords="offset points", fontsize=SIZE)
        ax.set_xlabel(f"time since the valve closed [{unit_name}]", fontsize=SIZE)
    ax.set_ylabel(f"rise [{wording.unit()}]", fontsize=SIZE)
    ax.set_title(f"{letter}. Warmed: {pace(second)}", loc="left", fontsize=15.0, fontweight="bold", pad=10.0)
    ax.tick_params(labelsize=SIZE)
    ax.set_xlim(left=0.0)
    ax.xaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))
    ax.yaxis.set_major_formatter(StrMethodFormatter("{x:,.12g}"))
    ax.grid(visible=True, linewidth=0.5, color="#d0d0d0")
    return ax


def _last_rise(analysis: Analysis) -> tuple[FloatArray, FloatArray]:
    """Return times since the closing [s] and the rise [Pa] of a log's last hold."""
    fit, log = analysis.holds[-1].fit, analysis.log
    inside = (log.time >= fit.start) & (log.time <= fit.end) & np.isfinite(log.pressure)
    return log.time[inside] - fit.start, log.pressure[inside] - log.pressure[inside][0]
