"""What each column of a table is: time, pressure, unit, temperature, state of the valve, or none of these."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from decay.arrays import FloatArray, IntArray
from decay.errors import LogError
from decay.log.pressure_log import Mark, Valve
from decay.table import stamps
from decay.table.dialect import thinned
from decay.table.digits import alike, number_in, plain
from decay.table.headings import PRESSURE_WORDS, SCALE_WORDS, Heading, heading, unit_in
from decay.table.read_options import Note
from decay.table.table import Table

_TIME = re.compile(r"time|date|elapsed|stamp|clock|zeit|datum|uhr|fecha|heure|tiempo|tijd"
                   r"|remain|count\W?down|^\W*(t|s|sec|min|ms|h|hours?)\W*$"
                   r"|^\W*t[\W_]+(in\W+)?(s|secs?|min|ms|h|hrs?)\W*$|seconds?|\bsec\b|minutes|\bepoch", re.IGNORECASE)
# Time in French and Italian, where its unit says that it is no temperature.
_TEMPS = re.compile(r"\btemp[so][\W_]+(s|secs?|min|ms|h)\b", re.IGNORECASE)
_SETTING = re.compile(r"set[\s_-]?p|setpoint|(^|[_\W])sp([_\W]|$)|target|limit|alarm|status|state|batt|volt|"
                      r"signal|phase|step|cycle|valve|ventil|"
                      r"error|uncertain|sigma|σ|±|\+/?-|deviation|(^|[_\W])(err|unc|std|stdev|sd|dp|delta)([_\W]|$)",
                      re.IGNORECASE)
_TEMPERATURE = re.compile(r"temp|ambient|°|deg[\s_]?[cfk]\b|celsius|fahrenheit|kelvin|(^|[_\W])t[a-z]?\d{1,2}([_\W]|$)|"
                          r"^\W*tp\d|[\[(]\s*[cfk]\s*[\])]", re.IGNORECASE)
_OTHER = re.compile(r"humid|(^|[_\W])rh([_\W]|$)|%|flow|weight|mass|power|current|amp|speed|rpm|level|torque|dew",
                    re.IGNORECASE)
_INDEX = re.compile(r"^\W*(no|nr|num|number|index|id|row|rec(ord)?|sample|count|entry|#|n)\W*$", re.IGNORECASE)
_FEW = 30  # cells that show whether a column holds times
_HEADING = re.compile(r"valve|ventil|vanne|valvula|isolat|state|status|mark|event|phase|mode|stage|action|comment|note"
                      r"|hold", re.IGNORECASE)
_CLOSED = re.compile(r"clos|shut|isolat|\bhold|valved? off|blank(ed)? off|rise test|geschlossen|\bzu\b|ferm|cerrad",
                     re.IGNORECASE)
_OPENED = re.compile(r"open|offen", re.IGNORECASE)
_VALVE = re.compile(r"valve|ventil|vanne", re.IGNORECASE)
_OPEN = re.compile(r"open|pump|pull|evacuat|offen|\bauf\b|ouvert|abiert", re.IGNORECASE)
_PLAIN = re.compile(r"\W*(valve\W*)?(open(ed)?|closed?|shut|isolated)\W*", re.IGNORECASE)
_MOST_WORDS = 12  # different ones in a column of states; a column of sentences is no such column
_LONGEST_WORD = 40


@dataclass(frozen=True, slots=True)
class Column:
    """One column as its name and its sample cells show it."""

    index: int  # place in the table, counted from 0 [-]
    name: str  # its name
    kind: str  # ``date``, ``clock``, ``stamp``, ``number``, ``unit``, ``words`` or ``empty``
    unit: str | None  # pressure unit in its name, unit line or beside its values
    values: np.ndarray  # numbers of the sample; ``nan`` where a row has none, shape (m,) [-]
    # ``time``, ``pressure``, ``temperature``, ``index``, ``setting``, ``other`` (a quantity that is no pressure) or
    # ``""``
    role: str
    # What in its name or unit line may change the unit's size and was not understood; empty where nothing is
    unclear: str = ""


def columns_of(table: Table) -> tuple[Column, ...]:
    """Return what each column holds."""
    return tuple(_describe(table, index) for index in range(len(table.names)))


def _describe(table: Table, index: int) -> Column:
    name = f"{table.names[index]} {table.units[index]}".strip()
    cells = [row[index] for row in table.sample]
    filled = [cell for cell in cells if cell]
    decimal = table.dialect.decimal
    few = thinned(filled, _FEW)
    order = stamps.clock_order(filled, table.name, name)
    orders = (order,) if order else ("dmy", "mdy")
    read = (next(filter(None, (stamps.read_stamp(cell, order) for order in orders)), None) for cell in few)
    marks = [mark for mark in read if mark is not None]
    is_time = len(marks) > 0.5 * len(few)
    bare = np.full(len(cells), np.nan) if is_time else plain(cells)
    if bare is None and (together := alike(cells, decimal)) is not None:
        bare = together[0]
    found = [number_in(cell, decimal) for cell in (cells if bare is None else filled[:3])]
    values = np.array([np.nan if cell is None else cell.value for cell in found]) if bare is None else bare
    told = _told(table.names[index], table.units[index])
    unit = told.unit
    is_pressure = name.startswith("column ") or PRESSURE_WORDS.search(name) is not None
    beside = [unit_in(cell.unit, is_pressure) or unit_in(cell.label) for cell in found if cell is not None]
    if unit is None and not told.unclear and beside:
        named = [u for u in beside if u]
        unit = named[0] if len(named) > 0.5 * len(beside) else None
    kind = "empty"
    if not filled:
        pass
    elif is_time:
        dated = sum(m.has_date for m in marks) > 0.5 * len(marks)
        timed = sum(m.has_clock for m in marks) > 0.5 * len(marks)
        kind = "stamp" if dated and timed else "date" if dated else "clock"
    elif bare is not None or sum(cell is not None for cell in found) >= max(1, 0.02 * len(filled)):
        kind = "number"
    elif sum(unit_in(cell) is not None for cell in filled) > 0.8 * len(filled):
        kind = "unit"
    else:
        kind = "words"
    role = _role(name, kind, unit or told.unclear or None, values, found)
    return Column(index, table.names[index], kind, unit, values, role, told.unclear)


def _told(name: str, below: str) -> Heading:
    """Return what a name and the unit line below it tell of the unit; a factor in the name must not be lost."""
    if name.startswith("column "):
        name = ""
    above = heading(name)
    if below and SCALE_WORDS.search(name):  # a logarithm above its unit
        return heading(f"{name} {below}", True)
    told = heading(below, PRESSURE_WORDS.search(name) is not None) if below else above
    if told.unit is None and not told.unclear:
        return above
    if below and above.unit is None and above.unclear:
        return heading(f"{name} {below}", True)
    return told


def _role(name: str, kind: str, unit: str | None, values: np.ndarray, found: Sequence[object]) -> str:
    if kind in {"stamp", "date", "clock"}:
        return "time"
    if kind != "number":
        return ""
    texts = " ".join(str(getattr(cell, "unit", "")) + " " + str(getattr(cell, "label", "")) for cell in found[:3])
    finite = values[np.isfinite(values)]
    if _SETTING.search(name):
        return "setting"
    if _TEMPS.search(name):
        return "time"
    if unit is None and (_TEMPERATURE.search(name) or re.search(r"°|\bdeg", texts)):
        return "temperature"
    if _INDEX.match(name) and _counts(finite):
        return "index"
    if unit is not None or PRESSURE_WORDS.search(name) or PRESSURE_WORDS.search(texts):
        return "pressure"
    if _TIME.search(name) and not name.startswith("column "):
        return "time"
    if _OTHER.search(name):
        return "other"
    if len(finite) > 2 and bool(np.all(np.diff(finite) > 0)):
        # Rows are counted one by one; what grows by two at a time tells seconds.
        if _counts(finite) and finite[0] in (0, 1) and float(np.min(np.diff(finite))) == 1:
            return "index"
        if np.median(finite) > 1e9:
            return "time"
    return ""


def _counts(values: np.ndarray) -> bool:
    return len(values) > 1 and bool(np.all(values == np.round(values))) and bool(np.all(np.diff(values) >= 1))


def by_name(table: Table, wanted: str, option: str) -> int:
    """Return the index of the column that an option names, by name or by number counted from 1.

    Raises
    ------
    LogError
        If no column, or more than one, is meant.
    """
    names = list(table.names)
    for same in (lambda n: n == wanted, lambda n: n.casefold() == wanted.strip().casefold(),
                 lambda n: re.sub(r"[\[(].*", "", n).strip().casefold() == wanted.strip().casefold(),
                 lambda n: wanted.strip().casefold() in n.casefold()):
        hits = [i for i, name in enumerate(names) if same(name)]
        if len(hits) == 1:
            return hits[0]
        if hits:
            break
    else:
        if wanted.strip().isdigit() and 1 <= int(wanted) <= len(names):
            return int(wanted) - 1
        hits = []
    what = f'"{wanted}" means several columns' if hits else f'there is no column "{wanted}"'
    raise LogError(table.name, what, f"The columns are: {listed(names)}.", f"Change {option}.")


def listed(names: list[str]) -> str:
    """Return names for a message, each with its number, cut when there are many or long ones."""
    shown = [f'{i + 1} "{name if len(name) <= 60 else name[:57] + "..."}"' for i, name in enumerate(names[:40])]
    return ", ".join(shown) + (", ..." if len(names) > 40 else "")


@dataclass(frozen=True, slots=True)
class States:
    """A column that tells the state of the valve."""

    column: Column  # the column
    means: dict[str, Valve]  # what each of its words, in lower case, says
    is_guess: bool = False  # whether noughts and ones were taken by custom: 1 is open


def find_states(table: Table, columns: tuple[Column, ...], taken: set[int]) -> States | None:
    """Return the column that tells the state of the valve, by an ordinary word in its heading and by its content."""
    for column in columns:
        if column.index in taken or column.kind not in {"words", "number"}:
            continue
        if column.kind == "number" and bool(np.any((column.values < 0.0) | (column.values > 1.0))):
            continue  # more than noughts and ones
        words = {row[column.index].strip().lower() for row in table.sample if row[column.index].strip()}
        if not 1 <= len(words) <= _MOST_WORDS or any(len(word) > _LONGEST_WORD for word in words):
            continue
        found = _numbers(column, words) if column.kind == "number" else _words(column, words)
        if found is not None:
            return found
    return None


def _words(column: Column, words: set[str]) -> States | None:
    means = {word: Valve.CLOSED if _CLOSED.search(word) else Valve.OPEN for word in words
             if _CLOSED.search(word) or _OPEN.search(word)}
    is_told = Valve.CLOSED in means.values()
    if is_told and (_HEADING.search(column.name) or all(_PLAIN.fullmatch(word) for word in words)):
        return States(column, means)
    return None


def _numbers(column: Column, words: set[str]) -> States | None:
    bits = {word: float(word) for word in words if re.fullmatch(r"[01](\.0*)?", word)}
    if len(bits) != len(words) or set(bits.values()) != {0.0, 1.0}:
        return None
    says_closed, says_open = bool(_CLOSED.search(column.name)), bool(_OPENED.search(column.name))
    if not (says_closed or says_open or _VALVE.search(column.name)):
        return None
    one = Valve.CLOSED if says_closed and not says_open else Valve.OPEN
    other = Valve.OPEN if one is Valve.CLOSED else Valve.CLOSED
    return States(column, {word: one if bit else other for word, bit in bits.items()}, not (says_closed or says_open))


def state_codes(cells: list[str]) -> tuple[IntArray, tuple[str, ...]]:
    """Return which word of a column of states stands in each row, and the words as written.

    A row whose cell is empty has the word above; before the first word it is -1.
    """
    words = tuple(dict.fromkeys(cell.strip() for cell in cells))
    known = {word: index for index, word in enumerate(words)}
    code = np.array([known[cell.strip()] if cell.strip() else -1 for cell in cells], dtype=np.int64)
    place = np.where(code >= 0, np.arange(len(code)), -1)
    last = np.maximum.accumulate(place) if len(place) else place
    return np.where(last >= 0, code[np.maximum(last, 0)], -1), words


def valve_marks(states: States, code: IntArray, words: tuple[str, ...], time: FloatArray, line: IntArray
                ) -> tuple[Mark, ...]:
    """Return where the state of the valve begins and changes, in order of time."""
    number = {None: -1, Valve.OPEN: 0, Valve.CLOSED: 1}
    means = np.array([*(number[states.means.get(word.lower())] for word in words), -1])
    state = means[code]
    told = np.flatnonzero(state >= 0)
    change = told[np.concatenate(([True], np.diff(state[told]) != 0))] if len(told) else told
    return tuple(Mark(float(time[at]), Valve.CLOSED if state[at] else Valve.OPEN, words[code[at]], states.column.name,
                      int(line[at])) for at in change.tolist())


def valve_notes(states: States, found: tuple[Mark, ...]) -> list[Note]:
    """Return a note on what the column says."""
    closed = [mark for mark in found if mark.valve is Valve.CLOSED]
    if not closed:
        return []
    times = ", ".join(f"{mark.time:.0f} s" for mark in closed[:5]) + (", ..." if len(closed) > 5 else "")
    guess = " Its 1 was taken as open, its 0 as closed." if states.is_guess else ""
    text = f'"{states.column.name}" says that the valve was closed at {times} ("{closed[0].word}").{guess}'
    return [Note("valve-stated", text, closed[0].line)]
