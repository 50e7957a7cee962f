"""Files that hold readings, but no table of lines: JSON, web pages, records and tables that lie on their side."""

from __future__ import annotations

import csv
import html
import io
import json
import re
from collections.abc import Iterable

from decay.table.dialect import is_value, split_line
from decay.table.read_options import Note

_LARGEST = 1 << 24  # bytes; what is larger is no page and no notes
_FEWEST = 4  # rows, and values in a row of a table that lies on its side
_MOST_ROWS = 1 << 20
_DEEPEST = 4  # levels of JSON that are looked into
_ROW = re.compile(r"<tr\b[^>]*>(.*?)(?=</?tr\b|</table|</tbody|\Z)", re.IGNORECASE | re.DOTALL)
_CELL = re.compile(r"<(?:td|th)\b[^>]*>(.*?)(?=</?(?:td|th|tr)\b|\Z)", re.IGNORECASE | re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
_ELEMENT = re.compile(r"<(?P<tag>\w+)((?:\s+[\w:.-]+\s*=\s*(?:\"[^\"]*\"|'[^']*'))+)\s*/?>")
_ATTRIBUTE = re.compile(r"([\w:.-]+)\s*=\s*(?:\"([^\"]*)\"|'([^']*)')")
_LEAF = re.compile(r"<([\w:.-]+)(?:\s[^>]*)?>([^<>]*)</\1>")
_FIELD = re.compile(r"^\s*(?:-\s+)?(?P<name>[^\W\d][^=:,;\"]{0,40}?)\s*[=:]\s*(?:\"(?P<quoted>[^\"]*)\"|(?P<bare>.*))$")
_ROUND = re.compile(r"\(([^()]+)\)\s*[;,]?\s*$")
_LED = re.compile(r"^\s*\[([^\[\]]+)\]\s*(\S.*)$")
_FIRST = 200  # lines that show whether it is worth going on
_QUOTED_FIELDS = re.compile(r"([^\s=\",;]+)=(?:\"([^\"]*)\"|(\S+))")


def reshaped(data: bytes) -> tuple[bytes, Note] | None:
    """Return the readings of a file that is no table of lines as one, or ``None`` where there are none.

    Parameters
    ----------
    data : bytes
        The text of the file. [UTF-8]

    Returns
    -------
    text : bytes
        A table, fields apart by tabs, names first. [UTF-8]
    note : Note
        What the file was.
    """
    if len(data) > _LARGEST:
        return None
    text = data.decode("utf-8", "replace")
    for what, way in (("JSON", _from_json), ("a page of tables", _from_page), ("XML", _from_elements),
                      ("lines of names with values", _from_fields), ("rows in brackets", _from_brackets),
                      ("lines in quotes", _from_quotes),
                      ("a table that lies on its side", _from_side)):
        rows = way(text)
        if rows is not None and len(rows) > _FEWEST:
            said = f"The file is {what}: its readings were put into rows, which the numbers of lines here count."
            return _table(rows), Note("shape-read", said)
    return None


def _table(rows: Iterable[list[str]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, delimiter="\t", lineterminator="\n").writerows(
        [" ".join(cell.split()) for cell in row] for row in rows)
    return out.getvalue().encode("utf-8")


def _records(records: list[dict[str, str]]) -> list[list[str]] | None:
    """Return rows of records under the names of all of them, the names first."""
    names = list(dict.fromkeys(name for record in records[:1000] for name in record))
    if len(records) < _FEWEST or not 1 < len(names) <= 200:
        return None
    return [names, *([record.get(name, "") for name in names] for record in records)]


def _from_json(text: str) -> list[list[str]] | None:
    bare = text.strip()
    if bare[:1] not in ("[", "{"):
        return None
    try:
        return _found_in(json.loads(bare), 0)
    except (ValueError, RecursionError):
        pass
    try:
        lines = [json.loads(line) for line in bare.splitlines() if line.strip()]
    except (ValueError, RecursionError):
        return None
    return _found_in(lines, 0)


def _found_in(value: object, depth: int) -> list[list[str]] | None:
    """Return the rows that a piece of JSON holds: a list of records or of rows, columns by name, or deeper in it."""
    if isinstance(value, list) and len(value) > _FEWEST:
        if all(isinstance(item, dict) for item in value):
            return _records([_flat(item) for item in value])
        if all(isinstance(item, list) and len(item) > 1 for item in value):
            return [[_cell(cell) for cell in item] for item in value]
    if isinstance(value, dict):
        columns = {str(name): cells for name, cells in value.items()
                   if isinstance(cells, list) and len(cells) > _FEWEST and not isinstance(cells[0], (dict, list))}
        if len(columns) > 1 and len({len(cells) for cells in columns.values()}) == 1:
            return [list(columns), *([_cell(cell) for cell in row] for row in zip(*columns.values(), strict=True))]
        if depth < _DEEPEST:
            found = [rows for item in value.values() if (rows := _found_in(item, depth + 1)) is not None]
            return found[0] if len(found) == 1 else None
    return None


def _flat(record: dict[str, object], before: str = "") -> dict[str, str]:
    flat: dict[str, str] = {}
    for name, value in record.items():
        if isinstance(value, dict) and len(before) < 100:
            flat |= _flat(value, f"{before}{name} ")
        else:
            flat[before + name] = _cell(value)
    return flat


def _cell(value: object) -> str:
    if value is None or isinstance(value, (dict, list)):
        return ""
    return repr(value) if isinstance(value, float) else str(value)


def _from_page(text: str) -> list[list[str]] | None:
    """Return the longest table of a web page."""
    best: list[list[str]] = []
    for part in re.split(r"<table\b", text, flags=re.IGNORECASE)[1:]:
        rows = [[html.unescape(_TAG.sub(" ", cell[1])).strip() for cell in _CELL.finditer(row[1])]
                for row in _ROW.finditer(part)]
        rows = [row for row in rows if row]
        best = max(best, rows, key=len)
    return best or None


def _from_elements(text: str) -> list[list[str]] | None:
    """Return the records of XML: elements with attributes, or elements that hold one element for each value."""
    if not text.lstrip().startswith("<"):
        return None
    elements = [(found["tag"], {at[1]: html.unescape(at[2] or at[3] or "") for at in _ATTRIBUTE.finditer(found[2])})
                for found in _ELEMENT.finditer(text)]
    by_tag: dict[str, list[dict[str, str]]] = {}
    for tag, fields in elements:
        if len(fields) > 1:
            by_tag.setdefault(tag, []).append(fields)
    records = max(by_tag.values(), key=len, default=[])
    if len(records) >= _FEWEST:
        return _records(records)
    return _records(_grouped((found[1], html.unescape(found[2])) for found in _LEAF.finditer(text)))


def _grouped(fields: Iterable[tuple[str, str]]) -> list[dict[str, str]]:
    """Return records of fields that follow each other: a new one begins where a name comes again."""
    records: list[dict[str, str]] = []
    for name, value in fields:
        if not records or name in records[-1]:
            records.append({})
        records[-1][name] = value
    return records


def _from_fields(text: str) -> list[list[str]] | None:
    """Return the records of lines with ``name=value`` or ``name: value``, several in a line or each in its own."""
    lines = [line for line in text.splitlines() if line.strip()]
    if not _FEWEST < len(lines) < _MOST_ROWS:
        return None
    first = lines[:_FIRST]
    if sum(bool(_fields_of(line)) for line in first) > 0.5 * len(first):
        records = [fields for line in lines if (fields := _fields_of(line))]
        if len(records) > 0.8 * len(lines):
            return _records(records)
    single = _mostly(lines, _FIELD)
    return None if single is None else _records(_grouped((at["name"].strip(), _value(at)) for at in single))


def _fields_of(line: str) -> dict[str, str]:
    """Return the names and values of a line that holds several; nothing where it does not."""
    quoted = _QUOTED_FIELDS.findall(line) if '="' in line else []
    if len(quoted) > 1:
        return {name: inside or bare for name, inside, bare in quoted}
    for mark in (";", ", ", ",", "\t"):
        parts = line.split(mark)
        found = [match for part in parts if (match := _FIELD.match(part)) is not None]
        if len(found) > 1 and len(found) == len(parts):
            return {at["name"].strip(): _value(at) for at in found}
    return {}


def _value(field: re.Match[str]) -> str:
    return (field["quoted"] if field["quoted"] is not None else field["bare"]).strip()


def _from_brackets(text: str) -> list[list[str]] | None:
    """Return rows that stand in round brackets, or behind a time in square ones."""
    lines = [line for line in text.splitlines() if line.strip()]
    inside = _mostly(lines, _ROUND)
    if inside is not None:
        return [[cell.strip("' ") for cell in split_line(match[1], ",")] for match in inside]
    led = _mostly(lines, _LED)
    return None if led is None else [[match[1], match[2]] for match in led]


def _mostly(lines: list[str], pattern: re.Pattern[str]) -> list[re.Match[str]] | None:
    """Return where a pattern stands in lines, ``None`` where it does in few of them, or of the first of them."""
    if sum(pattern.search(line) is not None for line in lines[:_FIRST]) < 0.5 * len(lines[:_FIRST]):
        return None
    found = [match for line in lines if (match := pattern.search(line)) is not None]
    return found if len(found) > 0.8 * len(lines) else None


def _from_quotes(text: str) -> list[list[str]] | None:
    """Return the rows of lines each of which stands in quotes as a whole."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    inside = [line[1:-1].replace('""', '"') for line in lines if len(line) > 2 and line[0] == line[-1] == '"']
    mark = max((";", "\t", ","), key=lambda mark: sum(mark in line for line in inside))
    rows = [split_line(line, mark) for line in inside]
    return rows if len(inside) > 0.8 * len(lines) and all(len(row) > 1 for row in rows) else None


def _from_side(text: str) -> list[list[str]] | None:
    """Return a table whose rows are its columns: a few long lines, each with its name first."""
    lines = [line for line in text.splitlines() if line.strip()]
    for mark in ("\t", ";", ","):
        rows = [row for line in lines[-200:] if len(row := split_line(line, mark)) > 2 * _FEWEST]
        width = max(map(len, rows), default=0)
        rows = [row for row in rows if len(row) == width]
        if 1 < len(rows) <= 20 and width > 2 * len(rows) and not any(map(is_value, (row[0] for row in rows))):
            return [list(row) for row in zip(*rows, strict=True)]
    return None
