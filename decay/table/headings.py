"""Which pressure unit stands in a piece of text, with its power of ten, and what of it was not understood."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from decay import quantities

LONGEST_TEXT = 200  # characters in which a unit is looked for
PRESSURE_WORDS = re.compile(
    r"pres+|vac(?!ancy)|druck|micron|gauge|manometer|chamber|pirani|presion|pression"
    r"|(^|[_\W])p[0-9]?([_\W]|$)",
    re.IGNORECASE,
)
# Powers of ten that words and letters before a unit stand for (SI brochure, 9th edition, table 7).
_SPELT = {"nano": -9, "micro": -6, "milli": -3, "centi": -2, "deci": -1, "hecto": 2, "kilo": 3, "mega": 6, "giga": 9}
_LETTER = {"n": -9, "u": -6, "m": -3, "c": -2, "d": -1, "h": 2, "k": 3, "M": 6, "G": 9}
_BASES = {"pa": "Pa", "pascal": "Pa", "pascals": "Pa", "torr": "Torr", "torrs": "Torr", "bar": "bar", "bars": "bar"}
_CASED = {"Pa": ("Pa", "pascal", "pascals"), "Torr": ("Torr", "torr", "Torrs", "torrs"), "bar": ("bar", "bars")}
_GLUED = re.compile(r".(?:nano|micro|milli|kilo|hecto)$|(?:press|pressure|vac|vacuum|druck|chamber|gauge|^p)[mkhun]$",
                    re.IGNORECASE)  # a name that ran into a prefix
_LENGTHS = {"um"}  # the trade writes it for micrometres of mercury, but a file may mean a length
SCALE_WORDS = re.compile(
    r"\b(?:thousand|hundred|million|tenth)(?:th)?s?\b|\b(?:log10|lg|ln)\b|\blog(?=\()|\bdecades?\b", re.IGNORECASE)
_TIMES = {"s", "sec", "second", "seconds", "min", "minute", "minutes", "h", "hr", "hour", "hours"}
_MOST_POWER = 30  # of ten, before a unit
_MOST_WORDS = 4  # that make one unit: "millimetres of mercury"
_SUPERSCRIPT = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_TOKEN = re.compile(
    r"(?P<power>(?:1(?:\.0*)?\s*[x*]\s*)?(?<![\d.])10\s*(?:\^|\*\*)\s*\(?\s*(?P<exponent>[+-]?\d+)\s*\)?)"
    r"|(?P<lost>(?<![\w.])10\s?-\s?\d+)"  # a superscript that was lost, or a range: either way it is not understood
    r"|(?P<scientific>\d+(?:\.\d*)?[eE][+-]?\d+)"
    r"|(?P<bare>(?<!\d)[eE][+-]\d+)"
    r"|(?P<number>\d+(?:[.,]\d+)*)"
    r"|(?P<times>(?:(?<![A-Za-z])|(?<=bar|orr|.Pa|.Hg|ron))[xX](?=\s*[\d(])|\*)"
    r"|(?P<word>[A-Za-z]+?(?=[xX]\s*\d|[eE][+-]\d)(?<=bar|orr|.Pa|.Hg|ron)|[A-Za-z]+)"
    r"|(?P<open>[(\[{])|(?P<close>[)\]}])|(?P<over>/|\bper\b)|(?P<percent>%)"
)
_GAUGE = re.compile(
    r"\b(inhg|kpa|psi|mbar|bar|mmhg|torr|cmhg)[\s_.,()\[\]-]*(vac(uum)?|v|g|gauge|ga|rel|relative)\b|\bpsig\b|\bbarg\b",
    re.IGNORECASE,
)
_ABSOLUTE = re.compile(r"\b(abs|absolute|psia|bara)\b|[\s_(\[]a[)\]]", re.IGNORECASE)
_PAIRS = re.compile(r"\b(in|inch|inches|mm)\s*\.?\s*(?:of\s+)?(hg|mercury)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Heading:
    """What a heading, a unit line or an option says of the unit."""

    unit: str | None = None  # a key of `quantities.PRESSURE_UNITS`, or one behind a power of ten: ``"1e-3 mbar"``
    unclear: str = ""  # the part that may change the unit's size and was not understood; empty where there is none


@dataclass(frozen=True, slots=True)
class _Token:
    kind: str
    text: str
    start: int
    end: int
    depth: int  # brackets, or a stroke, around it
    exponent: int | None = None  # power of ten that it stands for


@dataclass(frozen=True, slots=True)
class _Found:
    first: int
    last: int
    name: str
    exponent: int


def unit_in(text: str, is_pressure: bool = False) -> str | None:
    """Return the pressure unit that a header, a suffix or a unit cell names, or ``None`` where none is sure.

    Examples
    --------
    >>> unit_in("Pressure (mb)"), unit_in("Vacuum [in. Hg]"), unit_in("pump"), unit_in("p [10^-3 mbar]")
    ('mbar', 'inHg', None, '1e-3 mbar')
    """
    found = heading(text, is_pressure)
    return None if found.unclear else found.unit


def heading(text: str, is_pressure: bool = False) -> Heading:
    """Return the unit that a text names, and what of it was not understood.

    Parameters
    ----------
    text : str
        Name of a column with its unit, a unit cell, or an option.
    is_pressure : bool
        Whether the text is known to speak of a pressure, so that ``um`` stands for micrometres of mercury.

    Examples
    --------
    >>> heading("mTorr x10"), heading("Vacuum (m Torr)").unit, heading("P [mbar 1000]").unclear
    (Heading(unit='1e-2 Torr', unclear=''), 'mTorr', '1000')
    """
    return _heading(text[:LONGEST_TEXT], is_pressure)


@lru_cache(maxsize=4096)
def _heading(text: str, is_pressure: bool) -> Heading:
    text = _plain(text)
    tokens = _tokens(text)
    is_pressure = is_pressure or bool(PRESSURE_WORDS.search(text)) or text.strip(" ()[]{}.").lower() in _LENGTHS
    found = [unit for unit in _units(tokens, is_pressure) if not _is_rate(tokens, unit)]
    if not found:
        return Heading(None, _unknown_prefix(tokens) or (_stray_factor(tokens) if is_pressure else ""))
    if (scale := SCALE_WORDS.search(text)) is not None:
        return Heading(None, scale.group())
    inner = max(tokens[unit.first].depth for unit in found)
    if inner:  # a unit in brackets is the unit, whatever the name before says
        found = [unit for unit in found if tokens[unit.first].depth]
    if any(unit.name != "atm" for unit in found):  # "atm" is also a word for the place
        found = [unit for unit in found if unit.name != "atm"]
    read = [_scaled(text, tokens, unit) for unit in found]
    unclear = next((one.unclear for one in read if one.unclear), "")
    names = list(dict.fromkeys(one.unit for one in read if one.unit))
    if not unclear and len({round(pascals(name) * 1e9, 0) for name in names}) > 1:
        unclear = " and ".join(names)
    return Heading(names[-1] if names else None, unclear)


def _plain(text: str) -> str:
    """Return text with one sign for each thing: no Greek mu, superscripts, or crosses."""
    text = re.sub(r"[⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺]+", lambda match: "^" + match.group().translate(_SUPERSCRIPT), text)
    for signs, plain in (("µμ", "u"), ("−–", "-"), ("·⋅∙×✕", "*"), ("_", " ")):
        text = re.sub(f"[{signs}]", plain, text)
    text = re.sub(r"\bum\s*\.?\s*(?:of\s+)?(?:hg|mercury)\b", "umHg", text, flags=re.IGNORECASE)
    return _join(text)


def _tokens(text: str) -> list[_Token]:
    tokens: list[_Token] = []
    depth = 0
    is_over = False
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup or ""
        kind = "power" if kind == "exponent" else kind
        if kind == "open":
            depth += 1
        elif kind == "close":
            depth = max(depth - 1, 0)
        elif kind == "over":
            is_over = True
        exponent = None
        if kind == "power":
            exponent = int(match["exponent"])
        elif kind == "scientific":
            mantissa, _, power = match.group().lower().partition("e")
            exponent = int(power) if float(mantissa) == 1.0 else None
        elif kind == "bare":
            exponent = int(match.group()[1:])
        elif kind == "number":
            exponent = _power_of(match.group())
        if exponent is not None and abs(exponent) > _MOST_POWER:
            exponent = None  # no unit is that large: it is not understood
        tokens.append(_Token(kind, match.group(), match.start(), match.end(), depth + is_over, exponent))
    return tokens


def _power_of(number: str) -> int | None:
    """Return the power of ten that a written number is, or ``None``."""
    bare = number.replace(",", "") if re.fullmatch(r"\d{1,3}(?:,\d{3})+", number) else number.replace(",", ".")
    match = re.fullmatch(r"(1(0*)(?:\.0*)?)|(0?\.(0*)1)", bare)
    if match is None:
        return None
    return len(match[2]) if match[1] else -len(match[4]) - 1


def _units(tokens: list[_Token], is_pressure: bool) -> list[_Found]:
    """Return the units among the words, each of the most words that make one."""
    found: list[_Found] = []
    at = 0
    while at < len(tokens):
        for size in range(_MOST_WORDS, 0, -1):
            part = tokens[at : at + size]
            if len(part) < size or any(token.kind != "word" for token in part):
                continue
            if any(after.start - before.end > 2 for before, after in pairwise(part)):
                continue
            unit = _unit_of([token.text for token in part], is_pressure)
            if unit is not None:
                found.append(_Found(at, at + size - 1, *unit))
                at += size - 1
                break
        at += 1
    return found


def _unit_of(words: list[str], is_pressure: bool) -> tuple[str, int] | None:
    """Return the unit that words name together, and its power of ten."""
    if len(words) == 1 and words[0].lower() in _LENGTHS:
        return ("micron", 0) if is_pressure else None
    whole = "".join(words)
    if (name := quantities.pressure_unit(whole)) is not None:
        return name, 0
    if len(words) > 1:
        before, base = "".join(words[:-1]), _BASES.get(words[-1].lower())
        if base is None:
            return None
        power = _SPELT.get(before.lower(), _LETTER.get(before) if before in "umhkM" else None)
        return None if power is None else (base, power)
    for prefix, power in _SPELT.items():
        if whole.lower().startswith(prefix) and whole[len(prefix) :].lower() in _BASES:
            return _BASES[whole[len(prefix) :].lower()], power
    base = _BASES.get(whole[1:].lower())
    if base is None or whole[1:] not in _CASED[base] or whole[0] not in _LETTER:
        return None
    return ("bar", -3) if whole == "Mbar" else (base, _LETTER[whole[0]])  # nobody evacuates to a megabar


def _is_rate(tokens: list[_Token], unit: _Found) -> bool:
    """Return whether the unit is followed by a time or a volume: a rate of rise or a leak rate is no pressure."""
    after = [token.text.lower() for token in tokens[unit.last + 1 : unit.last + 4]]
    if after[:1] in (["/"], ["per"]):
        return after[1:2] != [] and after[1] in _TIMES
    rest = after[1:] if after[:1] == ["*"] else after
    return rest[:1] in (["l"], ["cc"], ["liter"], ["litre"]) and rest[1:2] in (["/"], ["s"], ["per"])


def _scaled(text: str, tokens: list[_Token], unit: _Found) -> Heading:
    """Return a unit with the power of ten that stands before or behind it."""
    before, unclear_before = _factor_before(text, tokens, unit.first)
    after, unclear_after = _factor_behind(text, tokens, unit.last)
    if before and after:
        unclear_after = unclear_after or text[tokens[unit.last].end :].strip()
    return Heading(unit_name(unit.name, unit.exponent + before + after), unclear_before or unclear_after)


def _factor_before(text: str, tokens: list[_Token], first: int) -> tuple[int, str]:
    at = first - 1
    is_times = at >= 0 and tokens[at].kind == "times"
    at -= is_times
    if at < 0 or (tokens[at].kind == "close" and not is_times):
        return 0, ""
    token, inside = tokens[at], tokens[first].depth > 0
    led = at > 0 and tokens[at - 1].kind == "times"
    if token.kind == "word":
        return (0, token.text) if token.text in "cdnMG" or _GLUED.search(token.text) else (0, "")
    if token.kind in {"lost", "percent"}:
        return 0, token.text
    if token.kind == "over" and at > 0 and tokens[at - 1].kind == "number":
        return 0, tokens[at - 1].text + "/"
    if token.kind not in {"power", "scientific", "bare", "number"}:
        return 0, ""
    if at > 0 and tokens[at - 1].kind == "over" and at > 1 and tokens[at - 2].kind == "number":
        return 0, f"{tokens[at - 2].text}/{token.text}"
    if token.kind == "number" and not (led or is_times):
        glued = token.start > 0 and (text[token.start - 1].isalpha() or text[token.start - 1] == "#")
        if glued or (not inside and len(token.text) == 1):
            return 0, ""  # the number of a gauge: "P1 mbar", "gauge 2 mbar"
        return (0, "") if token.exponent == 0 else (0, token.text)
    return (0, token.text) if token.exponent is None else (token.exponent, "")


def _factor_behind(text: str, tokens: list[_Token], last: int) -> tuple[int, str]:
    rest = tokens[last + 1 :]
    while rest and rest[0].kind in {"open", "close"}:
        rest = rest[1:]
    if not rest:
        return 0, ""
    token = rest[0]
    if token.kind == "times":
        if len(rest) > 1 and rest[1].exponent is not None:
            return rest[1].exponent, ""
        return 0, (token.text + rest[1].text if len(rest) > 1 else token.text)
    if token.kind in {"power", "scientific", "bare"}:
        return (0, token.text) if token.exponent is None else (token.exponent, "")
    if token.kind in {"lost", "percent"}:
        return 0, token.text
    if token.kind == "over" and len(rest) > 1 and rest[1].kind in {"number", "power", "scientific"}:
        return 0, "/" + rest[1].text
    if token.kind == "number" and token.exponent != 0:
        glued = text[token.start - 1].isalpha()
        return (0, "") if glued or (len(token.text) == 1 and not token.depth) else (0, token.text)
    return 0, ""


def _unknown_prefix(tokens: list[_Token]) -> str:
    """Return a word that ends like a unit but is none, such as ``qTorr`` or ``mpa``, where one stands."""
    for token in tokens:
        if token.kind != "word":
            continue
        low = token.text.lower()
        if low == "mpa" or re.search(r".(torr|mbar|kpa|hpa|mmhg|inhg|umhg)$", low):
            return token.text
        if token.depth and re.fullmatch(r"[a-z]{1,2}(pa|bar)", low) and token.text not in {"crossbar"}:
            return token.text
    return ""


def _stray_factor(tokens: list[_Token]) -> str:
    """Return a power of ten that stands without a unit."""
    for at, token in enumerate(tokens):
        if token.kind in {"power", "scientific", "lost", "bare"}:
            return token.text
        if token.kind == "number" and token.exponent and at and tokens[at - 1].kind == "times":
            return tokens[at - 1].text + token.text
    return ""


def unit_name(unit: str, exponent: int) -> str:
    """Return the name of a unit behind a power of ten: its own where it has one.

    Examples
    --------
    >>> unit_name("Torr", -3), unit_name("mbar", -3)
    ('mTorr', '1e-3 mbar')
    """
    if exponent == 0:
        return unit
    size = quantities.PRESSURE_UNITS[unit] * 10.0**exponent
    exact = [name for name, own in quantities.PRESSURE_UNITS.items() if abs(own / size - 1.0) < 1e-12]
    if exact:
        return next((name for name in exact if name.endswith(unit)), exact[0])
    if unit == "mTorr":
        unit, exponent = "Torr", exponent - 3
    return f"1e{exponent} {unit}"


def says_gauge(text: str) -> bool:
    """Return whether text names a pressure counted from the atmosphere, such as ``inHg vac`` or ``psig``."""
    return bool(_GAUGE.search(_join(text[:LONGEST_TEXT])))


def says_absolute(text: str) -> bool:
    """Return whether text says that a pressure is absolute."""
    return bool(_ABSOLUTE.search(text[:LONGEST_TEXT]))


def pascals(unit: str) -> float:
    """Return the size of a unit that `unit_in` returned. [Pa]"""
    factor, _, base = unit.rpartition(" ")
    return quantities.PRESSURE_UNITS[base] * (float(factor) if factor else 1.0)


def _join(text: str) -> str:
    return _PAIRS.sub(lambda match: ("mm" if match.group(1).lower() == "mm" else "in") + "Hg", text)
