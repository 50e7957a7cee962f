"""In which unit a time is counted: what a heading, the line below it, a cell or a title says of it."""

from __future__ import annotations

import re

import numpy as np

from decay.arrays import FloatArray
from decay.constants import DAY, HOUR, MINUTE
from decay.errors import LogError
from decay.table import digits

# Words of common languages, in lower case; a word that means a moment as well as a unit (Japanese 時間) is none.
_WORDS = {
    1e-9: "ns nanosecond nanoseconds",
    1e-6: "us µs usec usecs micros microsecond microseconds",
    1e-3: "ms msec msecs millis millisec millisecs millisecond milliseconds millisekunden мс 毫秒",
    1.0: "s sec secs second seconds sek sekunde sekunden seconde secondes seconden secondo secondi segundo segundos "
         "sekund sekunder sekundy с сек секунда секунды секунд 秒 초",
    MINUTE: "min mins minute minutes minuten minuto minutos minuti minut minuter minuty мин минута минуты минут "
            "分 分钟 分鐘 분",
    HOUR: "h hr hrs hour hours std stunde stunden heure heures hora horas ora ore uur uren timmar godz ч час часы "
          "часов 小时 小時",
    DAY: "d day days tag tage jour jours dia dias día días giorno giorni dag dagen dagar dni сут 天",
}
_UNITS = {word: size for size, words in _WORDS.items() for word in words.split()}
_BRACKETED = re.compile(r"[\[(]\s*([^\W\d_]{1,5})\s*[\])]")
_NO_UNITS = {"utc", "gmt", "local", "rel", "abs", "start", "clock", "epoch", "unix", "excel", "no"}
_FACTOR = re.compile(r"(?:[\[(/]|(?<!\w)[x×*])\s*(\d[\d.,^e+-]*)\s*[x×*]?\s*[^\W\d_]+", re.IGNORECASE)
_BEFORE_A_POINT = re.compile(r"\bm(?:m|in)\s*[.,]\s*s(?:s|ec)\b", re.IGNORECASE)  # "mm.ss"
_FEW = 30  # cells that tell their unit
_INTERVAL = re.compile(r"interval|sampl|period|logging|every|rate|abtast|(?<![a-z])d(?:elta[\W_]?)?t(?![a-z])",
                       re.IGNORECASE)
_OTHER_INTERVAL = re.compile(r"(?:alarm|service|calibrat|hold|test|display|averag|upload|report)\w*[\W_]+"
                             r"(?:interval|period|rate)", re.IGNORECASE)
_TAKEN = r"(?:sampl|scan|log|record|acqui|read|point|poll|data|value|measure|abtast)\w*"
_RATE = re.compile(rf"{_TAKEN}\s*(?:rate|speed|/|per\b)|\b{_TAKEN}rate\b", re.IGNORECASE)
_PER = re.compile(rf"^(?:{_TAKEN})?\s*(?:/|per\b)\s*([^\W\d_]+)", re.IGNORECASE)
_PER_BEFORE = re.compile(rf"{_TAKEN}\s*(?:/|per\b)\s*([^\W\d_]+)", re.IGNORECASE)
_FIGURE = re.compile(r"(?P<clock>\d+:\d\d(?::\d\d)?)(?![\d:])|(?P<number>\d+(?:[.,]\d+)?)\s*(?P<behind>.*)")
_LONGEST, _NEAR = 200, 40  # characters of a line that are looked at, and from the word to its number
_ISO_SPAN = re.compile(r"\bPT(?:(\d+)H)?(?:(\d+)M)?(?:(\d+(?:[.,]\d+)?)S)?\b")


def unit_size(text: str) -> float | None:
    """Return the size of a time unit. [s]"""
    return _UNITS.get(text.strip().lower().rstrip(".").replace("μ", "µ"))


def unit_in_name(name: str) -> str | None:
    """Return the time unit in a column's name, the last that stands there.

    Examples
    --------
    >>> unit_in_name("elapsedSec"), unit_in_name("Время, мин"), unit_in_name("time")
    ('sec', 'мин', None)
    """
    words = re.findall(r"[^\W\d_]+", re.sub(r"([a-z])([A-Z])", r"\1 \2", name))
    found = [word for word in words if unit_size(word) is not None]
    return found[-1].lower() if found else None


def says_minutes_and_seconds(name: str) -> bool:
    """Return whether a heading says that minutes stand before the point, and seconds behind it: ``mm.ss``."""
    return bool(_BEFORE_A_POINT.search(name))


def stated_size(name: str, below: str, file: str) -> float | None:
    """Return the size of the unit that a heading and the unit line below it state; ``None`` where they state none. [s]

    Raises
    ------
    LogError
        If something stands there that may change the unit, and is not understood.
    """
    for text in (below, name):
        size = unit_size(unit_in_name(text) or "")
        factor = _FACTOR.search(text)
        if size is not None and (factor is None or factor[1] == "1"):
            return size
        strange = _BRACKETED.search(text) if size is None else None
        unclear = factor[0].strip("[(/ ") if factor is not None and (size is not None or "[" in text) else ""
        if strange is not None and strange[1].lower() not in _NO_UNITS and strange[1] != strange[1].upper():
            unclear = strange[1]
        if unclear:
            raise LogError(file, f'the unit of the times is not understood: "{unclear}"',
                           "Expected s, ms, min, h or days.", "State it, e.g.  --time-unit min", column=name)
    return None


def sizes_beside(cells: digits.Cells, decimal: str, file: str, column: str) -> FloatArray | float | None:
    """Return the size of the unit that stands behind each time in its own cell, or ``None`` where none does. [s]

    Raises
    ------
    LogError
        If a word stands there that is no unit of time.
    """
    if not isinstance(cells, list):
        return None
    shown = [cell for text in cells[:_FEW] if (cell := digits.number_in(text, decimal)) is not None]
    words = [cell.unit for cell in shown if cell.unit]
    if not shown or len(words) <= 0.5 * len(shown):
        return None
    unknown = [word for word in words if unit_size(word) is None]
    if len(unknown) > 0.5 * len(words):
        raise LogError(file, f'the times have the unit "{unknown[0][:30]}", which is not known',
                       "Expected s, ms, min, h or days.", "State it, e.g.  --time-unit min", column=column)
    sizes = np.full(len(cells), np.nan)
    for row, text in enumerate(cells):
        cell = digits.number_in(text, decimal)
        sizes[row] = np.nan if cell is None else unit_size(cell.unit) or np.nan
    return sizes


def interval_in(lines: tuple[str, ...]) -> float | None:
    """Return the sampling interval that a title states, by a distance of rows or by a rate. [s]

    Examples
    --------
    >>> interval_in(("## Interval: 60000 milliseconds",)), interval_in(("Rate: 0.2 Hz",))
    (60.0, 5.0)
    >>> interval_in(("Samples/min: 12",)), interval_in(("Logging interval: 00:00:05",))
    (5.0, 5.0)
    """
    for line in lines:
        if _OTHER_INTERVAL.search(line):
            continue
        for word in _INTERVAL.finditer(line[:_LONGEST]):
            found = _interval(line[word.start() :])
            if found is not None and found > 0:
                return round(found, 9)
    return None


def _interval(text: str) -> float | None:
    """Return the distance of rows that a text states behind the word that announces it. [s]"""
    if (iso := _ISO_SPAN.search(text)) is not None and any(iso.groups()):
        return sum(float((part or "0").replace(",", ".")) * size
                   for part, size in zip(iso.groups(), (HOUR, MINUTE, 1.0), strict=True))
    figure = _FIGURE.search(text)
    if figure is None or figure.start() > _NEAR:
        return None
    if figure["clock"]:
        parts = [float(part) for part in figure["clock"].split(":")]
        # Two parts may be minutes and seconds, or hours and minutes.
        return parts[0] * HOUR + parts[1] * MINUTE + parts[2] if len(parts) == 3 else None
    number, behind = float(figure["number"].replace(",", ".")), figure["behind"].strip()
    if number <= 0:
        return None
    if (hertz := re.match(r"(m|k)?hz\b", behind, re.IGNORECASE)) is not None:
        return 1.0 / (number * {"m": 1e-3, "k": 1e3}.get((hertz[1] or "").lower(), 1.0))
    before = text[: figure.start()]
    if _RATE.search(text):
        per = _PER.search(behind) or _PER_BEFORE.search(before)
        size = None if per is None else unit_size(per[1])
        if per is not None:
            return None if size is None else size / number
    unit = re.match(r"()([^\W\d_]+)", behind) or re.search(r"([\[(])\s*([^\W\d_]+)\.?\s*[\])]", before)
    size = None if unit is None else unit_size(unit[2])
    return None if size is None else number * size
