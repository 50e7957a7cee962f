"""The panel that shows the deciding hold: readings, fitted rise, its two parts, the lines it is held against."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import StrMethodFormatter

from decay.analysis import Analysis
from decay.fit.results import HoldFit
from decay.quantities import MICRON
from decay.report import amounts
from decay.report import plot_style as style

# A line this many rises away from the readings would press them flat: it is named instead of drawn.
FAR = 2.0
# Share of the hold that is shown before and after it.
MARGIN = 0.04
# An interval without an upper end is drawn up to this rate, far beyond every picture. [Pa/s]
OPEN_END = 1e5


def draw_hold(ax: Axes, analysis: Analysis) -> Axes:
    """Draw the hold that the verdict rests on, or say that there is none.

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
    if analysis.decisive is None:
        return _draw_absence(ax, analysis)
    fit = analysis.holds[analysis.decisive].fit
    unit, name = style.time_unit(fit.duration)
    _draw_fit(ax, fit, unit)
    _draw_readings(ax, analysis, fit, unit)
    low, high = _pressure_range(analysis, fit)
    _draw_lines(ax, analysis, fit, low, high)
    ax.axvline(
        (fit.fit_from - fit.start) / unit,
        label=f"fit from {amounts.duration(fit.fit_from - fit.start)} on",
        **style.FIT_FROM,
    )
    ax.set_xlim(-MARGIN * fit.duration / unit, (1 + MARGIN) * fit.duration / unit)
    ax.set_ylim(*_with_lines(analysis, fit, low, high))
    ax.set_xlabel(f"time since the valve closed [{name}]")
    ax.set_ylabel("pressure [micron]")
    ax.yaxis.set_major_formatter(StrMethodFormatter("{x:,.12g}"))
    one_of_many = f"Hold {analysis.decisive + 1} of {len(analysis.holds)}, the one that decides"
    which = one_of_many if len(analysis.holds) > 1 else "The hold"
    when = f"{amounts.clock(fit.start)} to {amounts.clock(fit.end)} in the log"
    style.title(ax, f"{which}: {when}")
    ax.grid(visible=True, linewidth=0.4, color="#cccccc")
    ax.legend(**style.KEY)
    return ax


def _draw_fit(ax: Axes, fit: HoldFit, unit: float) -> None:
    curve = fit.curve
    time = (curve.time - fit.start) / unit
    start = _fitted_start(fit)
    level = amounts.number(100 * fit.leak.level)
    band = f"fit at the ends of the\nleak's {level} % interval"
    ax.fill_between(time, curve.low / MICRON, curve.high / MICRON, label=band, zorder=1, **style.BAND)
    elapsed = curve.time - curve.time[0]
    low, high = (start + min(end, OPEN_END) * elapsed for end in (fit.leak.low, fit.leak.high))
    fan = f"leak, {level} % interval"
    ax.fill_between(time, low / MICRON, high / MICRON, label=fan, zorder=1, **style.FAN)
    ax.plot(time, curve.model / MICRON, label="fitted rise", zorder=4, **style.MODEL)
    ax.plot(time, (start + curve.leak) / MICRON, label="steady part (leak)", zorder=5, **style.LEAK_PART)
    levelling = "part that levels off\n(outgassing)"
    ax.plot(time, (start + curve.outgassing) / MICRON, label=levelling, zorder=5, **style.OUTGASSING_PART)


def _fitted_start(fit: HoldFit) -> float:
    """Return the pressure from which both parts of the fitted rise are drawn. [Pa]

    Where rig and system have equalised: what they rise or fall by in the first seconds belongs to neither part.
    """
    return float(fit.curve.model[-1] - fit.curve.leak[-1] - fit.curve.outgassing[-1])


def _draw_readings(ax: Axes, analysis: Analysis, fit: HoldFit, unit: float) -> None:
    log = analysis.log
    near = (log.time >= fit.start - MARGIN * fit.duration) & (log.time <= fit.end + MARGIN * fit.duration)
    inside = (log.time >= fit.fit_from) & (log.time <= fit.end)
    settling = (log.time >= fit.start) & (log.time < fit.fit_from)
    outside = near & ~inside & ~settling
    for chosen, label, look in (
        (inside, "readings in the fit", style.READINGS),
        (settling, "left out: rig and system\nequalise", style.LEFT_OUT),
        (outside, "outside the hold", {**style.LEFT_OUT, "marker": "+", "color": "#666666"}),
    ):
        time, pressure = log.time[chosen], log.pressure[chosen]
        usable = np.isfinite(pressure)
        time, pressure = time[usable], pressure[usable]
        if time.size:
            shown = style.thinned(pressure)
            ax.plot((time[shown] - fit.start) / unit, pressure[shown] / MICRON, label=label, zorder=2, **look)
    lost = log.time[near & log.is_over_range]
    if lost.size:
        drawn = lost[np.linspace(0, lost.size - 1, min(lost.size, 150)).astype(int)]
        ax.plot(
            (drawn - fit.start) / unit,
            np.full(drawn.size, 1.0),
            transform=ax.get_xaxis_transform(),
            label=f"over range ({lost.size:,} readings)",
            **style.OVER_RANGE,
        )


def _pressure_range(analysis: Analysis, fit: HoldFit) -> tuple[float, float]:
    """Return the lowest and highest pressure that the hold itself shows. [micron]"""
    log = analysis.log
    inside = (log.time >= fit.start) & (log.time <= fit.end) & np.isfinite(log.pressure)
    start = _fitted_start(fit)
    parts = [log.pressure[inside], fit.curve.model, start + fit.curve.leak, start + fit.curve.outgassing]
    every = np.concatenate([part[np.isfinite(part)] for part in parts]) / MICRON
    low, high = (float(every.min()), float(every.max())) if every.size else (0.0, 1.0)
    least = 5.0 * fit.step / MICRON
    if high - low < least:
        middle = (high + low) / 2
        low, high = middle - least / 2, middle + least / 2
    return low, high


def _lines(analysis: Analysis, fit: HoldFit) -> list[tuple[float, str, dict[str, object]]]:
    """Return the horizontal lines that the hold is held against: pressure [micron], name, look."""
    lines: list[tuple[float, str, dict[str, object]]] = []
    limit = analysis.verdict.criterion.limit
    if limit is not None:
        lines.append((limit / MICRON, "criterion", style.CRITERION))
    if fit.water is not None:
        lines.append((fit.water.saturation.value / MICRON, "saturated water vapour", style.CEILING))
    return lines


def _is_near(line: float, low: float, high: float) -> bool:
    reach = FAR * (high - low)
    return low - reach <= line <= high + reach


def _draw_lines(ax: Axes, analysis: Analysis, fit: HoldFit, low: float, high: float) -> None:
    for line, name, look in _lines(analysis, fit):
        text = f"{name},\n{amounts.number(line)} micron"
        if _is_near(line, low, high):
            ax.axhline(line, label=text, zorder=2, **look)  # type: ignore[arg-type]
        elif name == "criterion":
            where = "above" if line > high else "below"
            ax.plot([], [], label=f"{text},\n{where} this picture", **look)  # type: ignore[arg-type]


def _with_lines(analysis: Analysis, fit: HoldFit, low: float, high: float) -> tuple[float, float]:
    near = [line for line, _, _ in _lines(analysis, fit) if _is_near(line, low, high)]
    low, high = min([low, *near]), max([high, *near])
    margin = 0.06 * (high - low)
    return low - margin, high + margin


def _draw_absence(ax: Axes, analysis: Analysis) -> Axes:
    ax.set_xticks([])
    ax.set_yticks([])
    style.title(ax, "No usable hold")
    verdict = analysis.verdict
    shown = [*verdict.reasons[:2], *verdict.next_steps[:1]]
    text = "\n".join(style.wrapped(finding.summary, 105, 3) for finding in shown)
    ax.text(0.5, 0.5, text, transform=ax.transAxes, ha="center", va="center", fontsize=10.5, linespacing=1.5)
    return ax
