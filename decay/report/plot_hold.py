"""The panel that shows the deciding hold: readings, fitted rise, its two parts, the lines it is held against."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from decay import wording
from decay.fit.results import HoldFit
from decay.judge.answer import Judged
from decay.report import plot_style as style
from decay.report.answers import deciding_findings

# A criterion whose line is this many of the hold's own spans away would press the readings flat: an arrow tells it.
FAR = 4.0
# The pressure axis spans at least so many of the gauge's steps, so that noise alone does not fill a picture.
LEAST_STEPS = 20.0
BEHIND_NAME: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "pad": 0.5}
"""Hides the leaders of other names."""
CRITERION_NAME = "criterion's line"
# Share of the hold that is shown before and after it.
MARGIN = 0.04
# An interval without an upper end is drawn up to this rate, far beyond every picture. [Pa/s]
OPEN_END = 1e5
# Heights that a panel of the usual size has for one line of a name beside it, as a share.
NAME_LINE = 0.083
LEADER: dict[str, Any] = {"arrowstyle": "-", "color": "#999999", "linewidth": 0.6, "shrinkA": 1, "shrinkB": 0,
                          "relpos": (0.0, 0.5)}
# The key of the marks may reach into the room for the names beside the panel.
KEY_RIGHT = 1.24


@dataclass(frozen=True, slots=True)
class _Name:
    """A name beside the panel, at the pressure where what it names leaves it [micron], if it is in view."""

    text: str
    at: float
    color: str = "black"
    is_in_view: bool = True


def draw_hold(ax: Axes, analysis: Judged) -> Axes:
    """Draw the hold that the verdict rests on, or say that there is none."""
    if analysis.decisive is None:
        return _draw_absence(ax, analysis)
    fit = analysis.holds[analysis.decisive].fit
    unit, name = style.time_unit(fit.duration)
    names = _draw_fit(ax, fit, unit)
    marks = _draw_readings(ax, analysis, fit, unit)
    low, high = _pressure_range(analysis, fit)
    names += _draw_lines(ax, analysis, fit, low, high)
    ax.axvline((fit.fit_from - fit.start) / unit, **style.FIT_FROM)
    ax.set_xlim(-MARGIN * fit.duration / unit, (1 + MARGIN) * fit.duration / unit)
    ax.set_ylim(*_with_lines(analysis, fit, low, high))
    _write_names(ax, names)
    _say_enlarged(ax, analysis, fit)
    style.name_axes(ax, f"time since the valve closed [{name}]", f"pressure [{wording.unit()}]")
    one_of_many = f"Hold {analysis.decisive + 1} of {len(analysis.holds)}, the one that decides"
    which = one_of_many if len(analysis.holds) > 1 else "The hold"
    when = f"{wording.clock(fit.start)} to {wording.clock(fit.end)} in the log"
    style.title(ax, f"{which}: {when}")
    style.key_above(ax, marks, KEY_RIGHT)
    return ax


def _draw_fit(ax: Axes, fit: HoldFit, unit: float) -> list[_Name]:
    """Draw the fitted rise, its two parts and the leak's interval, and return their names."""
    curve = fit.curve
    time = (curve.time - fit.start) / unit
    start = _fitted_start(fit)
    elapsed = curve.time - curve.time[0]
    low, high = (start + min(end, OPEN_END) * elapsed for end in (fit.leak.low, fit.leak.high))
    ax.fill_between(time, low / wording.size(), high / wording.size(), zorder=1, **style.FAN)
    ax.plot(time, curve.model / wording.size(), label="fitted rise", zorder=5, **style.MODEL)
    ax.plot(time, (start + curve.leak) / wording.size(), label="steady part", zorder=4, **style.LEAK_PART)
    ax.plot(time, (start + curve.outgassing) / wording.size(), label="part that levels off", zorder=4,
            **style.OUTGASSING_PART)
    level = wording.number(100 * fit.leak.level)
    rise, leak, levelling = (float(y[-1]) / wording.size()
                             for y in (curve.model, start + curve.leak, start + curve.outgassing))
    steady = f"steady part;\ngrey: its {level} % interval"
    return [
        _Name("fitted rise", rise),
        _Name(steady, leak, style.LEAK_NAME),
        _Name("part that levels off", levelling, style.OUTGASSING_NAME),
    ]


def _fitted_start(fit: HoldFit) -> float:
    """Return the pressure from which both parts of the fitted rise are drawn. [Pa]

    Where rig and system have equalised: what they rise or fall by in the first seconds belongs to neither part.
    """
    return float(fit.curve.model[-1] - fit.curve.leak[-1] - fit.curve.outgassing[-1])


def _draw_readings(ax: Axes, analysis: Judged, fit: HoldFit, unit: float) -> list[Artist]:
    """Draw what was read in the hold and about it, and return the marks for the key."""
    marks: list[Artist] = []
    log = analysis.log
    near = log.within(fit.start - MARGIN * fit.duration, fit.end + MARGIN * fit.duration)
    inside = log.within(fit.fit_from, fit.end)
    settling = (log.time >= fit.start) & (log.time < fit.fit_from)
    outside = near & ~inside & ~settling
    for chosen, label, look in (
        (inside, "reading", style.READINGS),
        (settling, f"first {wording.duration(fit.fit_from - fit.start)}, not fitted", style.LEFT_OUT),
        (outside, "outside the hold", {**style.LEFT_OUT, "marker": "+", "color": "#666666"}),
    ):
        time, pressure = log.time[chosen], log.pressure[chosen]
        usable = np.isfinite(pressure)
        time, pressure = time[usable], pressure[usable]
        if time.size:
            shown = style.worth_drawing(pressure)
            marks += ax.plot((time[shown] - fit.start) / unit, pressure[shown] / wording.size(), label=label, zorder=2,
                             **look)
    return [*marks, *style.mark_over_range(ax, (log.time[near & log.is_over_range] - fit.start) / unit)]


def _pressure_range(analysis: Judged, fit: HoldFit) -> tuple[float, float]:
    """Return the lowest and highest pressure that the hold itself shows. [micron]"""
    start = _fitted_start(fit)
    _, read = analysis.log.readings(fit.start, fit.end)
    parts = [read, fit.curve.model, start + fit.curve.leak, start + fit.curve.outgassing]
    every = np.concatenate([part[np.isfinite(part)] for part in parts]) / wording.size()
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 1.0)
    least = LEAST_STEPS * fit.step / wording.size()
    if high - low < least:
        middle = (high + low) / 2
        # What never reads below zero is not drawn as if it could.
        floor = 0.0 if low >= 0 else -math.inf
        low = max(middle - least / 2, floor)
        high = low + least
    return low, high


def _lines(analysis: Judged, fit: HoldFit) -> list[tuple[float, str, dict[str, object]]]:
    """Return the horizontal lines that the hold is held against: pressure [micron], name, look."""
    lines: list[tuple[float, str, dict[str, object]]] = []
    limit = analysis.verdict.criterion.limit
    if limit is not None:
        lines.append((limit / wording.size(), CRITERION_NAME, style.CRITERION))
    if fit.water is not None:
        lines.append((fit.water.saturation.value / wording.size(), "saturated water vapour", style.CEILING))
    return lines


def _is_near(line: float, low: float, high: float) -> bool:
    reach = FAR * (high - low)
    return low - reach <= line <= high + reach


def _draw_lines(ax: Axes, analysis: Judged, fit: HoldFit, low: float, high: float) -> list[_Name]:
    names = []
    for line, name, look in _lines(analysis, fit):
        text = f"{name},\n{wording.number(line)} {wording.unit()}"
        if _is_near(line, low, high):
            ax.axhline(line, label=name, zorder=2, **look)  # type: ignore[arg-type]
            names.append(_Name(text, line, str(look["color"])))
        elif name == CRITERION_NAME:
            arrow = "↑" if line > high else "↓"
            names.append(_Name(f"{arrow} {text}", line, is_in_view=False))
    return names


def _write_names(ax: Axes, names: list[_Name]) -> None:
    """Write names beside the panel, each as near to its place as the others leave room."""
    low, high = ax.get_ylim()
    ordered = sorted(names, key=lambda name: name.at)
    heights = [NAME_LINE * (name.text.count("\n") + 1) for name in ordered]
    wanted = [min(max((name.at - low) / (high - low), 0.0), 1.0) for name in ordered]
    middles: list[float] = []
    bottom = 0.0
    for at, height in zip(wanted, heights, strict=True):
        middles.append(max(at, bottom + height / 2))
        bottom = middles[-1] + height / 2
    top = 1.0
    for i in reversed(range(len(middles))):
        middles[i] = min(middles[i], top - heights[i] / 2)
        top = middles[i] - heights[i] / 2
    for name, at, middle in zip(ordered, wanted, middles, strict=True):
        ax.annotate(
            name.text,
            (1.0, at),
            xycoords="axes fraction",
            xytext=(1.03, middle),
            textcoords="axes fraction",
            va="center",
            fontsize=style.SMALL,
            color=name.color,
            arrowprops=LEADER if name.is_in_view else None,
            bbox=BEHIND_NAME,
            annotation_clip=False,
        )


def _say_enlarged(ax: Axes, analysis: Judged, fit: HoldFit) -> None:
    """Say how much the pressure axis shows where it shows less than the rise that the criterion allows."""
    limit = analysis.verdict.criterion.limit
    low, high = ax.get_ylim()
    if limit is None or limit / wording.size() <= high:
        return
    allowed = limit / wording.size() - _fitted_start(fit) / wording.size()
    ax.text(
        1.0,
        0.015,
        f"enlarged: this panel spans {wording.number(high - low)} of the {wording.number(allowed)} "
        f"{wording.unit()} allowed ",
        transform=ax.transAxes,
        ha="right",
        va="bottom",
        fontsize=style.SMALL,
        style="italic",
        bbox=style.BEHIND_TEXT,
        zorder=6,
    )


def _with_lines(analysis: Judged, fit: HoldFit, low: float, high: float) -> tuple[float, float]:
    near = [line for line, _, _ in _lines(analysis, fit) if _is_near(line, low, high)]
    low, high = min([low, *near]), max([high, *near])
    margin = 0.06 * (high - low)
    return low - margin, high + margin


def _draw_absence(ax: Axes, analysis: Judged) -> Axes:
    style.title(ax, "No usable hold")
    shown = [*deciding_findings(analysis)[:2], *analysis.verdict.next_steps[:1]]
    text = "\n".join(style.broken(finding.summary, 105, 3) for finding in shown)
    return style.say_instead(ax, text, va="center", fontsize=10.5, linespacing=1.5)
