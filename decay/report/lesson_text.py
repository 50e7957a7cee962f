"""The second page of a lesson in words: how often the rule is wrong, each share with the error of its counting."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from decay import wording as amounts
from decay.interval import Interval
from decay.lesson import terms as season
from decay.lesson.lesson import Lesson
from decay.lesson.passing import Proof, RuleCurve, share
from decay.quantities import MICRON
from decay.report.lesson_pair import half_in_words, litres, rule_in_words
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE
from decay.wording.charset import clean, to_ascii
from decay.wording.lines import Block, Entry

HALF = 0.5
NOTICE = "Synthetic: {} invented jobs, nothing was measured."


def page(lesson: Lesson, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return the page of shares.

    Parameters
    ----------
    lesson : Lesson
        What was simulated.
    ascii_only : bool
        Write ``u`` for ``µ`` and so on.
    width : int
        Longest line, tables aside. [characters]

    Returns
    -------
    str
        Several lines, ending in a line feed; no clock time: the same lesson gives the same text.
    """
    width = max(width, 40)
    t = lesson.terms
    lines = [f"HOW OFTEN: {t.criterion.title}", *textwrap.wrap(conditions(lesson), width), ""]
    lines += [*Block("In short", [Entry("-", text) for text in findings(lesson)]).lines(width), ""]
    lines += [f"Which leaks pass, and what the same {amounts.duration(t.hold)} holds prove [% of holds]",
              *_columns(_passing_rows(lesson)), ""]
    lines += [f"What such leaks lose ({t.system.refrigerant}, {amounts.number(t.charge * 1e3)} g)",
              *_columns(_loss_rows(lesson)), ""]
    for block in (
        Block("Other lengths of hold, same line", list(_lengths(lesson))),
        Block("In another volume", [Entry(litres(curve.volume), _reach(lesson, curve)) for curve in lesson.volumes]),
        Block("What this rests on", [Entry("-", text) for text in rests_on(lesson)]),
    ):
        lines += [*block.lines(width), ""]
    lines = [clean(line) for line in lines[:-1]]
    return "\n".join(to_ascii(line) if ascii_only else line for line in lines) + "\n"


def conditions(lesson: Lesson) -> str:
    """Return for what the lesson was made."""
    t = lesson.terms
    return (
        f"{litres(t.volume.value)}, {t.system.refrigerant} {amounts.number(t.charge * 1e3)} g, hold "
        f"{amounts.duration(t.hold)}; the rule: {rule_in_words(t)}. "
        + NOTICE.format(t.runs)
    )


def percent(part: Interval) -> str:
    """Return a share with its Monte Carlo interval."""
    return f"{100 * part.value:.0f} % ({100 * part.low:.0f} to {100 * part.high:.0f} %)"


def findings(lesson: Lesson) -> tuple[str, ...]:
    """Return the lesson in a few sentences, the most telling first."""
    return (passing_in_words(lesson), *_proof_in_words(lesson))


def passing_in_words(lesson: Lesson) -> str:
    """Return the largest leak that at least half of the holds pass with, in one sentence."""
    rule = lesson.rules[0]
    index = rule.up_to(HALF)
    if index < 1:
        return (
            f"Even without a leak this rule passes only {percent(rule.interval(0))} of these systems: what it judges "
            "here is moisture."
        )
    if lesson.loss(index) == (0.0, 0.0):
        return (
            f"A leak of {amounts.rate(float(lesson.terms.leaks[index]))} passes this rule in "
            f"{percent(rule.interval(index))} of holds; at rest {lesson.terms.system.refrigerant} stands below "
            "atmosphere, and air leaks in."
        )
    return (
        f"A leak that empties half the charge in {half_in_words(*lesson.half(index))} passes this rule in "
        f"{percent(rule.interval(index))} of holds."
    )


def _proof_in_words(lesson: Lesson) -> Iterable[str]:
    rule, proof = lesson.rules[0], lesson.proofs[0]
    failing = share(rule.runs - int(rule.passes[0]), rule.runs)
    why = ": moisture and the gauge do that" if failing.value > 0 else ""
    yield f"Without any leak, {percent(failing)} of holds fail it{why}."
    best = int(proof.named_and_met.argmax())
    if proof.named_and_met[best] > 0:
        leak = amounts.rate(float(lesson.terms.leaks[proof.indices[best]]))
        found = percent(share(int(proof.named_and_met[best]), proof.runs))
        yield f"With a leak of {leak}, {found} of holds pass the rule although their own log proves the leak."
    unresolved = share(int(proof.unresolved[0]), proof.runs)
    yield (
        f"Without a leak, {percent(unresolved)} of the logs of such holds leave open whether the rise is one; half of "
        f"the smallest leak these holds could show is {amounts.rate(float(proof.smallest_shown[0]))}."
    )


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    return ["  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in rows]


def _bare(part: Interval) -> str:
    return f"{100 * part.value:.0f} ({100 * part.low:.0f} to {100 * part.high:.0f})"


def _leak(lesson: Lesson, index: int) -> str:
    return "none" if index == 0 else amounts.number(float(lesson.terms.leaks[index]) / MICRON_PER_MINUTE, 2)


def _passing_rows(lesson: Lesson) -> list[list[str]]:
    rule, proof = lesson.rules[0], lesson.proofs[0]
    names = ["rule passes", "leak named", "unresolved", "no leak seen"]
    counted = [proof.named, proof.unresolved, proof.unseen]
    if proof.without.any():
        names.append("no usable hold")
        counted.append(proof.without)
    rows = [["micron/min", *names]]
    for column, index in enumerate(proof.indices.tolist()):
        shares = [rule.interval(index), *(share(int(counts[column]), proof.runs) for counts in counted)]
        rows.append([_leak(lesson, index), *(_bare(part) for part in shares)])
    return rows


def _loss_rows(lesson: Lesson) -> list[list[str]]:
    rows = [["micron/min", "g/year, molecular to laminar flow", "half the charge gone in"]]
    for index in lesson.proofs[0].indices[1:].tolist():
        low, high = sorted(x / GRAM_PER_YEAR for x in lesson.loss(index))
        loss = f"{amounts.number(low, 2)} to {amounts.number(high, 2)}"
        rows.append([_leak(lesson, index), loss, half_in_words(*lesson.half(index))])
    return rows


def _lengths(lesson: Lesson) -> Iterable[Entry]:
    proofs = {proof.hold: proof for proof in lesson.proofs}
    for curve in lesson.rules:
        text = _reach(lesson, curve)
        if curve.hold in proofs:
            text += f"; {_named_from(lesson, proofs[curve.hold])}"
        yield Entry(amounts.duration(curve.hold), text)


def _named_from(lesson: Lesson, proof: Proof) -> str:
    found = [int(i) for i, n in zip(proof.indices, proof.named, strict=True) if i and n >= HALF * proof.runs]
    if not found:
        return "at no size tried does the analysis name half of the leaks"
    return f"the analysis names at least half of the leaks from {amounts.rate(float(lesson.terms.leaks[found[0]]))} on"


def _reach(lesson: Lesson, curve: RuleCurve) -> str:
    index = curve.up_to(HALF)
    tight = f"{percent(curve.interval(0))} of tight systems pass"
    if index < 1:
        return f"{tight}; no leak tried passes in half of the holds"
    leak = amounts.rate(float(lesson.terms.leaks[index]) * lesson.terms.volume.value / curve.volume)
    most = "at least " if index == len(lesson.terms.leaks) - 1 else ""
    return f"{tight}; half pass with a leak of up to {most}{leak} here, {amounts.between(*lesson.loss(index))}"


def rests_on(lesson: Lesson) -> tuple[str, ...]:
    """Return what the numbers rest on and what they leave out, one sentence or two each."""
    t = lesson.terms
    step = 100 * (float(t.leaks[2] / t.leaks[1]) - 1)
    shortest, longest = (amounts.duration(x) for x in season.DAMP_TIME)
    driest = amounts.number(season.DRIEST * t.damp / MICRON)
    return (
        f"Every share was counted in {t.runs} invented jobs of a physical model, in {t.proof_runs} of them for what "
        "the logs prove. Brackets are the 95 % error of that counting and of nothing else. The same jobs serve at all "
        "leak sizes, so neighbouring shares err together.",
        "The shares are shares of this invented season, not of real work. In it moisture levels off at "
        f"{driest} to {amounts.pressure(t.damp)} with time constants of {shortest} to {longest}; walls give off less "
        f"and less; the gauge is off by up to {amounts.number(100 * t.gauge_accuracy)} % and reads water vapour up to "
        f"{amounts.number(100 * (season.WATER_RESPONSE[1] - 1))} % high; the temperature drifts by up to "
        f"{amounts.number(season.DRIFT * amounts.HOUR)} K an hour. In another volume moisture and walls grow with it.",
        "The model of this lesson has no free water, no refrigerant in oil, no leak in the rig and no valve that "
        "passes.",
        "The loss takes the same path under the standing pressure of the charge, as molecular and as laminar flow. "
        "Seals that leak one way only, oil in the path and vibration are left out. Half the charge is reckoned at the "
        "first rate, which holds while liquid is left.",
        *lesson.remarks,
        f"Leaks were tried in steps of {step:.0f} %.",
        "A pressure-rise test never says where it leaks, and never tests the system under its working pressure.",
        f"Seed {t.seed}: the same command gives the same page.",
    )
