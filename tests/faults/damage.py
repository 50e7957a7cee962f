"""Damages a log the way interrupted writes, editors, spreadsheets and bad luck do."""

from __future__ import annotations

import gzip
import random
from collections.abc import Callable

NASTY = [token.encode() for token in (
    "nan", "inf", "-inf", "NaN", "null", "", "-", "--", ".", ",", "+", "1e999", "-1e999", "1e-999", "9" * 20, "9" * 400,
    "0." + "0" * 400 + "1", "0x1F", "1_000", "½", "١٢٣", "−5", "1,2,3", "1.2.3", "1e", "e5", "5e+", "12:60:61",
    "25:00:00", "31.02.2026", "0000-00-00 00:00:00", "9999-12-31 23:59:59", "0001-01-01 00:00:00", "1e18", "-1",
    "2026-03-14T09:00:00Z", "2026-03-14T09:00:00+99:99", "24:00:00", "12:00 PM", "00:00 AM", "=1+1", "\ufeff", "true",
    "a" * 3000,
    "(" * 3000, "sampl" * 2000, "1" * 20_000, "1." * 3000, "1," * 900, "every" * 3000,
    "a:" * 2000, "-" * 3000, "vac g" * 900, "\"", "'", "#", "//", "\x1a", "\x0b", "micron", "inHg vac", "psig",
    "-29.9", "760", "OL", "<5", ">5000",
)]  # fmt: skip
MARKS = [b",", b";", b"\t", b"|", b" ", b".", b":", b"-", b"/"]
Damage = Callable[[bytearray, random.Random, list[bytes]], bytearray]


def damaged(rng: random.Random, logs: list[bytes]) -> bytes:
    """Return one log with one to six faults."""
    data = bytearray(rng.choice(logs))
    for _ in range(rng.choice((1, 1, 2, 3, 6))):
        data = rng.choice(DAMAGES)(data, rng, logs)
    return bytes(data[:200_000])


def _span(data: bytearray, rng: random.Random, longest: int = 60) -> tuple[int, int]:
    begin = rng.randrange(len(data) + 1)
    return begin, min(begin + rng.randrange(1, longest), len(data))


def flip_bytes(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    for _ in range(rng.randrange(1, 12)):
        if data:
            data[rng.randrange(len(data))] = rng.randrange(256)
    return data


def flip_characters(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    for _ in range(rng.randrange(1, 6)):
        if data:
            data[rng.randrange(len(data))] = rng.choice(b"0123456789,;.\t\n\r \"-+:/eEaOPM")
    return data


def truncate(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    at = rng.randrange(len(data) + 1)
    return data[:at] if rng.random() < 0.7 else data[at:]


def cut_out(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    begin, end = _span(data, rng)
    del data[begin:end]
    return data


def repeat(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    begin, end = _span(data, rng, 400)
    data[end:end] = data[begin:end] * rng.choice((1, 1, 2, 20))
    return data


def shuffle_lines(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    lines = data.split(b"\n")
    begin = rng.randrange(len(lines))
    part = lines[begin : begin + rng.randrange(2, 40)]
    rng.shuffle(part)
    lines[begin : begin + len(part)] = part
    return bytearray(b"\n".join(lines))


def swap_marks(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    old, new = rng.choice(MARKS), rng.choice(MARKS)
    return data.replace(old, new, rng.choice((1, 5, -1)))


def add_nul(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    at = rng.randrange(len(data) + 1)
    data[at:at] = b"\x00" * rng.choice((1, 3, 512, 4096))
    return data


def change_encoding(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    text = bytes(data).decode(rng.choice(("utf-8", "cp1252", "utf-16")), "replace")
    new = rng.choice(("utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252", "utf-32", "utf-7"))
    return bytearray(text.encode(new, "replace"))


def change_cell(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    lines = data.split(b"\n")
    mark = rng.choice(MARKS[:4])
    for _ in range(rng.choice((1, 1, 3, 30))):
        at = rng.randrange(len(lines))
        cells = lines[at].split(mark)
        cells[rng.randrange(len(cells))] = bytearray(rng.choice(NASTY))
        lines[at] = bytearray(mark.join(cells))
    return bytearray(b"\n".join(lines))


def change_column(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    mark, token = rng.choice(MARKS[:4]), rng.choice(NASTY)
    place = rng.randrange(3)
    lines = []
    for line in data.split(b"\n"):
        cells = line.split(mark)
        if len(cells) > place and rng.random() < 0.9:
            cells[place] = bytearray(token)
        lines.append(mark.join(cells))
    return bytearray(b"\n".join(lines))


def add_quotes(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    for _ in range(rng.choice((1, 2, 9))):
        at = rng.randrange(len(data) + 1)
        data[at:at] = b'"' * rng.choice((1, 1, 2, 3, 200))
    return data


def splice(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    other = rng.choice(logs)
    return data[: rng.randrange(len(data) + 1)] + other[rng.randrange(len(other) + 1) :]


def widen(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    mark = rng.choice(MARKS[:4])
    at = rng.randrange(len(data) + 1)
    data[at:at] = mark * rng.choice((1, 2, 50, 3000)) if rng.random() < 0.7 else (mark + b"7") * 300
    return data


def pack(data: bytearray, rng: random.Random, logs: list[bytes]) -> bytearray:
    if rng.random() < 0.7:
        return data
    packed = bytearray(gzip.compress(bytes(data), 1))
    return flip_bytes(packed, rng, logs) if rng.random() < 0.3 else packed


DAMAGES: tuple[Damage, ...] = (
    flip_bytes, flip_characters, flip_characters, truncate, cut_out, repeat, shuffle_lines, swap_marks, add_nul,
    change_encoding, change_cell, change_cell, change_column, add_quotes, splice, widen, pack,
)  # fmt: skip
