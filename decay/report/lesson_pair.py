"""The first page of a lesson in words: two holds, what the rule says of each, and the truth; no statistics."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from decay import wording as amounts
from decay.arrays import FloatArray
from decay.lesson.holds import Pair, Shown
from decay.lesson.lesson import meaning
from decay.lesson.terms import Terms
from decay.wording.charset import clean, to_ascii
from decay.wording.lines import Block, Entry

LOOK = (
    "The rule looks at how high the pressure stands at one moment. Look at how it got there: a rise that levels off is "
    "gas from inside, and one that goes on as steadily as it began is a leak, or a source so slow that only a longer "
    "or a second hold tells it from one."
)
"""What to look at instead of the line."""
CAUTION = "A hold never says where a system leaks, and never tests it under its working pressure."


@dataclass(frozen=True, slots=True)
class Told:
    """One of the two holds in words.

    Parameters
    ----------
    letter : str
        By which the class calls it.
    title : str
        What the rule says, and what it should have said.
    readings : str
        What the gauge showed.
    truth : str
        What the job was made with.
    proof : str
        What the log proves.
    """

    letter: str
    title: str
    readings: str
    truth: str
    proof: str


def first_page(terms: Terms, pair: Pair, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return the first page of text.

    Parameters
    ----------
    terms : Terms
        What the lesson is about.
    pair : Pair
        The two holds.
    ascii_only : bool
        Write ``u`` for ``µ`` and so on.
    width : int
        Longest line. [characters]

    Returns
    -------
    str
        Several lines, ending in a line feed; the same terms give the same text.
    """
    width = max(width, 40)
    lines = ["LESSON: one rule, two holds, both judged wrongly",
             *textwrap.wrap(f"The rule: {rule_in_words(terms)}. {conditions(terms)}", width), ""]
    for told in told_pair(terms, pair):
        if isinstance(told, str):
            lines += [*textwrap.wrap(told, width), ""]
            continue
        entries = [Entry("Gauge", told.readings), Entry("Truth", told.truth), Entry("Proved", told.proof)]
        lines += [*Block(f"{told.letter}. {told.title}", entries).lines(width), ""]
    lines += [*textwrap.wrap(LOOK, width), "", *textwrap.wrap(CAUTION, width)]
    lines = [clean(line) for line in lines]
    return "\n".join(to_ascii(line) if ascii_only else line for line in lines) + "\n"


def conditions(terms: Terms) -> str:
    """Return of what system both holds are, and that nothing was measured."""
    return (f"Both systems hold {litres(terms.volume.value)}. Synthetic: two invented jobs of known truth, picked to "
            "show it; nothing was measured.")


def told_pair(terms: Terms, pair: Pair) -> Iterable[Told | str]:
    """Yield each hold in words; where no job showed it, that in one sentence."""
    if pair.damp is None:
        yield "A. No damp, tight system was found that this rule fails and the analysis judges better."
    else:
        yield Told("A", "Rule: FAIL. Truth: tight.", _readings(terms, pair.damp),
                   "no leak; moisture comes out, and levels off", _proof(pair.damp))
    if pair.leaking is None:
        yield "B. No leaking system was found that this rule passes and the analysis judges better."
    else:
        rate = pair.leaking.made.leak_rate
        yield Told("B", "Rule: PASS. Truth: it leaks.", _readings(terms, pair.leaking),
                   f"a leak of {amounts.rate(rate)}{_loss(terms, rate)}", _proof(pair.leaking))


def _readings(terms: Terms, shown: Shown) -> str:
    _, pressure = held(shown, terms.hold)
    limit = shown.analysis.verdict.criterion.limit
    line = "" if limit is None else f"; the rule's line is {amounts.pressure(limit)}"
    return (f"{amounts.pressure(float(pressure[0]))} when the valve closed, {amounts.pressure(float(pressure[-1]))} "
            f"after {amounts.duration(terms.hold)}{line}")


def held(shown: Shown, hold: float) -> tuple[FloatArray, FloatArray]:
    """Return times since the valve closed [s] and readings [Pa] up to the moment at which the rule looks.

    Parameters
    ----------
    shown : Shown
        One of the two holds.
    hold : float
        When the rule looks, since the valve closed. [s]

    Returns
    -------
    tuple of ndarray, shape (n,)
        Readings that are numbers; no others.
    """
    log, start = shown.analysis.log, shown.made.holds[-1].start
    inside = (log.time >= start) & (log.time <= start + hold) & np.isfinite(log.pressure)
    return log.time[inside] - start, log.pressure[inside]


def _loss(terms: Terms, rate: float) -> str:
    times = meaning(terms, rate).until_empty
    if times is None or times.laminar.value == float("inf"):
        return ""
    half = half_in_words(0.5 * times.laminar.value, 0.5 * times.molecular.value)
    return f": half of {amounts.number(terms.charge * 1e3)} g of {terms.system.refrigerant} is gone in {half}"


def _proof(shown: Shown) -> str:
    fit = shown.analysis.holds[shown.analysis.decisive or 0].fit
    if fit.is_leak_seen:
        return f"a leak of {amounts.rate_interval(fit.leak)}"
    return f"no leak seen; one above {amounts.rate(fit.leak.high)} is ruled out"


def litres(volume: float) -> str:
    """Return a volume [m³] in litres."""
    return f"{amounts.number(volume * 1e3)} L"


def rule_in_words(terms: Terms) -> str:
    """Return what the rule of a lesson asks for."""
    rule = terms.criterion
    parts = []
    if rule.target is not None:
        parts.append(f"pulled to {amounts.pressure(rule.target)}")
    if rule.passes is not None:
        under = "at or below" if rule.passes_on_line else "below"
        when = "throughout" if rule.is_watched_throughout else f"after {amounts.duration(terms.hold)}"
        parts.append(f"{under} {amounts.pressure(rule.passes)} {when}")
    if rule.rise is not None:
        parts.append(f"a rise of up to {amounts.pressure(rule.rise)}")
    if rule.no_change:
        parts.append("no change to the gauge's step")
    return f"{', '.join(parts)} ({rule.standing})"


def half_in_words(one: float, other: float) -> str:
    """Return in what time half the charge is gone, from the faster flow regime to the slower. [s]"""
    fast, slow = (amounts.duration(t) for t in sorted((one, other)))
    value, _, unit = fast.partition(" ")
    is_shared = value[0].isdigit() and slow.endswith(f" {unit}")
    if fast == slow:
        return fast
    return f"{value if is_shared else fast} to {slow}"
