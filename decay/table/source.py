"""From a file name, an open file or standard input to clean UTF-8 bytes with one kind of line end."""

from __future__ import annotations

import codecs
import os
import sys
import zlib
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import BinaryIO

from decay.errors import LogError
from decay.table import workbook
from decay.table.read_options import Note, ReadOptions

LARGEST = 1 << 29  # bytes; a gauge at 10 readings a second fills this in two weeks
MOST_LINES = 1 << 24
_CHUNK = 1 << 20
_INPUT = 1 << 16
_PACKED = b"\x1f\x8b"
_SPREADSHEET = "Expected a text table: comma separated values (CSV) or the like."
_CONTROL = bytes(byte for byte in range(32) if byte not in b"\t\n\r\x0b\x0c\x1a\x1b")
_MAGIC = (
    (b"PK\x03\x04", "a zip archive, and neither a workbook (.xlsx) nor one packed file"),
    (b"BZh", "packed by bzip2, which is not read"),
    (b"\xfd7zXZ", "packed by xz, which is not read"),
    (b"7z\xbc\xaf", "packed by 7-Zip, which is not read"),
    (b"\x28\xb5\x2f\xfd", "packed by Zstandard, which is not read"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a spreadsheet in an old binary format"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"SQLite format 3", "a database"),
)


@dataclass(frozen=True, slots=True)
class Content:
    """The text of a log as UTF-8 bytes, lines ended by LF or CRLF."""

    name: str  # the file as the user named it; ``"-"`` for standard input
    data: bytes  # the text
    notes: tuple[Note, ...]  # what was decided about the encoding


def load_text(source: str | os.PathLike[str] | BinaryIO, options: ReadOptions) -> Content:
    """Return the text of a log.

    Raises
    ------
    LogError
        If the file cannot be opened, unpacked or decoded, is empty, or is not text.
    """
    name = _name(source)
    data = _raw(source, name)
    if data[:2] == _PACKED:
        data = _unpack(data, name)
    if workbook.is_workbook(data):
        text, note = workbook.text_of(data, name, options)
        return Content(name, text, (note,))
    packed = workbook.only_file(data, name)
    if packed is not None:
        data, told = packed
    blank = b" \t\r\n\x00\xef\xbb\xbf\x1a"
    if not data[:64].strip(blank) and not data.strip(blank):
        raise LogError(name, "the file is empty", "Expected rows of time and pressure.", "Export the log again.")
    for magic, what in _MAGIC:
        if data.startswith(magic):
            remedy = ("Unpack it, and give the file in it." if "packed" in what
                      else "Open it where it was made, save or export it as CSV, and give that file.")
            raise LogError(name, f"the file is {what}", _SPREADSHEET, remedy)
    data, notes = _utf8(data, name, options)
    if packed is not None:
        notes.insert(0, told)
    if options.sheet is not None:
        notes.append(Note("sheet-unused", "The file is text and has no sheets: --sheet was not used."))
    data = _line_ends(data)
    return Content(name, data, tuple(notes))


def _name(source: str | os.PathLike[str] | BinaryIO) -> str:
    if isinstance(source, (str, os.PathLike)):
        return os.fspath(source)
    return str(getattr(source, "name", "-"))


def _raw(source: str | os.PathLike[str] | BinaryIO, name: str) -> bytes:
    expected, remedy = "Expected a readable log file.", "Check the name and the permissions."
    try:
        if not isinstance(source, (str, os.PathLike)):
            data = _bounded(source, name)
        elif name == "-":
            if sys.stdin is None:
                raise LogError(name, "standard input is closed", expected, "Name the log, or pipe it in.")
            data = _bounded(sys.stdin.buffer, name)
        else:
            if Path(name).is_dir():
                raise LogError(name, "this is a folder", expected, "Give a file in it.")
            with Path(name).open("rb") as file:
                data = _sized(file, Path(name).stat().st_size, name)
    except FileNotFoundError as error:
        raise LogError(name, "there is no such file", expected, _nearest(name)) from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise LogError(name, f"the file cannot be read ({reason})", expected, remedy) from error
    if len(data) > LARGEST:
        limit = f"Expected at most {LARGEST >> 20} MiB."
        raise LogError(name, "the file is too large for a log", limit, "Cut the log to the job in question.")
    return data


def _nearest(name: str) -> str:
    """Return what to do about a name that no file has: the names in its folder that are nearest to it."""
    place = Path(name)
    try:
        beside = os.listdir(place.parent)
    except OSError:
        return f'Check the name: there is no folder "{place.parent}", or nobody may look into it.'
    near = get_close_matches(place.name, beside, n=3)
    return f"Did you mean {' or '.join(str(place.with_name(found)) for found in near)}?" if near else "Check the name."


def _has_lines(part: bytes, name: str) -> None:
    """Refuse a file in which a whole piece has no end of a line, before the rest of it is read."""
    if len(part) >= _CHUNK and b"\n" not in part and b"\r" not in part and part[:2] != _PACKED:
        raise LogError(name, f"a line has more than {_CHUNK} characters", "Expected a row of readings in each line.",
                       "This is not a table of readings; export the log as CSV.")


def _sized(file: BinaryIO, size: int, name: str) -> bytes:
    """Read a file of known size in one piece, so that nothing is held twice, once it is known to have lines."""
    if not 0 < size <= LARGEST:
        return _bounded(file, name)
    if size > _CHUNK:
        part = file.read(_CHUNK)
        while part[:2] != _PACKED and part:
            _has_lines(part, name)
            part = file.read(_CHUNK)
        file.seek(0)
    return file.read(size + 1)


def _bounded(file: BinaryIO, name: str) -> bytes:
    """Read a file up to just past the limit, a piece at a time: asking for it all at once would reserve it all."""
    parts: list[bytes] = []
    size = 0
    while size <= LARGEST and (part := file.read(_CHUNK)):
        if not parts or parts[0][:2] != _PACKED:
            _has_lines(part, name)
        parts.append(part)
        size += len(part)
    return parts[0] if len(parts) == 1 else b"".join(parts)


def _unpack(data: bytes, name: str) -> bytes:
    expected = f"Expected a whole .gz file of at most {workbook.LARGEST_UNPACKED >> 20} MiB when unpacked."
    parts: list[bytes] = []
    size = at = 0
    stream = zlib.decompressobj(wbits=31)
    rest = b""
    try:
        while True:
            if not rest and not stream.eof:
                rest, at = data[at : at + _INPUT], at + _INPUT
                if not rest:
                    raise LogError(name, "the packed file is cut short", expected, "Copy the file again.")
            part = stream.decompress(rest, _CHUNK)
            rest = stream.unconsumed_tail
            size += len(part)
            _has_lines(part, name)
            if size > workbook.LARGEST_UNPACKED:
                remedy = "Unpack it and cut the log to the job in question."
                raise LogError(name, "the packed file grows too large", expected, remedy)
            parts.append(part)
            if stream.eof:
                rest, at = stream.unused_data + data[at : at + 2], at + 2
                if rest[:2] != _PACKED:
                    break
                stream = zlib.decompressobj(wbits=31)
    except zlib.error as error:
        raise LogError(name, f"the packed file is damaged ({error})", expected, "Copy the file again.") from error
    return b"".join(parts)


def _utf8(data: bytes, name: str, options: ReadOptions) -> tuple[bytes, list[Note]]:
    notes: list[Note] = []
    if options.encoding is not None:
        try:
            data = data.decode(options.encoding).encode("utf-8", "replace")
        except (LookupError, UnicodeError) as error:
            expected = "Expected an encoding that fits the file, e.g. utf-8, utf-16 or cp1252."
            raise LogError(name, f"the encoding {options.encoding} does not fit", expected,
                           "Change or leave out --encoding.") from error
        return data.removeprefix(codecs.BOM_UTF8).replace(b"\x00", b""), notes
    if data.startswith(codecs.BOM_UTF8):
        data = data[3:]
    wide = _wide(data)
    if wide is not None:
        data = data.decode(wide, "replace").encode("utf-8", "replace")
    if codecs.BOM_UTF8 in data:  # within a text it tells where one file was put behind another
        data = data.replace(codecs.BOM_UTF8, b"")
    if b"\x00" in data:
        if data.count(b"\x00") > 0.3 * len(data):
            raise LogError(name, "the file is binary", _SPREADSHEET, "Export the log as CSV.")
        line = data.count(b"\n", 0, data.index(b"\x00")) + 1
        count = data.count(b"\x00")
        notes.append(Note("nul-bytes", f"{count} NUL bytes were left out (an interrupted write?).", line))
        data = data.replace(b"\x00", b"")
    if not data.isascii():
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            text = data.decode("cp1252", "replace")
            notes.append(Note("encoding-guessed", "The text is not UTF-8; read as cp1252. --encoding overrides."))
            data = text.encode("utf-8")
    sample = data[:4096]
    control = len(sample) - len(sample.translate(None, _CONTROL))
    if control > 0.1 * len(sample):
        raise LogError(name, "the file is binary", _SPREADSHEET, "Export the log as CSV.")
    return data, notes


def _wide(data: bytes) -> str | None:
    """Return the name of the UTF-16 form that the bytes are in, if they are."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    sample = data[:2000]
    half = max(len(sample) // 2, 1)
    if sample[1::2].count(0) > 0.8 * half and sample[0::2].count(0) < 0.1 * half:
        return "utf-16-le"
    if sample[0::2].count(0) > 0.8 * half and sample[1::2].count(0) < 0.1 * half:
        return "utf-16-be"
    return None


def _line_ends(data: bytes) -> bytes:
    data = data.rstrip(b"\x1a")
    if b"\r" in data and data.count(b"\r") != data.count(b"\r\n"):
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return data
