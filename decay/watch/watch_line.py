"""What a watch says at one moment, in one line: phase, pressure, leak so far, what is excluded, and when it decides."""

from __future__ import annotations

import math

from decay import wording
from decay.judge.answer import IfClosed
from decay.judge.finding import Cause
from decay.phases.phase import Kind
from decay.several.next_test import AIM, NextTest, TestKind
from decay.several.next_test_words import deciding, in_short, name_of
from decay.system import Allowance
from decay.watch.look import Decision, Look, Status
from decay.wording.lines import clean, to_ascii

KINDS = {
    Kind.ATMOSPHERE: "atmosphere",
    Kind.PUMPDOWN: "pumping",
    Kind.HOLD: "hold",
    Kind.SWEEP: "sweep",
    Kind.VENT: "vented",
    Kind.UNCLEAR: "not clear yet",
}


def watch_line(status: Status, allow: Allowance | None, *, ascii_only: bool = False) -> str:
    """Return what is known at one moment, in one line."""
    parts = [_now(status)]
    if status.phase.kind is Kind.HOLD:
        parts += _of_hold(status, allow)
    elif status.if_closed is not None:
        parts.append(_if_closed(status.if_closed))
    line = clean("; ".join(parts))
    return to_ascii(line) if ascii_only else line


def _now(status: Status) -> str:
    """Return time, phase and pressure."""
    phase = status.phase
    lasts = f" {wording.duration(phase.duration)}" if phase.kind is Kind.HOLD else ""
    return f"{wording.clock(status.time)} {KINDS[phase.kind]}{lasts}, {wording.pressure(status.pressure)}"


def _first_look(status: Status) -> str:
    left = 0.0 if status.next_look is None else status.next_look - status.phase.duration
    return f"first look in {wording.duration(max(left, 0.0))}"


def _of_hold(status: Status, allow: Allowance | None) -> list[str]:
    look = status.look
    if look is None:
        return [*([status.remark] if status.remark else []), _first_look(status), *_practice(status)]
    low, high = wording.rate_ends(look.leak)
    told = f"leak {low} to {high} {wording.rate_unit()} (look {look.number}"
    told += ")" if look.length >= status.phase.duration else f" at {wording.duration(look.length)})"
    parts = [told]
    if look.cause is Cause.FREE_WATER:
        parts.append("looks like free water: dry it first, no leak is ruled out")
    elif look.reads_zero:
        parts.append("the gauge reads zero: check it first, no leak is ruled out")
    elif look.is_flat:
        parts.append(f"no clear rise: if the valve is closed (add --hold-from), it {_excludes(look)}")
    elif look.impact.loss is not None:  # the interval says the rest
        parts.append(f"at most {wording.loss_high(*look.impact.loss.laws)}")
    if look.is_withdrawn:
        parts.append("an earlier look had decided otherwise: something changed in this hold")
    if not look.is_adequate:
        parts.append("the model does not fit, the interval is widened")
    if status.remark:
        parts.append(status.remark)
    is_silent = look.reads_zero or look.cause is Cause.FREE_WATER or (look.is_flat and allow is not None)
    if is_silent and status.decision is Decision.OPEN:  # no result comes before what was said is done
        return [*parts, *_practice(status)]
    return [*parts, _decision(status, look, allow), *_sooner_in_words(status, look), *_practice(status)]


def _if_closed(told: IfClosed) -> str:
    limit = wording.bound(told.ruled_out_above)
    met = {True: " met", False: " NOT met", None: " not answered"}[told.outcome.met]
    by = f"by {wording.clock(told.closed_by)} of the log ({_confirm(told)})"
    return f'if the valve was closed {by}: no leak above {limit}, {told.outcome.short or told.outcome.title}{met}'


def _confirm(told: IfClosed) -> str:
    return f"then add --hold-from {told.closed_by:.0f}"


def _if_closed_in_short(told: IfClosed) -> list[str]:
    limit = wording.bound(told.ruled_out_above)
    name = told.outcome.short or told.outcome.title
    met = {True: [f"{name} met"], False: [f"{name} NOT met"], None: []}[told.outcome.met]
    return [f"if closed by {wording.clock(told.closed_by)}: no leak above {limit}", *met, _confirm(told)]


def _excludes(look: Look) -> str:
    text = f"rules out more than {wording.rate_high(look.leak)}"
    loss = look.impact.loss
    if loss is not None and math.isfinite(look.leak.high):
        text += f" ({wording.loss_highs(*loss.laws)})"
    return text


def _decision(status: Status, look: Look, allow: Allowance | None) -> str:
    limit = "" if allow is None else f" above {allow.text}"
    if status.decision is not Decision.OPEN:
        at = wording.duration(status.decided_at or look.length)
        word = "shown" if status.decision is Decision.SHOWN else "ruled out"
        return f"DECIDED at {at}: a leak{limit} is {word}"
    if look.is_withdrawn or not look.is_adequate:
        return "no forecast: hold anew"
    left = look.decisive_length - status.phase.duration
    if math.isinf(look.decisive_length):
        if look.next_tests:
            return "left open: slow outgassing would look the same, and holding on is not likely to tell them apart"
        if allow is None:
            return "no leak shown, and none expected to show within a day; with --allow it says when one is ruled out"
        return "no result expected within a day: dry further, or log the temperature"
    if left <= 0:
        return "result expected at the next look"
    return f"result expected in about {wording.duration(left)} (at {wording.duration(look.decisive_length)})"


def sooner(status: Status, look: Look) -> NextTest | None:
    """Return a test that settles an open hold sooner than holding on is expected to; ``None`` where none does."""
    left = look.decisive_length - status.phase.duration
    others = [test for test in deciding(look.next_tests)
              if test.kind is not TestKind.LONGER and (test.chance or 0.0) >= AIM and 60.0 * test.minutes < left]
    return others[0] if others and status.decision is Decision.OPEN and not look.is_withdrawn else None


def _sooner_in_words(status: Status, look: Look) -> list[str]:
    test = sooner(status, look)
    if test is None:
        return []
    caution = "" if test.kind is not TestKind.WARM else ", no flame, below the makers' limits"
    return [f"sooner: {in_short(test)}{caution}"]


def _practice(status: Status) -> list[str]:
    if status.is_practice_met is False:
        return ["practice NOT met"]
    if status.practice_left is None:
        return []
    if status.practice_left > 0:
        return [f"practice needs {wording.duration(status.practice_left)} more"]
    return ["practice met"] if status.is_practice_met else ["practice: its time is over"]


def short_line(status: Status, width: int, *, ascii_only: bool = False) -> str:
    """Return the same in one row of a terminal: what matters first, what does not fit left out."""
    look, parts = status.look, [_now(status)]
    if status.phase.kind is Kind.HOLD:
        if look is None:
            parts.append(_first_look(status))
        else:
            low, high = wording.rate_ends(look.leak)
            room = width - len(clean(parts[0])) - len("; ")
            parts += [_decision_in_short(status, look, room), f"leak {low} to {high} {wording.rate_unit()}"]
        parts += _practice(status)
    elif status.if_closed is not None:
        parts += _if_closed_in_short(status.if_closed)
    line = ""
    for part in (clean(part) for part in parts):
        longer = f"{line}; {part}" if line else part
        if line and len(longer) > width:
            break
        line = longer
    return (to_ascii(line) if ascii_only else line)[:width]


def _decision_in_short(status: Status, look: Look, room: int) -> str:
    if status.decision is not Decision.OPEN:
        word = "LEAK SHOWN" if status.decision is Decision.SHOWN else "more than allowed RULED OUT"
        return f"{word} at {wording.duration(status.decided_at or look.length)}"
    if look.is_withdrawn:
        return "something changed in this hold"
    if look.cause is Cause.FREE_WATER:
        return "free water: dry it first"
    if look.reads_zero:
        return "the gauge reads zero: check it"
    if look.is_flat:
        return "no clear rise: is the valve closed?"
    test = sooner(status, look)
    if test is not None:
        return _fitting(test, room)
    if math.isinf(look.decisive_length):
        return "left open" if look.next_tests else "no result within a day"
    left = look.decisive_length - status.phase.duration
    return f"result in about {wording.duration(left)}" if left > 0 else "result soon"


def _fitting(test: NextTest, room: int) -> str:
    """Return a test that settles an open hold in the words for which there is room."""
    what, chance = f"{name_of(test)} {wording.duration(60.0 * test.minutes)}", wording.chance(test.chance or 0.0)
    full = f"left open; {what} names a leak in {chance}"
    return full if len(full) <= room else f"{what}: {chance.removeprefix('about ')}"


def how_it_is_made(alpha: float, growth: float) -> str:
    """Return how the intervals of a watch are made, from its chance of error and its growth from look to look. [-]"""
    share = f"{wording.number(100 * alpha)} %"
    return (
        f"A look comes when the hold has grown by a factor of {wording.number(growth)}. Its interval holds whenever "
        f"you stop: all looks at one hold together decide wrongly in at most {share} of holds (Lan and DeMets 1983, by "
        "Student's quantile). The report's interval is for a length fixed beforehand; if you stopped because of what "
        "you saw, use the last look's."
    )
