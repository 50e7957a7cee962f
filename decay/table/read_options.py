"""What a user may settle about how a file is read, and the notes of what was decided, mended or left out."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """One field for each decision that the reader would otherwise take from the content.

    Parameters
    ----------
    gauge : str, optional
        Pressure column, by name or by number counted from 1.
    unit : str, optional
        Unit of the absolute pressures, e.g. ``"micron"``
    time_column : str, optional
        Time column, by name or by number counted from 1.
    time_unit : str, optional
        Unit of an elapsed time: s, ms, min or h; with a number (``"5 s"``) the distance of rows without a clock.
    day_first : bool, optional
        Order of day and month in dates written with digits; ``None`` lets the dates decide.
    over_range : tuple of str
        Words or numbers that mean "above the range of the gauge".
    encoding : str, optional
        Encoding of the file.
    delimiter : str, optional
        Field separator; ``" "`` for blanks.
    decimal : str, optional
        Decimal mark, ``"."`` or ``","``
    sheet : str, optional
        Sheet of a workbook, by name or by number counted from 1.
    temperature : str, optional
        Temperature column, by name or by number counted from 1.
    header : bool, optional
        Whether a line of names precedes the data; ``None`` lets the content decide.
    """

    gauge: str | None = None
    unit: str | None = None
    time_column: str | None = None
    time_unit: str | None = None
    day_first: bool | None = None
    over_range: tuple[str, ...] = ()
    encoding: str | None = None
    delimiter: str | None = None
    decimal: str | None = None
    sheet: str | None = None
    temperature: str | None = None
    header: bool | None = None


FROM_FIRST_ROW = "time-from-first-row"
"""Code of the note that the log's own times do not start at zero."""


def counted(count: int, noun: str) -> str:
    """Return so many of something, thousands marked.

    Examples
    --------
    >>> counted(1, "row"), counted(2400, "row")
    ('1 row', '2,400 rows')
    """
    return f"{count:,} {noun}{'' if count == 1 else 's'}"


@dataclass(frozen=True, slots=True)
class Note:
    """One thing about the file that the reader decided, mended or left out."""

    code: str  # stable short name, e.g. ``"unit-guessed"``, ``"duplicate-time"``
    text: str  # one sentence for the user, with the option that overrides the decision where there is one
    line: int | None = None  # line in the file, counted from 1; ``None`` where it concerns the whole file [-]
    rows: int = 0  # number of data rows that this note takes out of use; 0 where it takes none [-]


WRITTEN = "record"
"""Code of the note that a job's record has of a log, in the user's own words."""
