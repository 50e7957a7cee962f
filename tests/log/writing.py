"""Writes the same synthetic readings in many dialects, units and time forms."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from decay.log import PressureLog, ReadOptions, read_log

START = dt.datetime(2026, 3, 14, 9, 0, 0)
MICRONS = [5200, 3100, 1900, 1250, 880, 640, 505, 430, 390, 365, 350,
           341, 335, 331, 328, 326, 330, 338, 345, 351, 356, 360]


def rows(values: list[object] | None = None, every: float = 10.0) -> list[tuple[str, str]]:
    return [((START + dt.timedelta(seconds=i * every)).strftime("%Y-%m-%d %H:%M:%S"), str(v))
            for i, v in enumerate(MICRONS if values is None else values)]


def table(body: list[tuple[str, ...]], header: tuple[str, ...] | None = ("Time", "Pressure (micron)"), mark: str = ",",
          end: str = "\n") -> str:
    lines = [mark.join(header)] if header else []
    return end.join([*lines, *(mark.join(row) for row in body)]) + end


def read_text(folder: Path, text: str | bytes, **options: object) -> PressureLog:
    path = folder / "log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return read_log(path, ReadOptions(**options))  # type: ignore[arg-type]


def codes(log: PressureLog) -> list[str]:
    return [note.code for note in log.notes]


def accounted(log: PressureLog) -> bool:
    return sum(note.rows for note in log.notes) == log.rows - len(log.time)
