"""The picture of a plan: the pull that is to be expected, and the smallest leak that a hold tells by its length."""

from __future__ import annotations

import math

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from decay import wording
from decay.constants import MINUTE
from decay.planning.make import Plan
from decay.report import plot_style as style
from decay.report.plan_report import plan_headline, second_test_in_words

DRY = {"linestyle": "-", "linewidth": 1.8, "color": "black"}
DAMP = style.OUTGASSING_PART
TICKS = (1.0, 3.0, 10.0, 30.0, 60.0, 120.0, 480.0, 1440.0)  # minutes


def draw_plan(plan: Plan) -> Figure:
    """Return the picture of a plan."""
    with style.our_look():
        figure = style.arranged(*style.SIZE, 0.07)
        axes = figure.subplots(2, 1, height_ratios=[2.6, 4.0])
        figure.suptitle(style.broken(plan_headline(plan), 110, 2), x=0.01, ha="left", fontsize=13, fontweight="bold")
        draw_pull(axes[0], plan)
        draw_course(axes[1], plan)
        second = second_test_in_words(plan)
        if second:
            figure.supxlabel(style.broken(second, 120, 2), x=0.01, ha="left", fontsize=11)
    return figure


def draw_pull(ax: Axes, plan: Plan) -> Axes:
    """Draw the pull of the dry system, and what holds it up."""
    style.title(ax, "The pull of a dry, tight system; a real one is slower at its end")
    if plan.pull is None:
        return style.say_instead(ax, "Without pump and volume its time is not known.")
    end = plan.pull.to_target if math.isfinite(plan.pull.to_target) else float(plan.pull.time[-1])
    unit, name = style.time_unit(1.15 * end)
    shown = plan.pull.time <= 1.15 * end
    ax.plot(plan.pull.time[shown] / unit, plan.pull.pressure[shown] / wording.size(), label="expected pressure",
            **style.MODEL)
    ax.axhline(plan.target / wording.size(), label=f"target, {wording.pressure(plan.target)}", **style.CRITERION)
    if plan.warmth is not None:
        ax.axhline(plan.warmth.saturation / wording.size(),
                   label="saturated water vapour,\nhere free water holds it up", **style.CEILING)
    ax.set_yscale("log")
    ax.set_xlim(0.0, 1.15 * end / unit)
    style.name_axes(ax, f"pumping time [{name}]", f"pressure [{wording.unit()}]")
    ax.legend(**style.KEY)
    return ax


def draw_course(ax: Axes, plan: Plan) -> Axes:
    """Draw the smallest leak that a hold tells over its length, dry and damp."""
    damp = plan.intent.damp
    wet = f"damp: {wording.pressure(damp.rise)} level off,\ntime constant {wording.duration(damp.time_constant)}"
    for course, look, label in ((plan.dry, DRY, "dry"), (plan.damp, DAMP, wet)):
        ax.plot(course.duration / MINUTE, course.told / wording.rate_size(), label=label, **look)
    length = plan.intent.criterion.hold
    customary = f"the customary hold,\n{wording.duration(length)}"
    ax.axvline(length / MINUTE, label=customary, **style.CRITERION)
    for course, marker in ((plan.dry, "o"), (plan.damp, "s")):
        told = course.told_by(course.customary) / wording.rate_size()
        ax.plot([course.customary / MINUTE], [told], marker=marker, markersize=7, color="white",
                markeredgecolor="black", linestyle="none")
    if plan.matters is not None:
        matters = f"the leak that matters,\n{wording.rate(plan.matters)}"
        ax.axhline(plan.matters / wording.rate_size(), label=matters, **style.FIT_FROM)
    if plan.line_rate is not None:
        line = f"the criterion's line\npasses {wording.rate(plan.line_rate)}"
        ax.axhline(plan.line_rate / wording.rate_size(), label=line, linestyle=(0, (1, 3)), color="black",
                   linewidth=1.4)
    ax.set_xscale("log")
    ax.set_yscale("log")
    first, last = float(plan.dry.duration[0] / MINUTE), float(plan.dry.duration[-1] / MINUTE)
    ax.set_xlim(first, last)
    ticks = np.array([tick for tick in TICKS if first <= tick <= last])
    ax.set_xticks(ticks, [wording.duration(tick * MINUTE) for tick in ticks])
    ax.minorticks_off()
    style.name_axes(ax, "length of the hold", f"smallest leak shown [{wording.rate_unit()}]")
    style.title(ax, "The smallest leak that a hold of such a length shows or rules out")
    ax.legend(**style.KEY)
    return ax
