"""A spreadsheet's readings as text: which sheet holds them, and how its cells are written."""

from __future__ import annotations

import csv
import datetime as dt
import io
import warnings
import zipfile
from collections.abc import Iterator
from typing import Any

from decay.errors import LogError
from decay.table.dialect import MOST_COLUMNS
from decay.table.read_options import Note, ReadOptions

MAGIC = b"PK\x03\x04"
MOST_PARTS = 10_000
LARGEST_UNPACKED = 1 << 28  # bytes of what was packed, all parts together; a million rows have a tenth of this
MOST_ROWS = 1 << 20  # of a sheet, by the format
_FEWEST_ROWS = 4  # with two values or more, that make a sheet of readings
_CHUNK = 1 << 20
_HEAD = 4096  # bytes of a part in which a document type stands, if there is one
_EXPECTED = "Expected a text table (CSV), or a workbook (.xlsx) with the readings on one sheet."


def is_workbook(data: bytes) -> bool:
    """Return whether bytes are a workbook of the kind .xlsx."""
    if not data.startswith(MAGIC):
        return False
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return "xl/workbook.xml" in archive.namelist()
    except (zipfile.BadZipFile, ValueError, OSError):
        return False


def only_file(data: bytes, name: str) -> tuple[bytes, Note] | None:
    """Return the only file of a zip archive that may be text, and a note that names it; ``None`` where it is no such.

    Raises
    ------
    LogError
        If the archive is damaged, locked or a bomb.
    """
    if not data.startswith(MAGIC):
        return None
    _bounded(data, name, "archive")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        inside = [part.filename for part in archive.infolist()
                  if not part.is_dir() and not part.filename.startswith("__MACOSX/")]
        if len(inside) != 1:
            return None
        text = archive.read(inside[0])
    return text, Note("zip-read", f'The file "{inside[0][:100]}" in the archive was read.')


def text_of(data: bytes, name: str, options: ReadOptions) -> tuple[bytes, Note]:
    """Return the sheet with the readings as comma separated values, row for row, and a note that names it.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        The file as the user named it.
    options : ReadOptions
        Its ``sheet`` chooses among several.

    Returns
    -------
    text : bytes
        The cells; dates in ISO 8601. [UTF-8]
    note : Note
        Which sheet was read.

    Raises
    ------
    LogError
        If the workbook cannot be opened, is a bomb, or does not tell which sheet holds the readings.
    """
    _bounded(data, name)
    try:
        import openpyxl
    except ImportError as error:
        raise LogError(name, "reading a workbook needs the package openpyxl", _EXPECTED,
                       'Install it:  pip install "decay[excel]"  or save the sheet as CSV.') from error
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # openpyxl warns of styles and extensions that no reading needs
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            found = {sheet.title: text for sheet in book.worksheets if (text := _text(sheet, name)) is not None}
            titles = [sheet.title for sheet in book.worksheets]
            book.close()
    except LogError:
        raise
    except Exception as error:  # a damaged workbook raises whatever its parser does
        raise LogError(name, f"the workbook is damaged ({type(error).__name__})", _EXPECTED,
                       "Save it again, or export the sheet as CSV.") from error
    title = _chosen(found, titles, name, options.sheet)
    others = f" of {len(titles)}" if len(titles) > 1 else ""
    return found[title], Note("sheet-read", f'The sheet "{title}"{others} was read.')


def _bounded(data: bytes, name: str, what: str = "workbook") -> None:
    """Refuse a packed file that unpacks to more than a log can be, without trusting the sizes that it states."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            left = LARGEST_UNPACKED if len(parts) <= MOST_PARTS else 0
            for part in parts if left else []:
                with archive.open(part) as stream:
                    piece = stream.read(_HEAD)
                    if part.filename.endswith((".xml", ".rels")) and (b"<!DOCTYPE" in piece or b"<!ENTITY" in piece):
                        raise LogError(name, "the workbook holds a document type, which no spreadsheet writes",
                                       _EXPECTED, "Save the sheet as CSV.")
                    while piece and left >= 0:
                        left -= len(piece)
                        piece = stream.read(_CHUNK)
                if left < 0:
                    break
    except LogError:
        raise
    except Exception as error:  # encrypted, cut short, or packed in a way that is not known
        raise LogError(name, f"the {what} is damaged or locked ({type(error).__name__})", _EXPECTED,
                       "Save it again without a password, or export the sheet as CSV.") from error
    if left <= 0:
        raise LogError(name, f"the {what} grows too large when unpacked",
                       f"Expected at most {LARGEST_UNPACKED >> 20} MiB and {MOST_PARTS} parts.",
                       "Export the sheet as CSV, and cut it to the job in question.")


def _text(sheet: Any, name: str) -> bytes | None:
    """Return a sheet as text, or ``None`` where it holds no readings."""
    sheet.reset_dimensions()  # what a sheet says of its own size may be wrong by a million rows
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    valued = 0
    for row, cells in enumerate(_rows(sheet)):
        if row >= MOST_ROWS or len(cells) > MOST_COLUMNS:
            raise LogError(name, f'the sheet "{sheet.title}" is too large for a log',
                           f"Expected at most {MOST_ROWS} rows and {MOST_COLUMNS} columns.",
                           "Cut the log to the job in question.")
        writer.writerow(cells)
        valued += sum(cell[:1].isdigit() or cell[:1] == "-" for cell in cells) >= 2
    return out.getvalue().encode("utf-8") if valued >= _FEWEST_ROWS else None


def _rows(sheet: Any) -> Iterator[list[str]]:
    """Yield the cells of each row as text, empty rows too, so that a row's number is its line."""
    for row in sheet.iter_rows(values_only=True):
        cells = [_written(value) for value in row]
        while cells and not cells[-1]:
            cells.pop()
        yield cells


def _written(value: object) -> str:
    """Return a cell as a log would print it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, dt.datetime):
        return value.isoformat(sep=" ", timespec="milliseconds" if value.microsecond else "seconds")
    if isinstance(value, dt.timedelta):
        whole = round(value.total_seconds(), 3)
        return f"{int(whole // 3600)}:{int(whole // 60 % 60):02d}:{whole % 60:06.3f}".removesuffix(".000")
    if isinstance(value, dt.time):
        return value.isoformat(timespec="milliseconds" if value.microsecond else "seconds")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return " ".join(str(value).split())


def _chosen(found: dict[str, bytes], titles: list[str], name: str, wanted: str | None) -> str:
    listed = ", ".join(f'{index + 1} "{title}"' for index, title in enumerate(titles[:20]))
    if wanted is not None:
        hits = [title for title in titles if title.casefold() == wanted.strip().casefold()]
        if not hits and wanted.strip().isdigit() and 1 <= int(wanted) <= len(titles):
            hits = [titles[int(wanted) - 1]]
        if not hits or hits[0] not in found:
            what = f'the sheet "{hits[0]}" holds no readings' if hits else f'there is no sheet "{wanted}"'
            raise LogError(name, what, f"The sheets are: {listed}.", "Change --sheet.")
        return hits[0]
    if not found:
        raise LogError(name, "no sheet of the workbook holds readings", f"The sheets are: {listed}.",
                       "Expected rows with a time and a pressure. Where they are formulas, open and save the workbook "
                       "in the program that works them out; else export the log again.")
    if len(found) > 1:
        names = ", ".join(f'"{title}"' for title in list(found)[:20])
        raise LogError(name, f"several sheets may hold the readings: {names}", "Expected one.",
                       f'Name it, e.g.  --sheet "{next(iter(found))}"')
    return next(iter(found))
