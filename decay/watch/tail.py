"""A log that grows under the reader's eyes: whole lines only, across rotation, truncation and rewriting."""

from __future__ import annotations

import codecs
import os
import queue
import stat
import threading
from pathlib import Path
from typing import BinaryIO, Protocol

from decay.errors import LogError

_FINGERPRINT = 512  # bytes before the place reached; they tell a file that grew from one that was rewritten
_CHUNK = 1 << 16
MOST_WAITING = 256  # chunks
LONGEST_LINE = 1 << 20  # bytes; no row of readings is so long
LARGEST = 1 << 27  # bytes; a gauge at 10 readings a second fills this in days


class Source(Protocol):
    """What can be followed."""

    name: str
    notes: list[str]

    def poll(self) -> bool:
        """Take in what is new; tell whether there was anything."""
        ...

    def segments(self) -> list[bytes]:
        """Return the whole lines so far, one part for each file they came in."""
        ...

    @property
    def has_half_line(self) -> bool:
        """The text ends within a line."""
        ...

    def forget_earlier(self) -> None:
        """Keep the latest part alone."""
        ...

    @property
    def is_ended(self) -> bool:
        """Nothing more can come."""
        ...

    @property
    def why_nothing(self) -> str:
        """Why nothing has come at all; empty once something has."""
        ...


class FileTail:
    """A file that another program writes to; it may not exist yet."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self.name = os.fspath(path)
        self.notes: list[str] = []
        self.is_ended = False
        self.why_nothing = ""
        self._path = Path(path)
        self._earlier: list[bytes] = []
        self._current = b""
        self._identity: tuple[int, int] | None = None

    def poll(self) -> bool:
        """Take in what is new; tell whether there was anything.

        Raises
        ------
        LogError
            If the file cannot be read, is a folder, or is packed.
        """
        try:
            self._refuse_irregular()
            with self._path.open("rb") as file:
                state = os.fstat(file.fileno())
                identity = (state.st_dev, state.st_ino)
                if identity == self._identity and state.st_size == len(self._current):
                    return False
                is_new = identity != self._identity
                self._identity = identity
                if not is_new and state.st_size > len(self._current) and self._is_where_it_was(file):
                    file.seek(len(self._current))
                    return self._grown(self._current + file.read())
                file.seek(0)
                return self._replaced(file.read())
        except FileNotFoundError:
            # Not begun yet, or between the two steps of a rotation.
            if not self._current and not self._earlier:
                self.why_nothing = f"there is no file {self.name}; if a logger is to write it, start the logger"
            return False
        except OSError as problem:
            raise LogError(self.name, f"the file cannot be read ({problem.strerror or problem})",
                           "Expected a log that grows.", "Check the name and the permissions.") from problem

    def _refuse_irregular(self) -> None:
        """Refuse a device or a pipe: it has no size to wait for, and may never end."""
        mode = self._path.stat().st_mode
        if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
            raise LogError(self.name, "it is a device or a pipe and no file", "Expected a file that grows.",
                           f"Let standard input carry it:  decay watch - < {self.name}")

    def _is_where_it_was(self, file: BinaryIO) -> bool:
        start = max(0, len(self._current) - _FINGERPRINT)
        file.seek(start)
        return file.read(len(self._current) - start) == self._current[start:]

    def _grown(self, data: bytes) -> bool:
        self.why_nothing = ""
        is_more = whole_lines(data) != whole_lines(self._current)
        self._current = data
        if data[:2] == b"\x1f\x8b":
            raise LogError(self.name, "the file is packed", "Expected a text table that grows.",
                           "Once it is complete:  decay analyze FILE.gz")
        return is_more

    def _replaced(self, data: bytes) -> bool:
        """Take in a file that is not the old one with more at its end."""
        if data.startswith(self._current):
            return self._grown(data)  # written anew as a whole, with the old text in front
        if self._current.startswith(data):
            self._identity = None  # cut back, or being written anew: wait for what comes, and look at all of it
            return False
        self._earlier.append(whole_lines(self._current))
        self.notes.append(f"{self.name} was rotated or begun anew; what was read before is kept in front of it.")
        self._current = b""
        return self._grown(data)

    def segments(self) -> list[bytes]:
        """Return the whole lines so far, one part for each file they came in."""
        return [*self._earlier, whole_lines(self._current)]

    @property
    def has_half_line(self) -> bool:
        """The text ends within a line."""
        return len(whole_lines(self._current)) < len(self._current)

    def forget_earlier(self) -> None:
        """Keep the latest part alone."""
        self._earlier.clear()


class StreamTail:
    """Standard input, or any stream that ends; a thread waits for it, so that the caller never does."""

    def __init__(self, stream: BinaryIO, name: str = "-") -> None:
        self.name = name
        self.notes: list[str] = []
        self.why_nothing = ""
        self._data = b""
        self._is_over = False
        # A stream that comes faster than it is looked at waits: it does not fill the memory.
        self._chunks: queue.Queue[bytes] = queue.Queue(MOST_WAITING)
        self._stream = stream
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        # Past the buffer, whose lock a thread that still waits would hold at the end of the process: that is fatal.
        stream = getattr(self._stream, "raw", self._stream)
        read = getattr(stream, "read1", stream.read)
        try:
            while chunk := read(_CHUNK):
                self._chunks.put(chunk)
        except (OSError, ValueError):
            pass  # closed under the reader: that is its end
        self._chunks.put(b"")

    def poll(self) -> bool:
        """Take in what is new; tell whether there was anything."""
        before = _end_of_lines(self._data)
        parts, size = [self._data], len(self._data)
        while size <= LARGEST:
            try:
                chunk = self._chunks.get_nowait()
            except queue.Empty:
                break
            self._is_over |= not chunk
            parts.append(chunk)
            size += len(chunk)
        self._data = b"".join(parts)
        after = _end_of_lines(self._data)
        if size > LARGEST:
            self._is_over = True
            raise LogError(self.name, "the stream is too long for a log", f"Expected at most {LARGEST >> 20} MiB.",
                           "Cut it to the job in question.")
        if size - after > LONGEST_LINE:
            self._is_over = True
            raise LogError(self.name, f"a line has more than {LONGEST_LINE} characters",
                           "Expected a row of readings in each line.", "Pipe in the text that the logger writes.")
        return after > before

    def segments(self) -> list[bytes]:
        """Return the whole lines so far, in one part."""
        return [whole_lines(self._data)]

    @property
    def has_half_line(self) -> bool:
        """The text ends within a line."""
        return len(whole_lines(self._data)) < len(self._data)

    def forget_earlier(self) -> None:
        """Do nothing: a stream has one part."""

    @property
    def is_ended(self) -> bool:
        """The stream is at its end and all of it was taken in."""
        return self._is_over and self._chunks.empty()


def whole_lines(data: bytes) -> bytes:
    """Return text up to its last line end, so that no half-written number is read.

    Parameters
    ----------
    data : bytes
        Text in any encoding that the log reader takes.

    Examples
    --------
    >>> whole_lines(b"10:00:00,312\\n10:00:05,31")
    b'10:00:00,312\\n'
    """
    return data[: _end_of_lines(data)]


def _end_of_lines(data: bytes) -> int:
    """Return where the last complete line ends. [bytes]"""
    if data.startswith(codecs.BOM_UTF16_LE) or data[1:2] == b"\x00":
        end = data.rfind(b"\n\x00")
        while end >= 0 and end % 2:
            end = data.rfind(b"\n\x00", 0, end)
        return end + 2 if end >= 0 else 0
    end = data.rfind(b"\n")
    return (end if end >= 0 else data.rfind(b"\r")) + 1
