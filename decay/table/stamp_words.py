"""Dates and clocks as other languages and loggers write them, put into the few forms that `stamps` reads."""

from __future__ import annotations

import datetime as dt
import re

from decay.constants import DAY, HOUR, MINUTE

# Names of months by their first letters, in Czech, Danish, Dutch, English, Finnish, French, German, Greek, Italian,
# Norwegian, Polish, Portuguese, Russian, Spanish, Swedish and Turkish (Unicode CLDR, "months"). Beginnings that mean
# two months in two languages (Czech "čer", Croatian "lip") are none.
_MONTHS = (
    "jan ene gen janv tammi led sty oca янв ιαν", "feb fev fév févr helmi úno lut şub фев φεβ",
    "mar mär mrt maalis bře mart марта март мар μαρ", "apr abr avr huhti dub kwi nis апр απρ",
    "may mai maj mei mag maggio touko kvě май мая μαΐ μαι", "jun giu kesä juin haz июн ιουν",
    "jul lug juil heinä tem июл ιουλ", "aug ago aoû août elo srp sie ağu авг αυγ",
    "sep set sept syys zář wrz eyl сен σεπ", "oct okt ott out loka říj paź eki окт οκτ",
    "nov marras kas ноя νοε", "dec dez dic déc joulu pro gru ara дек δεκ",
)
_MONTH_OF = {word: number + 1 for number, words in enumerate(_MONTHS) for word in words.split()}
_SHORT = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MORNING = r"a\.?\s?m\.?|午前|上午|오전|π\.?\s?μ\.?|ص|पूर्वाह्न|öö|de\.|a(?![a-z])"
_EVENING = r"p\.?\s?m\.?|午後|下午|오후|μ\.?\s?μ\.?|م|अपराह्न|ös|du\.|p(?![a-z])"
_HALF = re.compile(rf"\s*(?:(?P<am>{_MORNING})|(?P<pm>{_EVENING}))\s*", re.IGNORECASE)
_TWELVE = re.compile(r"(\d\d)(\d\d)(\d\d)([01]\d|2[0-3])([0-5]\d)([0-5]\d)")
_WRAPPED = re.compile(r"^=?\"(.*)\"$|^=\"?(\d.*\d)$")  # as spreadsheets keep a cell from being changed
_NUMBER = re.compile(r"[-+]?\d*[.,]?\d*(?:[eE][-+]?\d+)?")
_BLANKS = re.compile(r"[\s\u00a0\u2009\u202f]+")
_CJK = re.compile(r"(\d{4})\s?[年년]\s?(\d{1,2})\s?[月월]\s?(\d{1,2})\s?[日일]")
_CJK_CLOCK = re.compile(r"(\d{1,2})\s?[时時시点]\s?(\d{1,2})\s?[分분]\s?(?:(\d{1,2}(?:\.\d+)?)\s?[秒초])?")
_NAMED = re.compile(r"(?P<day>\d{1,2})(?:\.|st|nd|rd|th|º|er)?[-/ .]?\s?(?:de )?(?P<month>[^\W\d_]{3,12})\.?,?[-/ ]?"
                    r"(?: ?de )?(?P<year>\d{4}|\d{2})(?!\d)", re.IGNORECASE)
_YEAR_NAMED = re.compile(r"^(\d{4})[-/ .]([^\W\d_]{3,12})\.?[-/ .](\d{1,2})(?!\d)")
_NAMED_FIRST = re.compile(r"^(?:[^\W\d_]{2,10}\.?,? )?([^\W\d_]{3,12})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4}) ",
                          re.IGNORECASE)
_NO_YEAR = re.compile(r"^([A-Z][a-z]{2}) {1,2}(\d{1,2}) (\d\d:\d\d:\d\d(?:\.\d+)?)$")
_ORDINAL = re.compile(r"^(?P<year>(?:19|20)\d\d)(?:[-/:](?P<day>\d{3})(?=$|[-T:, /]\s?\d)|(?P<glued>\d{3})(?=[T ]\d))")
_ORDINAL_SHORT = re.compile(r"^(?P<year>\d\d)(?:[-/:]?(?P<day>\d{3})(?=[T ]\d))(?P<glued>)")
_WEEK = re.compile(r"^(\d{4})-?W(\d\d)-?([1-7])(?=$|[T ])")
_YEAR_POINTS = re.compile(r"^(\d{4})\. ?(\d{1,2})\. ?(\d{1,2})\.,? ?")
_CLOCK_FIRST = re.compile(r"^(\d{1,2}:\d\d(?::\d\d(?:[.,]\d+)?)?(?: ?[ap]m)?),? (\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4})$",
                          re.IGNORECASE)
_POINTED_CLOCK = re.compile(r"(^|[ T])(\d{1,2})\.(\d\d)\.(\d\d)(?=$|[ ,+Z-])")
_DASHED_CLOCK = re.compile(r"(^|[ T_])(\d\d)-(\d\d)-(\d\d)(?:-(\d{3}))?$")
_ALL_DASHED = re.compile(r"^(\d{4})([-_])(\d\d)\2(\d\d)\2(\d\d)\2(\d\d)\2(\d\d)$")
_ZONE_NAME = re.compile(r"(?<=\d|[Zz])\s?\[[A-Za-z]+(?:/[A-Za-z_+-]+\d*)*\]$")
_ZONE_HOURS = re.compile(r"\s?(?:GMT|UTC)\s?([+-])(\d{1,2})(?::?(\d\d))?(?:\s?\([^)]*\))?$")
_LOG_CLOCK = re.compile(r"^\[(\d\d)/([A-Za-z]{3})/(\d{4}):(\d\d:\d\d:\d\d) ([+-]\d{4})\]$")
_FILLERS = re.compile(r"\s(?:à|um|klo|kl\.?|at|alle|a las|às|-)\s(?=\d)|\s?(?:Uhr|h|hs|hrs)$", re.IGNORECASE)
_SPAN = re.compile(r"^\+?P(?:(\d+)D)?T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+(?:[.,]\d+)?)S)?$")
_PARTS = re.compile(r"^(?:(\d+) ?d(?:ays?)?,? )?(?:(\d+) ?h(?:ours?|rs?)?,? ?)?(\d+) ?m(?:in(?:utes?|s)?)?,? ?"
                    r"(\d+(?:\.\d+)?) ?s(?:ec(?:onds?|s)?)?$", re.IGNORECASE)
_PRIMES = re.compile(r"^(\d+)['′’] ?(\d{1,2}(?:\.\d+)?)(?:\"|″|''|′′)?$")
_MINUTES = re.compile(r"^(\d+):([0-5]\d)(\.\d+)$")
_CLOCK_IN_A_ZONE = re.compile(r"^(T)?(\d{1,2}:\d\d(?::\d\d(?:[.,]\d+)?)?)(Z|[+-]\d\d:?\d\d)?$")  # a day has one zone
_OFFSET = re.compile(r"^(?:T ?)?\+ ?(?=\d+:\d\d)")
_LONG_DAYS = re.compile(r"^(\d+)\.(\d\d:\d\d:\d\d)(\.\d+)?$")


def familiar(text: str) -> str | None:
    """Return the same moment in a form that `stamps` reads, or ``None`` where the text is none of the forms here.

    Examples
    --------
    >>> familiar("18. März 2026 14:20:05 Uhr"), familiar("2026-077T14:20:05"), familiar("2026年3月18日 午後2:20:05")
    ('18-Mar-2026 14:20:05', '2026-03-18T14:20:05', '2026-3-18 2:20:05 PM')
    >>> familiar("5m 10s"), familiar("PT1M5S"), familiar("12.30.05"), familiar("pump oil looks cloudy")
    ('0:05:10', '0:01:05', '12:30:05', None)
    """
    if (found := _TWELVE.fullmatch(text)) is not None:
        return "-".join(found.groups()[:3]) + " " + ":".join(found.groups()[3:])
    if _NUMBER.fullmatch(text) or not any(sign.isdigit() for sign in text):
        return None
    bare = _WRAPPED.sub(lambda at: at[1] or at[2], _BLANKS.sub(" ", text).strip())
    new = _span(bare) or _date(_clock(_zone(bare)))
    return new if new != text else None


def _span(text: str) -> str | None:
    """Return hours, minutes and seconds of a time that counts, ``None`` where it is none."""
    for form in (_SPAN, _PARTS):
        if (found := form.match(text)) is not None and any(found.groups()):
            days, hours, minutes, seconds = (float((part or "0").replace(",", ".")) for part in found.groups())
            return _counted(days * DAY + hours * HOUR + minutes * MINUTE + seconds)
    if (found := _PRIMES.match(text) or _MINUTES.match(text)) is not None:
        return _counted(float(found[1]) * MINUTE + float(found[2]) + float(found[3] if found.re is _MINUTES else 0.0))
    if (found := _LONG_DAYS.match(text)) is not None:
        return f"{found[1]}d {found[2]}{(found[3] or '')[:10]}"
    if (found := _CLOCK_IN_A_ZONE.match(text)) is not None and (found[1] or found[3]):
        return found[2]
    return _OFFSET.sub("", text) if _OFFSET.match(text) else None


def _counted(seconds: float) -> str:
    whole = int(seconds)
    rest = f"{seconds - whole:.6f}"[1:].rstrip("0").rstrip(".")
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}{rest}"


def _zone(text: str) -> str:
    """Return text with its offset in digits, without the name of a place."""
    text = _ZONE_NAME.sub("", text)
    if (found := _LOG_CLOCK.match(text)) is not None:
        return f"{found[1]}-{found[2]}-{found[3]} {found[4]} {found[5]}"
    return _ZONE_HOURS.sub(lambda at: f"{at[1]}{int(at[2]):02d}:{at[3] or '00'}", text)


def _clock(text: str) -> str:
    """Return text with a clock of colons, and AM or PM behind it."""
    text = _FILLERS.sub(lambda at: " " if at.end() < len(text) else "", text)
    text = _CJK_CLOCK.sub(lambda at: f"{at[1]}:{at[2]:0>2}" + (f":{at[3]:0>2}" if at[3] else ""), text)
    for half in _HALF.finditer(text) if re.search(r"\d:\d\d", text) else ():
        is_apart = half.start() == 0 or not text[half.start() - 1].isalpha() or text[half.start()] == " "
        if is_apart and (half.end() == len(text) or text[half.end()].isdigit()):
            rest = f"{text[: half.start()].rstrip()} {text[half.end():]}".strip()
            text = f"{rest} {'AM' if half['am'] else 'PM'}"
            break
    text = _POINTED_CLOCK.sub(r"\1\2:\3:\4", text)
    if (found := _ALL_DASHED.match(text)) is not None:
        return f"{found[1]}-{found[3]}-{found[4]} {found[5]}:{found[6]}:{found[7]}"
    return _DASHED_CLOCK.sub(lambda at: f"{' ' if at[1] == '_' else at[1]}{at[2]}:{at[3]}:{at[4]}"
                             + (f".{at[5]}" if at[5] else ""), text)


def _date(text: str) -> str:
    """Return text whose date has figures, or an English month between them."""
    text = _CJK.sub(r"\1-\2-\3", text)
    text = _YEAR_POINTS.sub(r"\1-\2-\3 ", text).rstrip()
    if (found := _CLOCK_FIRST.match(text)) is not None:
        return f"{found[2]} {found[1]}"
    if (found := _YEAR_NAMED.match(text)) is not None and (month := _month(found[2])):
        return f"{found[1]}-{month:02d}-{found[3]:0>2}{text[found.end():]}"
    if (found := _NAMED_FIRST.match(text)) is not None and (month := _month(found[1])):
        return f"{found[2]}-{_SHORT[month - 1]}-{found[3]} {text[found.end():]}"
    found = _NAMED.search(text)
    if found is not None and (month := _month(found["month"])) and not re.search(r"\d", text[: found.start()]):
        return f"{found['day']}-{_SHORT[month - 1]}-{found['year']}{text[found.end():]}"
    if (found := _NO_YEAR.match(text)) is not None and (month := _month(found[1])):
        year = 2000 if (month, int(found[2])) == (2, 29) else 2001  # any year: the day is only counted
        try:
            return f"{dt.date(year, month, int(found[2])).timetuple().tm_yday:03d} {found[3]}"
        except ValueError:
            return text
    return _counted_day(text)


def _month(word: str) -> int | None:
    """Return the number of a month by its name, or by the beginning of it."""
    low = word.lower().rstrip(".")
    return next((_MONTH_OF[low[:size]] for size in range(min(len(low), 6), 2, -1) if low[:size] in _MONTH_OF), None)


def _counted_day(text: str) -> str:
    """Return text in which a day of the year, or of a week, is a date of the calendar."""
    found = _WEEK.match(text)
    try:
        if found is not None:
            day = dt.date.fromisocalendar(int(found[1]), int(found[2]), int(found[3]))
            return day.isoformat() + _joined(text[found.end():])
        found = _ORDINAL.match(text) or _ORDINAL_SHORT.match(text)
        number = int(found["day"] or found["glued"]) if found is not None else 0
        if found is not None and 1 <= number <= 366:
            year = int(found["year"]) + (2000 if len(found["year"]) == 2 else 0)
            day = dt.date(year, 1, 1) + dt.timedelta(days=number - 1)
            return day.isoformat() + _joined(text[found.end():]) if day.year == year else text
    except (ValueError, OverflowError):
        return text
    return text


def _joined(rest: str) -> str:
    """Return what follows a date, set off by a T or a blank; six digits as a clock."""
    rest = " " + rest.lstrip(":-,/ ") if rest[:1] in (":", "-", ",", "/") and rest else rest
    return re.sub(r"^([T ])(\d\d)(\d\d)(\d\d)(?!\d|:)", r"\1\2:\3:\4", rest)
