"""A lesson in words: two holds that a rule misjudges, then how often it is wrong, with the error of the counting."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from decay import wording
from decay.analysis import Analysis
from decay.arrays import FloatArray
from decay.constants import HOUR
from decay.interval import Interval
from decay.judge.rules.several_holds import ALIKE, NOT_MET, OUTGASSING_ENERGY
from decay.lesson import terms as season
from decay.lesson.holds import SECOND, Pair, SecondHold, Shown
from decay.lesson.passing import Proof, RuleCurve, share
from decay.lesson.teaching import Lesson, meaning_of
from decay.lesson.terms import Terms
from decay.quantities import MICRON
from decay.report.document_numbers import Json, json_interval, json_number
from decay.several.next_test import MORE_PULL
from decay.several.next_test_words import WARMING
from decay.wording import GRAM_PER_YEAR
from decay.wording.lines import Block, Entry, columns, finished, set_blocks, wrapped

WHERE_TO_LOOK = (
    "The rule looks at how high the pressure stands at one moment. Look at how it got there. A rise that levels off is "
    "gas from inside. One that goes on as steadily as it began is a leak, or outgassing so slow that only a longer or "
    "a second hold tells the two apart."
)
"""What to look at instead of the line."""
ONCE_MORE = (
    "Held once more, 15 min after 15 min of pull, the same system shows what is left of its moisture and all of its "
    "leak. Warmed between the two, gas from inside comes two to five times as fast, and a leak as fast as before. "
    + WARMING
)
"""What the second hold and the warm one are for."""
NEVER_SHOWN = "A hold never says where a system leaks, and never tests it under its working pressure."


@dataclass(frozen=True, slots=True)
class HoldTold:
    """One of the two holds in words."""

    letter: str  # by which the class calls it
    title: str  # what the rule says, and what it should have said
    readings: str  # what the gauge showed
    truth: str  # what the job was made with
    proof: str  # what the log proves
    # What a second hold would have told, and a warm one
    again: str
    warm: str


def first_page(terms: Terms, pair: Pair, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return the first page of text; the same terms give the same text."""
    width = max(width, 40)
    lines = ["LESSON: one rule, two holds, both judged wrongly",
             *wrapped(f"The rule: {rule_in_words(terms)}. {pair_conditions(terms)}", width), ""]
    for told in told_pair(terms, pair):
        if isinstance(told, str):
            lines += [*wrapped(told, width), ""]
            continue
        entries = [Entry("Gauge", told.readings), Entry("Truth", told.truth), Entry("Proved", told.proof),
                   Entry("Held again", told.again), Entry("Held warm", told.warm)]
        lines += [*Block(f"{told.letter}. {told.title}", entries).lines(width), ""]
    for words in (WHERE_TO_LOOK, ONCE_MORE, NEVER_SHOWN):
        lines += [*wrapped(words, width), ""]
    return finished(lines[:-1], ascii_only=ascii_only)


def pair_conditions(terms: Terms) -> str:
    """Return of what system both holds are, and that nothing was measured."""
    return (f"Both systems hold {litres(terms.volume.value)}. Synthetic: two invented jobs of known truth, picked to "
            "show it; nothing was measured.")


def told_pair(terms: Terms, pair: Pair) -> Iterable[HoldTold | str]:
    """Yield each hold in words; where no job showed it, that in one sentence."""
    if pair.damp is None:
        yield "A. No damp, tight system was found that this rule fails and the analysis judges better."
    else:
        yield HoldTold("A", "Rule: FAIL. Truth: tight.", _readings(terms, pair.damp),
                   "no leak; moisture comes out, and levels off", _proof(pair.damp), *second_hold(pair.damp.second))
    if pair.leaking is None:
        yield "B. No leaking system was found that this rule passes and the analysis judges better."
    else:
        rate = pair.leaking.made.leak_rate
        yield HoldTold("B", "Rule: PASS. Truth: it leaks.", _readings(terms, pair.leaking),
                   f"a leak of {wording.rate(rate)}{_loss(terms, rate)}", _proof(pair.leaking),
                   *second_hold(pair.leaking.second))


def _readings(terms: Terms, shown: Shown) -> str:
    _, pressure = looked_at(shown, terms.hold)
    limit = shown.analysis.verdict.criterion.limit
    line = "" if limit is None else f"; the rule's line is {wording.pressure(limit)}"
    return (f"{wording.pressure(float(pressure[0]))} when the valve closed, {wording.pressure(float(pressure[-1]))} "
            f"after {wording.duration(terms.hold)}{line}")


def looked_at(shown: Shown, hold: float) -> tuple[FloatArray, FloatArray]:
    """Return times since the valve closed [s] and readings [Pa] up to when the rule looks, so long after it. [s]"""
    start = shown.made.holds[-1].start
    return shown.analysis.log.readings(start, start + hold)


def _loss(terms: Terms, rate: float) -> str:
    times = meaning_of(terms, rate).until_empty
    if times is None or times.laminar.value == float("inf"):
        return ""
    half = wording.durations(0.5 * times.laminar.value, 0.5 * times.molecular.value)
    return f": half of {wording.number(terms.charge * 1e3)} g of {terms.system.refrigerant} is gone in {half}"


def _proof(shown: Shown) -> str:
    fit = shown.analysis.holds[shown.analysis.decisive or 0].fit
    odds = shown.analysis.basis.odds_of_leak
    if odds is not None:
        return (f"a leak of up to {wording.rate_high(fit.leak)}, or slow outgassing; odds of a leak "
                f"{wording.chance(odds)}")
    if fit.is_leak_seen:
        return f"a leak of {wording.rate_interval(fit.leak)}"
    return f"no leak seen; one above {wording.rate_high(fit.leak)} is ruled out"


def litres(volume: float) -> str:
    """Return a volume [m³] in litres."""
    return f"{wording.number(volume * 1e3)} L"


def rule_in_words(terms: Terms) -> str:
    """Return what the rule of a lesson asks for."""
    rule = terms.criterion
    parts = []
    if rule.target is not None:
        parts.append(f"pulled to {wording.pressure(rule.target)}")
    if rule.passes is not None:
        under = "at or below" if rule.passes_on_line else "below"
        when = "throughout" if rule.is_watched_throughout else f"after {wording.duration(terms.hold)}"
        parts.append(f"{under} {wording.pressure(rule.passes)} {when}")
    if rule.rise is not None:
        parts.append(f"a rise of up to {wording.pressure(rule.rise)}")
    if rule.no_change:
        parts.append("no change to the gauge's step")
    return f"{', '.join(parts)} ({rule.standing})"


def second_hold(second: SecondHold) -> tuple[str, str]:
    """Return what a second hold at the same temperature would have told, and a warm one, in a clause each."""
    pull, held = wording.duration(MORE_PULL), wording.duration(SECOND)
    again = f"{pull} more pull and {held} hold, both holds together: {_proved(second.again)}"
    found, warmer = second.warm.warm, f"{second.warmer:.0f} K warmer"
    if found is None:
        return again, f"{warmer} the log shows no second hold: there is nothing to compare"
    if found.failed:
        return again, f"{warmer} both holds together cannot answer: {NOT_MET[found.failed[0]]}"
    if found.growth is None or found.energy is None:
        return again, f"{warmer} one hold hardly rises, so the pace cannot be compared: {_proved(second.warm)}"
    like = "gas from inside" if found.energy >= OUTGASSING_ENERGY else "a leak"
    return again, f"{warmer} it rises {pace(second)}, as {like} does: {_proved(second.warm)}"


def pace(second: SecondHold) -> str:
    """Return how fast the warm hold rises beside the cold one."""
    found = second.warm.warm
    if found is None or found.growth is None:
        return "nothing to compare"
    if abs(found.growth - 1.0) < ALIKE:
        return "as fast as before"
    return f"{wording.number(found.growth, 2)} times as fast"


def _proved(analysis: Analysis) -> str:
    leak = analysis.basis.leak
    if leak is None:
        return "nothing to compare"
    if leak.low > 0.0:
        return f"a leak of {wording.rate_interval(leak)}"
    if math.isinf(leak.high):
        return "they prove nothing of a leak"
    return f"no leak above {wording.rate_high(leak)}"


def second_document(second: SecondHold) -> Json:
    """Return what a second and a warm hold would have told, as a document."""
    found = second.warm.warm
    return {
        "minutes": json_number(second.minutes),
        "again": {"leak_micron_per_min": json_interval(second.again.basis.leak, MICRON / 60.0)},
        "warm": {
            "warmer_k": json_number(second.warmer),
            "leak_micron_per_min": json_interval(second.warm.basis.leak, MICRON / 60.0),
            "growth": None if found is None else json_number(found.growth),
            "apparent_activation_energy_kj_per_mol": None if found is None or found.energy is None else json_number(
                found.energy / 1e3),
            "conditions_failed": [] if found is None else [str(condition) for condition in found.failed],
        },
    }


HALF = 0.5
NOTICE = "Synthetic: {} invented jobs, nothing was measured."


def second_page(lesson: Lesson, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return the page of shares; the same lesson gives the same text."""
    width = max(width, 40)
    t = lesson.terms
    lines = [f"HOW OFTEN: {t.criterion.title}", *wrapped(shares_conditions(lesson), width), ""]
    lines += [*Block("In short", [Entry("-", text) for text in in_sentences(lesson)]).lines(width), ""]
    lines += [f"Which leaks pass, and what the same {wording.duration(t.hold)} holds prove [% of holds]",
              *columns(_passing_rows(lesson), indent="  "), ""]
    lines += [f"What such leaks lose ({t.system.refrigerant}, {wording.number(t.charge * 1e3)} g)",
              *columns(_loss_rows(lesson), indent="  "), ""]
    lines += set_blocks((
        Block("Other lengths of hold, same line", list(_lengths(lesson))),
        Block("In another volume", [Entry(litres(curve.volume), _reach(lesson, curve)) for curve in lesson.volumes]),
        Block("What this rests on", [Entry("-", text) for text in lesson_rests_on(lesson)]),
    ), width)
    return finished(lines[:-1], ascii_only=ascii_only)


def shares_conditions(lesson: Lesson) -> str:
    """Return for what the lesson was made."""
    t = lesson.terms
    return (
        f"{litres(t.volume.value)}, {t.system.refrigerant} {wording.number(t.charge * 1e3)} g, hold "
        f"{wording.duration(t.hold)}; the rule: {rule_in_words(t)}. "
        + NOTICE.format(t.runs)
    )


def percent(part: Interval) -> str:
    """Return a share with its Monte Carlo interval."""
    return f"{100 * part.value:.0f} % ({100 * part.low:.0f} to {100 * part.high:.0f} %)"


def in_sentences(lesson: Lesson) -> tuple[str, ...]:
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
            f"A leak of {wording.rate(float(lesson.terms.leaks[index]))} passes this rule in "
            f"{percent(rule.interval(index))} of holds; at rest {lesson.terms.system.refrigerant} stands below "
            "atmosphere, and air leaks in."
        )
    return (
        f"A leak that empties half the charge in {wording.durations(*lesson.half(index))} passes this rule in "
        f"{percent(rule.interval(index))} of holds."
    )


def _proof_in_words(lesson: Lesson) -> Iterable[str]:
    rule, proof = lesson.rules[0], lesson.proofs[0]
    failing = share(rule.runs - int(rule.passes[0]), rule.runs)
    why = ": moisture and the gauge do that" if failing.value > 0 else ""
    yield f"Without any leak, {percent(failing)} of holds fail it{why}."
    best = int(proof.named_and_met.argmax())
    if proof.named_and_met[best] > 0:
        leak = wording.rate(float(lesson.terms.leaks[proof.indices[best]]))
        found = percent(share(int(proof.named_and_met[best]), proof.runs))
        yield f"With a leak of {leak}, {found} of holds pass the rule although their own log proves the leak."
    unresolved = share(int(proof.unresolved[0]), proof.runs)
    yield (
        f"Without a leak, {percent(unresolved)} of such logs cannot rule one out. The smallest leak that half of these "
        f"holds could show is {wording.rate(float(proof.smallest_shown[0]))}."
    )


def _bare(part: Interval) -> str:
    return f"{100 * part.value:.0f} ({100 * part.low:.0f} to {100 * part.high:.0f})"


def _leak(lesson: Lesson, index: int) -> str:
    return "none" if index == 0 else wording.rate_number(float(lesson.terms.leaks[index]))


def _passing_rows(lesson: Lesson) -> list[list[str]]:
    rule, proof = lesson.rules[0], lesson.proofs[0]
    names = ["rule passes", "leak named", "unresolved", "no leak seen"]
    counted = [proof.named, proof.unresolved, proof.unseen]
    if proof.without.any():
        names.append("no usable hold")
        counted.append(proof.without)
    rows = [[wording.rate_unit(), *names]]
    for column, index in enumerate(proof.indices.tolist()):
        shares = [rule.interval(index), *(share(int(counts[column]), proof.runs) for counts in counted)]
        rows.append([_leak(lesson, index), *(_bare(part) for part in shares)])
    return rows


def _loss_rows(lesson: Lesson) -> list[list[str]]:
    rows = [[wording.rate_unit(), "g/year, molecular to laminar flow", "half the charge gone in"]]
    for index in lesson.proofs[0].indices[1:].tolist():
        low, high = sorted(x / GRAM_PER_YEAR for x in lesson.loss(index))
        loss = f"{wording.number(low, 2)} to {wording.number(high, 2)}"
        rows.append([_leak(lesson, index), loss, wording.durations(*lesson.half(index))])
    return rows


def _lengths(lesson: Lesson) -> Iterable[Entry]:
    proofs = {proof.hold: proof for proof in lesson.proofs}
    for curve in lesson.rules:
        text = _reach(lesson, curve)
        if curve.hold in proofs:
            text += f"; {_named_from(lesson, proofs[curve.hold])}"
        yield Entry(wording.duration(curve.hold), text)


def _named_from(lesson: Lesson, proof: Proof) -> str:
    found = [int(i) for i, n in zip(proof.indices, proof.named, strict=True) if i and n >= HALF * proof.runs]
    if not found:
        return "at no size tried does the analysis name half of the leaks"
    return f"the analysis names at least half of the leaks from {wording.rate(float(lesson.terms.leaks[found[0]]))} on"


def _reach(lesson: Lesson, curve: RuleCurve) -> str:
    index = curve.up_to(HALF)
    tight = f"{percent(curve.interval(0))} of tight systems pass"
    if index < 1:
        return f"{tight}; no leak tried passes in half of the holds"
    leak = wording.rate(float(lesson.terms.leaks[index]) * lesson.terms.volume.value / curve.volume)
    most = "at least " if index == len(lesson.terms.leaks) - 1 else ""
    return f"{tight}; half pass with a leak of up to {most}{leak} here, {wording.between(*lesson.loss(index))}"


def lesson_rests_on(lesson: Lesson) -> tuple[str, ...]:
    """Return what the numbers rest on and what they leave out, one sentence or two each."""
    t = lesson.terms
    step = 100 * (float(t.leaks[2] / t.leaks[1]) - 1)
    shortest, longest = (wording.duration(x) for x in season.DAMP_TIME)
    driest = wording.pressure_number(season.DRIEST * t.damp)
    return (
        f"Every share was counted in {t.runs} invented jobs of a physical model, in {t.proof_runs} of them for what "
        "the logs prove. Brackets are the 95 % error of that counting and of nothing else. The same jobs serve at all "
        "leak sizes, so neighbouring shares err together.",
        "The shares are shares of this invented season, not of real work. In it moisture levels off at "
        f"{driest} to {wording.pressure(t.damp)} with time constants of {shortest} to {longest}; walls give off less "
        f"and less; the gauge is off by up to {wording.number(100 * t.gauge_accuracy)} % and reads water vapour up to "
        f"{wording.number(100 * (season.WATER_RESPONSE[1] - 1))} % high; the temperature drifts by up to "
        f"{wording.number(season.DRIFT * HOUR)} K an hour. In another volume moisture and walls grow with it.",
        "The model of this lesson has no free water, no refrigerant in oil, no leak in the rig and no valve that "
        "passes.",
        "The loss takes the same path under the standing pressure of the charge, as molecular and as laminar flow. "
        "Seals that leak one way only, oil in the path and vibration are left out. Half the charge assumes the "
        "first rate, which holds while liquid is left.",
        *lesson.remarks,
        f"Leaks were tried in steps of {step:.0f} %.",
        "A pressure-rise test never says where it leaks, and never tests the system under its working pressure.",
        f"Seed {t.seed}: the same command gives the same page.",
    )
