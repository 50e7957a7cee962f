"""The finding of a gross leak: what runs off the gauge's range is named, whatever was taken for a hold."""

from __future__ import annotations

import math

from decay import wording
from decay.judge.case import Case, pull_before
from decay.judge.finding import Finding, Level
from decay.judge.gross import GrossRise
from decay.judge.rules.rule import Answer
from decay.quantities import MICRON

WATER = "free water close to the gauge"


def gross_leak(case: Case) -> Answer:
    """
    What it looks for
        A log that ends at the end of the gauge's range, and came there from base in one rise, within seconds or some
        minutes, when no hold was seen before it.
    Why it matters
        What stands still afterwards is the gauge and not the system. The few readings between are the evidence: the
        rise began after the last reading at base, so that the whole rise over that time is a lower bound of the leak.
    When it is wrong
        When gas was let in slowly, or the system was opened a little, without a hold before it. A rise faster than
        100,000 micron/min may be gas let in, where the log does not say that the valve was closed. Where the rise slows
        down towards a pressure that water reaches, where too few readings show whether it does, or where the pull
        stood where water stands, water may make it. Then it blocks, names what it may be, and fails nothing.
    Example log
        A pull to 80 micron; 6,100, 12,400 and 18,300 micron in the next fifteen seconds; then the end of the range.
    What to do
        Look for an open fitting, core or service valve first. If gas was let in, point at the hold before it with
        --hold START..END.
    References
        Q = V dp/dt; saturation of water by IAPWS R7-97.
    """
    rise = case.gross
    if rise is None:
        return ()
    seen = {0: "no reading", 1: "one reading"}.get(rise.readings, f"{rise.readings} readings")
    way = (
        f"from {wording.pressure(rise.base)} at {wording.clock(rise.start)} to the end of the gauge's range, "
        f"{wording.pressure(rise.top)}, at {wording.clock(rise.end)}, {seen} between"
    )
    low = wording.rate(rise.leak.low)
    if case.is_gross_leak:
        level = Level.FAILS if case.system.allow is None or case.is_above_allowed else Level.BLOCKS
        brief = f"gross leak of at least {low}"
        summary = f"A gross leak: {way}. It is at least {low}."
    else:
        level = Level.BLOCKS
        names = _candidates(case, rise)
        names[-1] += f" of at least {low}"
        brief = _any_of(names).replace(WATER, "free water")
        summary = f"{_any_of(names).capitalize()}: {way}."
    evidence = {"leak_low_micron_per_min": rise.leak.low / wording.MICRON_PER_MINUTE, "top_micron": rise.top / MICRON}
    if math.isfinite(rise.leak.value):
        evidence["leak_micron_per_min"] = rise.leak.value / wording.MICRON_PER_MINUTE
    return (Finding("H25", level, summary, evidence, (rise.start, rise.end), brief),)


def _candidates(case: Case, rise: GrossRise) -> list[str]:
    """Return what a rise may be that is not told to be a leak, a leak last."""
    pull = pull_before(case.pumpdowns, rise.start)
    names = ["gas let in"] if rise.may_be_let_in else []
    if not rise.is_beyond_water or (pull is not None and pull.water_suspected):
        names.append(WATER)
    return [*names, "a gross leak"]


def _any_of(names: list[str]) -> str:
    return f"{', '.join(names[:-1])}{',' if len(names) > 2 else ''} or {names[-1]}"
