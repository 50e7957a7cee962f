"""The finished files of an audit, CSV and JSON Lines: in the order of paths, whole or not at all, safe to open."""

from __future__ import annotations

import csv
import unicodedata
from collections.abc import Callable
from pathlib import Path

from decay.audit.journal import Journal, line_of
from decay.audit.row import COLUMNS
from decay.audit.summary import Summary, Tally
from decay.audit.trend import TITLES
from decay.files import drafted
from decay.report.document_numbers import Json
from decay.wording.charset import clean

FORMULA = "=+-@|%"
"""Marks by which a spreadsheet takes a cell for a formula or a command."""
CSV_COLUMNS = (*COLUMNS[:2], "group", *(name for name in COLUMNS[2:] if name != "findings"),
               "finding_codes", "finding_texts")
"""Column names of the CSV file, in order."""


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


def csv_cells(record: Json) -> list[str | float | int]:
    """Return the cells of one row."""
    flat = {**record, "finding_codes": " ".join(f["code"] for f in record["findings"]),
            "finding_texts": " ".join(f["text"] for f in record["findings"])}
    return [cell(flat[name]) for name in CSV_COLUMNS]


def finish(journal: Journal, table: Path, group_of: Callable[[str], str]) -> Summary:
    """Write the finished files from what the journal holds.

    Parameters
    ----------
    journal : Journal
        Every file of the audit is done.
    table : Path
        The CSV file.
    group_of : callable
        From a path to the name of its group.

    Returns
    -------
    Summary
        What the audit shows.

    Raises
    ------
    OSError
        If a file cannot be written; the earlier ones and the journal are then as they were.

    Notes
    -----
    The rows are read twice, once for what many jobs show together and once for writing, so that no more than the few
    numbers of the picture stay in memory.
    """
    tally = Tally()
    for place, records in journal.records():
        tally.add(place, group_of(records[0]["path"]), records)
    summary = tally.summary()
    with (
        drafted(journal.path, replace=True) as lines_draft,
        drafted(table, replace=True) as table_draft,
        table_draft.open("x", encoding="utf-8", newline="") as cells,
        lines_draft.open("xb") as lines,
    ):
        writer = csv.writer(cells, lineterminator="\n")
        writer.writerow(CSV_COLUMNS)
        lines.write(line_of(journal.header))
        for place, records in journal.records():
            group = group_of(records[0]["path"])
            for record in records:
                full = _placed(record, group, summary.findings_at(place) if record is records[0] else [])
                writer.writerow(csv_cells(full))
                lines.write(line_of(full))
        for about in summary.groups:
            lines.write(line_of({"record": "group", **about.record()}))
    journal.finish()
    return summary


def _placed(record: Json, group: str, findings: list[tuple[str, str]]) -> Json:
    """Return a row with its group, and with what its group's jobs show together and nothing of an earlier run."""
    own = [finding for finding in record["findings"] if finding["code"] not in TITLES]
    added = [{"code": code, "text": text} for code, text in findings]
    return {"record": record["record"], "path": record["path"], "job": record["job"], "group": group,
            **{name: record[name] for name in COLUMNS[2:]}, "findings": own + added}
