"""What an audit has already written, so that one that was interrupted goes on where it stopped."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import BinaryIO

from decay.audit.collect import Target
from decay.audit.row import Row, told_text
from decay.errors import RangeError
from decay.report.document_numbers import Json

SCHEMA_VERSION = 2
_FINISHED, _UNDER_WAY, _MERGED = 0, 1, 2  # the files that rows may stand in; from the last on, those of shards


def json_line(record: Json) -> bytes:
    """Return one record as a line of strict JSON in plain ASCII."""
    return json.dumps(record, ensure_ascii=True, allow_nan=False, separators=(", ", ": ")).encode("ascii") + b"\n"


def header(settings: Json, version: str, inputs: Sequence[str]) -> Json:
    """Return the first record of an audit: which version made it, by which settings every log was judged, of what."""
    return {"record": "audit", "schema_version": SCHEMA_VERSION, "decay": version, "settings": settings,
            "inputs": list(inputs)}


def inputs_of(path: Path) -> list[str] | None:
    """Return the files, folders and globs that an earlier audit of a name was given.

    Parameters
    ----------
    path : Path
        The finished JSON Lines file; the one under way beside it is asked where there is none.

    Returns
    -------
    list of str or None
        ``None`` where there is no earlier audit, or none that tells.
    """
    for source in (path, path.with_name(f"{path.name}.part")):
        if source.is_file():
            with source.open("rb") as file:
                head = _parsed(file.readline(1 << 20))
            inputs = None if head is None else head.get("inputs")
            if isinstance(inputs, list):
                return [str(name) for name in inputs]
    return None


@dataclass(frozen=True, slots=True)
class _Entry:
    """Where the lines of one file stand."""

    source: int
    offset: int
    length: int


class Journal:
    """The rows of an audit on disk: ``NAME.jsonl`` once finished, ``NAME.jsonl.part`` while it runs.

    Parameters
    ----------
    path : Path
        The finished JSON Lines file.
    settings : dict
        What every row rests on; rows of an earlier run count only where it is the same.
    version : str
        Version of the program, which must be the same as well.
    targets : iterable of Target
        The files of this audit; rows of others are forgotten.
    inputs : sequence of str
        What the audit was given: files, folders and globs.
    shards : sequence of Path
        Finished JSON Lines files of other audits, whose rows of this one's files count as well.
    is_fresh : bool
        Whether rows of an earlier run are thrown away.

    Raises
    ------
    RangeError
        If one of the two files exists and is no audit's, or a shard's was judged by other settings.
    OSError
        If they cannot be read or written.
    """

    def __init__(
        self, path: Path, settings: Json, version: str, targets: Iterable[Target], inputs: Sequence[str] = (), *,
        shards: Sequence[Path] = (), is_fresh: bool = False,
    ) -> None:
        self.path = path
        self.part = path.with_name(path.name + ".part")
        self.header = header(settings, version, inputs)
        self._targets = {target.path: target for target in targets}
        self._entries: dict[str, _Entry] = {}
        self._end = 0
        self.is_changed = False
        """Whether an earlier run was found whose settings differ, so that its rows do not count."""
        for source in (self.path, self.part):
            if source.exists() and not _is_audit(source):
                raise RangeError(f"{source} exists and is not the JSON Lines file of an audit: choose another --out")
        self._files: dict[int, BinaryIO] = {}
        try:
            self._open(is_fresh)
            self._take_in(shards)
        except BaseException:
            self.close()
            raise

    def _open(self, is_fresh: bool) -> None:
        """Open both files and take in what counts of them."""
        if not is_fresh and self.path.exists():
            self._files[_FINISHED] = self.path.open("rb")
            self._read(_FINISHED)
        writer = self._files[_UNDER_WAY] = self.part.open("r+b" if self.part.exists() else "x+b")
        _lock(writer, self.part)
        # What follows the last whole log is the rest of an interrupted write.
        self._end = 0 if is_fresh else self._read(_UNDER_WAY)
        writer.truncate(self._end)
        if self._end == 0:
            self._append(json_line(self.header))

    def _take_in(self, shards: Sequence[Path]) -> None:
        """Take in what the audits of shards have judged."""
        for source, path in enumerate(shards, start=_MERGED):
            if not _is_audit(path):
                raise RangeError(f"{path} is not the JSON Lines file of an audit: name those that the shards wrote")
            self._files[source] = path.open("rb")
            if self._read(source) == 0:
                raise RangeError(f"{path} was judged by other settings, or by another version of the program: judge "
                                 "all shards with the options of the merge")  # fmt: skip

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None,
                 trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        """Close the files; what was added stays for the next run."""
        for file in self._files.values():
            file.close()

    def is_done(self, target: Target) -> bool:
        """Return whether the rows of a file are there, of the size and time it has now."""
        return target.path in self._entries

    def add(self, target: Target, rows: Iterable[Row]) -> None:
        """Append the rows of a file, in one piece."""
        lines = b"".join(json_line({"record": "hold", **row.record()}) for row in rows)
        self._entries[target.path] = _Entry(_UNDER_WAY, self._end, len(lines))
        self._append(lines)

    def _append(self, lines: bytes) -> None:
        writer = self._files[_UNDER_WAY]
        writer.seek(self._end)
        writer.write(lines)
        writer.flush()
        self._end += len(lines)

    def records(self) -> Iterator[tuple[int, list[Json]]]:
        """Yield place and rows of each file that is done, in the order of paths."""
        for place, path in enumerate(sorted(self._entries)):
            entry = self._entries[path]
            file = self._files[entry.source]
            file.seek(entry.offset)
            yield place, [json.loads(line) for line in file.read(entry.length).splitlines()]

    def finish(self) -> None:
        """Forget the unfinished file, once the finished one is in place."""
        self.close()
        self.part.unlink(missing_ok=True)

    def _read(self, source: int) -> int:
        """Take in the whole logs of a source; return the offset behind the last of them, 0 if none counts. [bytes]"""
        file = self._files[source]
        first = file.readline()
        head = _parsed(first)
        # Other inputs change no row of a file that both have.
        if head is None or {**head, "inputs": self.header["inputs"]} != self.header:
            self.is_changed = self.is_changed or head is not None
            return 0
        good = len(first)
        path, begin, lines = None, good, 0
        offset = good
        for line in file:
            record = _parsed(line)
            if record is None:
                break
            if record.get("record") != "hold":
                offset += len(line)
                continue
            if record["path"] != path:
                path, begin, lines = record["path"], offset, 0
            lines += 1
            offset += len(line)
            if lines == max(record["holds"] or 0, 1):
                good = offset
                target = self._targets.get(record["path"])
                if target is not None and _is_valid(record, target):
                    self._entries[record["path"]] = _Entry(source, begin, offset - begin)
        return good


def _is_valid(record: Json, target: Target) -> bool:
    """Tell whether the row of an earlier run still stands: the same file, told the same, and no passing fault."""
    if target.size is None or target.fault is not None or record["is_to_retry"]:
        return False
    known = (record["size_bytes"], record["modified_us"], record["told"])
    return known == (target.size, target.modified, told_text(target))


def _lock(file: BinaryIO, path: Path) -> None:
    """Keep a second audit from writing the same files, where the system can; the lock ends with the process."""
    try:
        import fcntl
    except ImportError:  # not on this system
        return
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as problem:
        raise RangeError(f"another audit is writing {path}: wait for it, or choose another --out") from problem
    except OSError:  # not on this file system
        return


def _parsed(line: bytes) -> Json | None:
    """Return the record of a line; ``None`` where the line is torn or is none."""
    if not line.endswith(b"\n"):
        return None
    try:
        record = json.loads(line)
    except ValueError:
        return None
    return record if isinstance(record, dict) else None


def _is_audit(path: Path) -> bool:
    with path.open("rb") as file:
        line = file.readline(1 << 20)
    record = _parsed(line)
    # An interruption can tear even the first line.
    begin = json_line({"record": "audit"}).rstrip(b"}\n")
    is_torn = path.suffix == ".part" and b"\n" not in line and (line.startswith(begin) or begin.startswith(line))
    return is_torn or (record is not None and record.get("record") == "audit")
