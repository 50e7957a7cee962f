"""The finished files of an audit, CSV and JSON Lines: in the order of paths, whole or not at all, safe to open."""

from __future__ import annotations

import csv
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from decay.audit.journal import Journal, json_line
from decay.audit.row import COLUMNS, NARROW, WIDE
from decay.audit.summary import Summary, Tally, deciding_row
from decay.audit.trend import TITLES
from decay.files import drafted
from decay.report.document_numbers import Json
from decay.wording.lines import clean

FORMULA = "=+-@|%"
"""Marks by which a spreadsheet takes a cell for a formula or a command."""


@dataclass(frozen=True, slots=True)
class TableForm:
    """How the table is written."""

    is_wide: bool = False  # whether it has all columns and one row a hold, and not the first ones and one row a log
    # Whether it is made for a spreadsheet that is opened by a double click: with a byte order mark, and semicolons
    is_excel: bool = False
    decimal: str = "."  # decimal mark of its numbers

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns, in order."""
        return WIDE if self.is_wide else NARROW


def cell(value: object) -> str | float | int:
    """Return a value as it may stand in a cell of a spreadsheet.

    Parameters
    ----------
    value : object
        Text, number, truth value or ``None``.

    Returns
    -------
    str, float or int
        A number as it is, unknown as nothing, and text in one line; text that a spreadsheet would run as a formula
        gets an apostrophe before it, by which spreadsheets know text.

    Examples
    --------
    >>> cell("=1+1"), cell(-1.5), cell("\\t@run"), cell(None), cell("van 7")
    ("'=1+1", -1.5, "'\\\\t@run", '', 'van 7')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return value
    text = str(value)
    # Wide forms of the marks are read as the marks themselves by some; blanks before them are passed over.
    first = unicodedata.normalize("NFKC", text.strip())[:1]
    is_formula = (first != "" and first in FORMULA) or text[:1] in ("\t", "\r", "\n")
    return ("'" if is_formula else "") + clean(" ".join(text.splitlines()) if text.strip() else text)


def csv_cells(record: Json, form: TableForm) -> list[str | float | int]:
    """Return the cells of one row."""
    flat = {**record, "finding_codes": " ".join(f["code"] for f in record["findings"]),
            "finding_texts": " ".join(f["text"] for f in record["findings"])}
    cells = [cell(flat[name]) for name in form.columns]
    if form.decimal == ".":
        return cells
    return [repr(value).replace(".", form.decimal) if isinstance(value, float) else value for value in cells]


def finish(
    journal: Journal, table: Path, group_of: Mapping[str, str], technician_of: Mapping[str, str | None] | None = None,
    form: TableForm = TableForm(),
) -> Summary:
    """Write the finished files from what the journal holds.

    Parameters
    ----------
    journal : Journal
        Every file of the audit is done.
    table : Path
        The CSV file.
    group_of : mapping of str to str
        The name of a path's group.
    technician_of : mapping of str to str, optional
        Who did the job of a path.
    form : TableForm
        How the CSV file is written.

    Raises
    ------
    OSError
        If a file cannot be written; the earlier ones and the journal are then as they were.

    Notes
    -----
    The rows are read twice, once for what many jobs show together and once for writing, so that no more than the few
    numbers of the picture stay in memory.
    """
    who = {} if technician_of is None else technician_of
    tally = Tally()
    for place, records in journal.records():
        path = records[0]["path"]
        tally.add(place, group_of[path], records, who.get(path))
    summary = tally.summary()
    with (
        drafted(journal.path, replace=True) as lines_draft,
        drafted(table, replace=True) as table_draft,
        table_draft.open("x", encoding="utf-8-sig" if form.is_excel else "utf-8", newline="") as cells,
        lines_draft.open("xb") as lines,
    ):
        writer = csv.writer(cells, delimiter=";" if form.is_excel else ",",
                            lineterminator="\r\n" if form.is_excel else "\n")
        writer.writerow(form.columns)
        lines.write(json_line(journal.header))
        for place, records in journal.records():
            path = records[0]["path"]
            shown = deciding_row(records)
            own = [(code, text) for at, code, text in summary.together if at == place]
            for record in records:
                found = own if record is records[0] else []
                full = _placed(record, group_of[path], who.get(path), found)
                if form.is_wide or record is shown:
                    writer.writerow(csv_cells(full, form))
                lines.write(json_line(full))
        for about in summary.groups:
            lines.write(json_line({"record": "group", **about.record()}))
    journal.finish()
    return summary


def _placed(record: Json, group: str, technician: str | None, findings: list[tuple[str, str]]) -> Json:
    """Return a row with group and technician, and what its group's jobs show together, nothing of an earlier run."""
    own = [finding for finding in record["findings"] if finding["code"] not in TITLES]
    added = [{"code": code, "text": text} for code, text in findings]
    return {"record": record["record"], "path": record["path"], "job": record["job"], "group": group,
            "technician": technician, **{name: record[name] for name in COLUMNS[2:]}, "findings": own + added}
