"""The panel that shows the whole log: pressure on a log scale, its phases, and what could not be used."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from decay.analysis import Analysis
from decay.phases.phase import Kind, Phase
from decay.quantities import MICRON
from decay.report import amounts
from decay.report import plot_style as style

# Width of one letter of a phase's name as a share of a panel that is some 9 inches wide.
LETTER = 0.0095
# Narrower than this even an upright name does not fit.
UPRIGHT = 0.018
MOST_NAMED = 2


def draw_log(ax: Axes, analysis: Analysis) -> Axes:
    """Draw the whole log.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    analysis : Analysis
        The answer about one log.

    Returns
    -------
    Axes
        The same.
    """
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
    limit = analysis.verdict.criterion.limit
    low, high = ax.get_ylim()
    if limit is not None and low < limit / MICRON < high:
        handles.append(ax.axhline(limit / MICRON, label=f"criterion, {limit / MICRON:,.0f} micron", **style.CRITERION))
    ax.set_xlabel(f"time since the first row [{name}]")
    ax.set_ylabel("pressure [micron]")
    style.title(ax, "The whole log")
    ax.grid(visible=True, which="major", linewidth=0.4, color="#cccccc")
    unused = log.rows - len(log.time)
    title = f"{unused:,} of {log.rows:,} rows not used" if unused else None
    ax.legend(handles=handles, title=title, title_fontsize=style.SMALL, **style.KEY)
    return ax


def _draw_readings(ax: Axes, analysis: Analysis, unit: float) -> None:
    log = analysis.log
    names = [style.wrapped(f"other gauge: {style.shortened(gauge, 40)}", 28) for gauge in log.other_gauges]
    if len(names) > MOST_NAMED:
        # One entry for all: a legend taller than the panel would press the panel flat.
        names = [f"{len(names)} other gauges", *["_nolegend_"] * (len(names) - 1)]
    for position, (name, values) in enumerate(zip(names, log.other_gauges.values(), strict=True)):
        dashes = style.OTHER_GAUGE_DASHES[position % len(style.OTHER_GAUGE_DASHES)]
        shown = style.thinned(values)
        positive = np.where(values[shown] > 0, values[shown], np.nan)
        ax.plot(log.time[shown] / unit, positive / MICRON, linestyle=dashes, label=name, **style.OTHER_GAUGE)
    shown = style.thinned(log.pressure)
    pressure = log.pressure[shown]
    positive = np.where(pressure > 0, pressure, np.nan)
    many = len(shown) < len(log.pressure)
    label = f"readings: {style.shortened(log.gauge, 40)}" + (" (lowest and highest of each stretch)" if many else "")
    ax.plot(
        log.time[shown] / unit,
        positive / MICRON,
        label=style.wrapped(label, 28),
        **{**style.READINGS, "markersize": 3.5, "color": "#222222"},
    )
    lost = log.time[log.is_over_range]
    if lost.size:
        at_top = ax.get_xaxis_transform()
        drawn = lost[np.linspace(0, lost.size - 1, min(lost.size, 150)).astype(int)]
        ax.plot(
            drawn / unit,
            np.full(drawn.size, 1.0),
            transform=at_top,
            label=f"over range ({lost.size:,} readings)",
            **style.OVER_RANGE,
        )
    below = log.time[log.pressure <= 0]
    if below.size:
        ax.plot(
            below / unit,
            np.full(below.size, 0.0),
            transform=ax.get_xaxis_transform(),
            label=f"zero or below ({below.size:,} readings)",
            **{**style.OVER_RANGE, "marker": "v"},
        )


def _set_pressure_range(ax: Axes, analysis: Analysis) -> None:
    ax.yaxis.set_major_formatter(FuncFormatter(lambda x, _: amounts.number(x)))
    pressure = analysis.log.pressure
    usable = pressure[np.isfinite(pressure) & (pressure > 0)] / MICRON
    if not usable.size:
        ax.set_ylim(1.0, 1e6)
        return
    low, high = float(usable.min()), float(usable.max())
    limit = analysis.verdict.criterion.limit
    if limit is not None:
        low, high = min(low, limit / MICRON), max(high, limit / MICRON)
    # A quarter of the height stays free above the readings for the names of the phases.
    decades = max(np.log10(high / low), 0.3)
    ax.set_ylim(low / 10 ** (0.06 * decades), high * 10 ** (0.22 * decades))
    if decades < 1.5:
        ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        ax.minorticks_off()
    else:
        # Two marks a decade tell its scale as well as eight, in a fifth of the time that all marks take.
        ax.yaxis.set_minor_locator(LogLocator(subs=(2.0, 5.0)))
        ax.yaxis.set_minor_formatter(NullFormatter())


def _draw_phases(ax: Axes, phases: tuple[Phase, ...], unit: float) -> list[Patch]:
    left, right = ax.get_xlim()
    unnamed: dict[Kind, Patch] = {}
    for phase in phases:
        begin, end = phase.start / unit, phase.end / unit
        ax.axvspan(
            begin,
            end,
            facecolor="#f0f0f0" if phase.kind is Kind.HOLD else "none",
            edgecolor="#d4d4d4",
            hatch=style.HATCHES[phase.kind],
            linewidth=0.0,
            zorder=0,
        )
        ax.axvline(begin, color="#999999", linewidth=0.7, zorder=1)
        share = (end - begin) / (right - left)
        fits = share > LETTER * len(phase.kind.value)
        if not fits and share < UPRIGHT:
            unnamed.setdefault(
                phase.kind,
                Patch(facecolor="white", edgecolor="#888888", hatch=style.HATCHES[phase.kind], label=phase.kind.value),
            )
            continue
        ax.text(
            (begin + end) / 2,
            0.965,
            phase.kind.value,
            transform=ax.get_xaxis_transform(),
            ha="center",
            va="top",
            rotation=0 if fits else 90,
            fontsize=style.SMALL,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0, "alpha": 0.85},
            zorder=1.5,
        )
    return list(unnamed.values())
