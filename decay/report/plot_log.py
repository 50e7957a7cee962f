"""The panel that shows the whole log: pressure on a log scale, a strip of its phases, and what could not be used."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch, Rectangle
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter
from matplotlib.transforms import ScaledTranslation, blended_transform_factory

from decay import wording
from decay.judge.answer import Judged
from decay.phases.phase import Kind, Phase
from decay.report import plot_style as style

STRIP = 0.2
"""Height of the strip that names the phases, above the panel: a name there covers no reading. [inch]"""
# Width of one letter of a phase's name as a share of a panel that is some 9 inches wide.
STRIP_LETTER = 0.0095
MOST_NAMED = 2
# Places along the criterion's line at which its name may stand, as shares of the panel's width.
NAME_PLACES = (0.02, 0.25, 0.5, 0.75, 0.98)
NAME_HEIGHT = 0.12
"""What the name takes of the panel's height."""
NAME_REACH = 0.16
"""How far a name may reach to either side of its place, as a share of the panel's width."""


def draw_log(ax: Axes, analysis: Judged) -> Axes:
    """Draw the whole log."""
    log = analysis.log
    unit, name = style.time_unit(log.duration)
    ax.set_yscale("log")
    _draw_readings(ax, analysis, unit)
    first, last = (float(log.time[0]), float(log.time[-1])) if len(log.time) else (0.0, 1.0)
    margin = 0.01 * (last - first) or 1.0
    ax.set_xlim((first - margin) / unit, (last + margin) / unit)
    _set_pressure_range(ax, analysis)
    handles, _ = ax.get_legend_handles_labels()
    handles += _draw_phases(ax, analysis.phases, unit)
    _draw_criterion(ax, analysis, unit)
    ax.set_xlabel(f"time since the first row [{name}]")
    ax.set_ylabel(f"pressure [{wording.unit()}]")
    style.title(ax, "The whole log", above=STRIP)
    ax.grid(visible=True, which="major", **style.GRID)
    unused = log.rows - len(log.time)
    title = f"{unused:,} of {log.rows:,} rows not used" if unused else None
    ax.legend(handles=handles, title=title, title_fontsize=style.SMALL, **style.KEY)
    return ax


def _draw_readings(ax: Axes, analysis: Judged, unit: float) -> None:
    log = analysis.log
    names = [style.broken(f"other gauge: {style.shortened(gauge, 40)}", 28) for gauge in log.other_gauges]
    if len(names) > MOST_NAMED:
        # One entry for all: a legend taller than the panel would press the panel flat.
        names = [f"{len(names)} other gauges", *["_nolegend_"] * (len(names) - 1)]
    for position, (name, values) in enumerate(zip(names, log.other_gauges.values(), strict=True)):
        dashes = style.OTHER_GAUGE_DASHES[position % len(style.OTHER_GAUGE_DASHES)]
        shown = style.worth_drawing(values)
        positive = np.where(values[shown] > 0, values[shown], np.nan)
        ax.plot(log.time[shown] / unit, positive / wording.size(), linestyle=dashes, label=name, **style.OTHER_GAUGE)
    shown = style.worth_drawing(log.pressure)
    pressure = log.pressure[shown]
    positive = np.where(pressure > 0, pressure, np.nan)
    many = len(shown) < len(log.pressure)
    label = f"readings: {style.shortened(log.gauge, 40)}" + (" (lowest and highest of each stretch)" if many else "")
    ax.plot(
        log.time[shown] / unit,
        positive / wording.size(),
        label=style.broken(label, 28),
        **{**style.READINGS, "markersize": 3.5, "color": "#222222"},
    )
    style.mark_over_range(ax, log.time[log.is_over_range] / unit)
    below = log.time[log.pressure <= 0]
    if below.size:
        ax.plot(
            below / unit,
            np.full(below.size, 0.0),
            transform=ax.get_xaxis_transform(),
            label=f"zero or below ({below.size:,} readings)",
            **{**style.OVER_RANGE, "marker": "v"},
        )


def _set_pressure_range(ax: Axes, analysis: Judged) -> None:
    ax.yaxis.set_major_formatter(FuncFormatter(lambda x, _: wording.number(x)))
    pressure = analysis.log.pressure
    usable = pressure[np.isfinite(pressure) & (pressure > 0)] / wording.size()
    if not usable.size:
        ax.set_ylim(1.0, 1e6)
        return
    low, high = float(usable.min()), float(usable.max())
    limit = analysis.verdict.criterion.limit
    if limit is not None:
        low, high = min(low, limit / wording.size()), max(high, limit / wording.size())
    decades = max(np.log10(high / low), 0.3)
    ax.set_ylim(low / 10 ** (0.06 * decades), high * 10 ** (0.08 * decades))
    if decades < 1.5:
        ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        ax.minorticks_off()
    else:
        # Two marks a decade tell its scale as well as eight, in a fifth of the time that all marks take.
        ax.yaxis.set_minor_locator(LogLocator(subs=(2.0, 5.0)))
        ax.yaxis.set_minor_formatter(NullFormatter())


def _draw_criterion(ax: Axes, analysis: Judged, unit: float) -> None:
    """Draw the criterion's line, its name where the readings above or below it are farthest away."""
    limit = analysis.verdict.criterion.limit
    low, high = ax.get_ylim()
    if limit is None or not low < limit / wording.size() < high:
        return
    ax.axhline(limit / wording.size(), **style.CRITERION)
    left, right = ax.get_xlim()
    log = analysis.log
    usable = np.isfinite(log.pressure) & (log.pressure > 0)
    time, height = log.time[usable] / unit, np.log(log.pressure[usable] / limit)

    def room(place: float, is_above: bool) -> float:
        side = height[np.abs((time - left) / (right - left) - place) < NAME_REACH]
        side = side[side > 0] if is_above else -side[side <= 0]
        return float(side.min()) if side.size else np.inf

    share = np.log(limit / wording.size() / low) / np.log(high / low)
    sides = [side for side, is_free in ((True, share < 1 - NAME_HEIGHT), (False, share > NAME_HEIGHT)) if is_free]
    place, is_above = max(((place, side) for side in sides for place in NAME_PLACES), key=lambda at: room(*at))
    ax.annotate(
        f"criterion's line, {wording.pressure(limit)}",
        (place, limit / wording.size()),
        xycoords=ax.get_yaxis_transform(),
        xytext=(0, 2 if is_above else -3),
        textcoords="offset points",
        ha="left" if place < 0.2 else "right" if place > 0.8 else "center",
        va="bottom" if is_above else "top",
        fontsize=style.SMALL,
        zorder=1.5,
    )


def _draw_phases(ax: Axes, phases: tuple[Phase, ...], unit: float) -> list[Patch]:
    """Draw the strip of phases above the panel, and return what the key has to name because its name finds no room."""
    left, right = ax.get_xlim()
    above = ax.figure.dpi_scale_trans + ScaledTranslation(0.0, 1.0, ax.transAxes)  # type: ignore[arg-type]
    strip = blended_transform_factory(ax.transData, above)
    unnamed: dict[Kind, Patch] = {}
    for phase in phases:
        begin, end = phase.start / unit, phase.end / unit
        ground, letters = style.SHADES[phase.kind]
        if phase.kind is Kind.HOLD:
            ax.axvspan(begin, end, facecolor="#f3f3f3", edgecolor="none", zorder=0)
        ax.axvline(begin, color="#bbbbbb", linewidth=0.6, zorder=1)
        ax.add_patch(
            Rectangle((begin, 0.0), end - begin, STRIP, transform=strip, clip_on=False, facecolor=ground,
                      edgecolor="#555555", linewidth=0.6)
        )
        if (end - begin) / (right - left) <= STRIP_LETTER * len(phase.kind.value):
            unnamed.setdefault(phase.kind, Patch(facecolor=ground, edgecolor="#555555", label=phase.kind.value))
            continue
        ax.text((begin + end) / 2, STRIP / 2, phase.kind.value, transform=strip, ha="center", va="center_baseline",
                fontsize=style.SMALL, color=letters)
    return list(unnamed.values())
