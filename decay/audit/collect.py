"""Which files an audit judges: by folder, pattern or list, all of them or one shard of many."""

from __future__ import annotations

import glob
import multiprocessing
import os
import re
import stat
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath

from decay.errors import RangeError

ENDINGS = (".csv", ".txt", ".tsv", ".tab", ".log", ".dat")
"""Endings of the files that are taken from a folder, also followed by ``.gz``; a named file may end in anything."""
JOB_LISTS = ("decay-jobs.csv", "decay-jobs.toml")
"""Names under which a list of jobs stands beside the logs; it is no log."""
LONGEST_SEARCH = 10.0
"""Time after which an expression that groups the paths is given up. [s]"""
NO_GROUP = "(none)"
"""Group of a log that the grouping does not tell apart."""


@dataclass(frozen=True, slots=True)
class Target:
    """One file to audit."""

    path: str  # the file, below the folder as the user named it, with forward slashes
    size: int | None  # its size; ``None`` where there is no such file [bytes]
    modified: int | None  # when it was last written, in whole microseconds of the system's clock [1e-6 s]
    fault: str | None = None  # why it cannot be read, where that is known before it is opened
    told: tuple[tuple[str, str], ...] = ()  # what the job list says of it: name of a quantity, and its text
    technician: str | None = None  # who did the job, by the job list


def collect(paths: Iterable[str], leave_out: Iterable[str | os.PathLike[str]] = ()) -> tuple[Target, ...]:
    """Return the files that the paths mean.

    Parameters
    ----------
    paths : iterable of str
        Files, folders (read with all folders in them) and globs (``**`` for any depth).
    leave_out : iterable of str or path
        Files that are never taken: the audit's own output.

    Returns
    -------
    tuple of Target
        Each file once, in the order of their paths, whatever the order of the arguments. A path that leads to nothing
        is a target too: the audit then says so in its row instead of passing it over.

    Raises
    ------
    RangeError
        If a path is standard input, or all paths together lead to no file at all, as a misspelt one does.

    Notes
    -----
    Files whose name begins with a dot are passed over in folders and globs. A linked file is followed, a linked
    folder is not.
    """
    own = {os.path.realpath(path) for path in leave_out}
    found: dict[str, Target] = {}
    asked = tuple(paths)
    for path in asked:
        if path == "-":
            raise RangeError("an audit reads files and folders, not standard input: name them")
        faults: dict[str, str] = {}
        for name in [*_expand(path, faults), *faults]:
            real = os.path.realpath(name)
            if real in own:
                continue
            target = _target(name) if name not in faults else Target(Path(name).as_posix(), None, None, faults[name])
            # One file under two names is taken under the name that sorts first, whatever the order of the arguments.
            if real not in found or target.path < found[real].path:
                found[real] = target
    if not any(target.size is not None or target.fault is not None for target in found.values()):
        raise RangeError(
            f"no log was found in {', '.join(asked) or 'no path at all'}"
            f"{'' if any(map(os.path.lexists, asked)) else ': there is no such file or folder'}.\n"
            f"       Of a folder the files that end in {', '.join(ENDINGS)} are taken, packed with .gz or not.\n"
            '       Name the files, or use a glob in quotes, for example: "jobs/**/*.prn"'
        )
    return tuple(sorted(found.values(), key=lambda target: target.path))


def _expand(path: str, faults: dict[str, str]) -> list[str]:
    """Return the files that a path means; folders that cannot be read go into ``faults`` with the reason."""

    def note(problem: OSError) -> None:
        faults[str(problem.filename)] = f"the folder cannot be read: {problem.strerror or problem}"

    if os.path.isdir(path):
        inside = []
        for folder, folders, files in os.walk(path, onerror=note):
            folders[:] = [name for name in folders if not name.startswith(".")]
            inside += [os.path.join(folder, name) for name in files if _is_taken(name)]
        return inside
    if os.path.lexists(path) or not glob.has_magic(path):
        return [path]
    return [name for name in glob.glob(path, recursive=True) if os.path.isfile(name)] or [path]


def _is_taken(name: str) -> bool:
    bare = name.lower().removesuffix(".gz")
    return not name.startswith(".") and bare.endswith(ENDINGS) and name not in JOB_LISTS


def _target(name: str) -> Target:
    path = Path(name).as_posix()
    try:
        state = os.stat(name)
    except (OSError, ValueError):
        return Target(path, None, None)
    # A pipe or a device may never end, and a pipe may never begin.
    fault = None if stat.S_ISREG(state.st_mode) else "it is no file but a pipe, a device or a socket"
    return Target(path, state.st_size, state.st_mtime_ns // 1000, fault)


def job_name(path: str) -> str:
    """Return the name of a job: its file without folder and endings.

    Examples
    --------
    >>> job_name("north/2026-03-18 van.csv.gz"), job_name(".gz")
    ('2026-03-18 van', '.gz')
    """
    name = PurePath(path).name
    bare = name[:-3] if name.lower().endswith(".gz") and len(name) > 3 else name
    return PurePath(bare).stem


def grouping(rule: str) -> Callable[[str], str]:
    """Return the function that names the group of a path.

    Parameters
    ----------
    rule : str
        A whole number: the folder so many levels above the file, 1 being the one it is in. Anything else: a regular
        expression that is searched in the path; its first group in brackets is the name, or all that it matches.

    Returns
    -------
    callable
        From a path to the name of its group, `NO_GROUP` where the rule finds none.

    Raises
    ------
    RangeError
        If the number is not positive, or the expression is not one.

    Examples
    --------
    >>> grouping("1")("jobs/van 7/monday.csv"), grouping("2")("jobs/van 7/monday.csv")
    ('van 7', 'jobs')
    >>> grouping(r"rig(\\d+)")("jobs/rig12 monday.csv"), grouping("north|south")("jobs/east.csv")
    ('12', '(none)')
    """
    if re.fullmatch(r"[+-]?\d+", rule):
        level = int(rule)
        if level < 1:
            raise RangeError(f"a folder level is 1 (the folder that the log is in) or more, got {level}")

        def folder(path: str) -> str:
            above = [part for part in PurePath(path).parts[:-1] if part not in ("/", ".")]
            return above[-level] if len(above) >= level else NO_GROUP

        return folder
    expression = _expression(rule)

    def match(path: str) -> str:
        hit = expression.search(path)
        if hit is None:
            return NO_GROUP
        return (hit.group(1) if expression.groups else hit.group(0)) or NO_GROUP

    return match


def _expression(rule: str) -> re.Pattern[str]:
    try:
        return re.compile(rule)
    except (re.error, OverflowError, RecursionError) as problem:
        raise RangeError(f"{rule!r} is not a regular expression ({problem}): write it like rig(\\d+)") from problem


def groups(rule: str, paths: Sequence[str]) -> dict[str, str]:
    """Return the group of each path, or refuse an expression that does not come to an end.

    Parameters
    ----------
    rule : str
        As for `grouping`.
    paths : sequence of str
        The files.

    Raises
    ------
    RangeError
        As `grouping`, and if the expression takes longer than `LONGEST_SEARCH` for all paths together.

    Notes
    -----
    An expression can take longer than the universe is old, and nothing inside a process stops it: it is tried in one
    of its own.
    """
    name_of = grouping(rule)
    if re.fullmatch(r"[+-]?\d+", rule) or not _may_run_away(rule):
        return {path: name_of(path) for path in paths}
    context = multiprocessing.get_context("spawn")
    with context.Pool(1) as pool:
        try:
            return dict(zip(paths, pool.apply_async(_named, (rule, list(paths))).get(LONGEST_SEARCH), strict=True))
        except multiprocessing.TimeoutError as problem:
            raise RangeError(
                f"--group: {rule!r} takes longer than {LONGEST_SEARCH:g} s on these paths: write it without repeats "
                "inside of repeats, like rig(\\d+)") from problem


def _may_run_away(rule: str) -> bool:
    """Tell whether an expression repeats more than one thing: a single repeat takes no longer than the path is."""
    return len(re.findall(r"[*+?}]", rule)) > 1


def _named(rule: str, paths: Sequence[str]) -> list[str]:
    name_of = grouping(rule)
    return [name_of(path) for path in paths]


@dataclass(frozen=True, slots=True)
class Shard:
    """The ``number``-th of ``count`` shards, counted from 1. [-]"""

    number: int
    count: int

    def of(self, targets: tuple[Target, ...]) -> tuple[Target, ...]:
        """Return the shard's own files: every ``count``-th, so that long and short logs spread over all shards."""
        return targets[self.number - 1 :: self.count]

    def name(self, out: str) -> str:
        """Return the name of its files.

        Examples
        --------
        >>> Shard(3, 10).name("march")
        'march-03of10'
        """
        return f"{out}-{self.number:0{len(str(self.count))}d}of{self.count}"


def parse_shard(text: str) -> Shard:
    """Return the shard that a text names.

    Parameters
    ----------
    text : str
        Its number and how many there are, like ``3/10``.

    Raises
    ------
    RangeError
        If it is not written so, or there is no such shard.

    Examples
    --------
    >>> parse_shard("3/10")
    Shard(number=3, count=10)
    """
    hit = re.fullmatch(r"(\d{1,6})/(\d{1,6})", text.strip(), re.ASCII)
    if hit is None or not 1 <= int(hit[1]) <= int(hit[2]):
        raise RangeError(f'"{text}" names no shard: write the number of the shard and of all shards, like 3/10')
    return Shard(int(hit[1]), int(hit[2]))
