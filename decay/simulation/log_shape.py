"""The shapes in which an invented log can be written: separators, decimal mark, time form, unit, preamble."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from decay.errors import RangeError


class TimeForm(StrEnum):
    """How the time of a reading is written."""

    SECONDS = "seconds"        # elapsed seconds
    MINUTES = "minutes"        # elapsed minutes
    HMS = "hms"                # elapsed hh:mm:ss
    ISO = "iso"                # 2026-03-14T08:30:00
    EPOCH = "epoch"            # seconds since 1970
    EPOCH_MS = "epoch_ms"      # milliseconds since 1970
    CLOCK_12 = "clock12"       # 03/14/2026 08:30:00 AM
    SPLIT = "split"            # 14.03.2026 and 08:30:00 in two columns


@dataclass(frozen=True, slots=True)
class LogShape:
    """One shape of a log."""

    delimiter: str = ","  # between columns
    decimal: str = "."  # inside numbers
    time_form: TimeForm = TimeForm.ISO  # how time is written
    unit: str | None = None  # unit of the pressures; ``None`` for the gauge's own
    header: bool = True  # whether a line names the columns
    unit_column: bool = False  # whether each line carries the unit in a column of its own, instead of the header
    preamble: bool = False  # whether lines of ``key: value`` come before the table
    quoted: bool = False  # whether every field stands in quotes
    newline: str = "\n"  # end of a line
    encoding: str = "utf-8"  # of the file

    def __post_init__(self) -> None:
        if self.delimiter == self.decimal and not self.quoted:
            raise RangeError(f"delimiter and decimal mark are both {self.delimiter!r}; quote the fields or change one")


SHAPES: dict[str, LogShape] = {
    "comma": LogShape(),
    "elapsed": LogShape(time_form=TimeForm.SECONDS),
    "minutes": LogShape(time_form=TimeForm.MINUTES, quoted=True),
    "hms": LogShape(time_form=TimeForm.HMS, delimiter="|"),
    "semicolon": LogShape(";", ",", TimeForm.SPLIT, preamble=True, newline="\r\n"),
    "tab": LogShape("\t", ".", TimeForm.EPOCH, unit_column=True),
    "epoch-ms": LogShape(time_form=TimeForm.EPOCH_MS),
    "clock12": LogShape(time_form=TimeForm.CLOCK_12, preamble=True),
    "bare": LogShape(time_form=TimeForm.SECONDS, header=False),
    "utf16": LogShape("\t", ",", TimeForm.ISO, encoding="utf-16"),
}

_EPOCH = datetime(1970, 1, 1)
TIME_NAMES = {
    TimeForm.SECONDS: ("elapsed [s]",),
    TimeForm.MINUTES: ("elapsed [min]",),
    TimeForm.HMS: ("elapsed [h:m:s]",),
    TimeForm.SPLIT: ("date", "time"),
}


def time_fields(form: TimeForm, seconds: list[float], started: datetime, decimal: str) -> list[tuple[str, ...]]:
    """Return the written times, one tuple of columns for each reading.

    Parameters
    ----------
    form : TimeForm
        How.
    seconds : list of float
        Times since the first reading. [s]
    started : datetime
        Local date and time of the first reading; taken as UTC where seconds since 1970 are written.
    decimal : str
        Decimal mark.
    """
    if form is TimeForm.SECONDS:
        return [(f"{s:.2f}".replace(".", decimal),) for s in seconds]
    if form is TimeForm.MINUTES:
        return [(f"{s / 60:.4f}".replace(".", decimal),) for s in seconds]
    if form is TimeForm.HMS:
        whole = [round(s) for s in seconds]
        return [(f"{s // 3600:02d}:{s // 60 % 60:02d}:{s % 60:02d}",) for s in whole]
    base = (started - _EPOCH).total_seconds()
    if form is TimeForm.EPOCH:
        return [(f"{base + s:.1f}".replace(".", decimal),) for s in seconds]
    if form is TimeForm.EPOCH_MS:
        return [(f"{(base + s) * 1000:.0f}",) for s in seconds]
    moments = [started + timedelta(seconds=round(s)) for s in seconds]
    if form is TimeForm.CLOCK_12:
        # Spelled out, since strftime's AM and PM depend on the locale.
        return [(f"{m:%m/%d/%Y} {(m.hour + 11) % 12 + 1:02d}:{m:%M:%S} {'AM' if m.hour < 12 else 'PM'}",)
                for m in moments]
    if form is TimeForm.SPLIT:
        return [(f"{m:%d.%m.%Y}", f"{m:%H:%M:%S}") for m in moments]
    return [(f"{m:%Y-%m-%dT%H:%M:%S}",) for m in moments]
