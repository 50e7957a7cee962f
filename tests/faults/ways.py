"""Whether the fast way to read a table gives, to the last bit, what pandas gives for the same file."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields

import numpy as np

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, read_log
from decay.table import cells

Answer = PressureLog | LogError


def read_counting(data: bytes, options: ReadOptions) -> tuple[Answer, bool]:
    """Return a log, or why there is none, and whether the fast way took its table."""
    taken: list[bool] = []

    def counted(table: object, wanted: object) -> object:
        found = whole(table, wanted)
        taken.append(found is not None)
        return found

    whole = cells.read_alike
    with _instead(counted):
        answer = _read(data, options)
    return answer, any(taken)


def read_by_pandas(data: bytes, options: ReadOptions) -> Answer:
    """Return a log, or why there is none, read without the fast way."""
    with _instead(lambda table, wanted: None):
        return _read(data, options)


def difference(one: Answer, other: Answer) -> str | None:
    """Return what differs between two answers, to the last bit, or ``None``."""
    if isinstance(one, LogError) or isinstance(other, LogError):
        return None if str(one) == str(other) else f"{str(one)[:120]} | {str(other)[:120]}"
    for name in (field.name for field in fields(PressureLog)):
        if not _same(getattr(one, name), getattr(other, name)):
            return f"{name}: {getattr(one, name)!r} | {getattr(other, name)!r}"[:300]
    return None


def _same(one: object, other: object) -> bool:
    if isinstance(one, dict) and isinstance(other, dict):
        return list(one) == list(other) and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        return one.dtype == other.dtype and one.tobytes() == other.tobytes()
    return repr(one) == repr(other)


def _read(data: bytes, options: ReadOptions) -> Answer:
    try:
        return read_log(io.BytesIO(data), options)
    except LogError as error:
        return error


@contextmanager
def _instead(way: object) -> Iterator[None]:
    whole, cells.read_alike = cells.read_alike, way
    try:
        yield
    finally:
        cells.read_alike = whole
