"""Reads a TOML file of the user's, bounded in size and depth, from a regular file, and finds the line of a key."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from collections.abc import Collection
from difflib import get_close_matches
from pathlib import Path
from typing import Any

LARGEST = 1 << 20
"""Nobody writes a megabyte of criteria or of a job by hand. [bytes]"""
DEEPEST = 32
"""Names that one dotted key may have; to read it takes the square of them. [-]"""
_TOO_DEEP = re.compile(rf"""(?<![\w"'-])(?:["'\w-]+[ \t]*\.[ \t]*){{{DEEPEST}}}""")


def read_toml(path: str | os.PathLike[str], largest: int = LARGEST) -> dict[str, Any]:
    """Return what a TOML file says.

    Parameters
    ----------
    path : str or path-like
        The file.
    largest : int
        Size beyond which it is refused. [bytes]

    Raises
    ------
    OSError
        If it cannot be opened.
    ValueError
        If it is no regular file, too large, nested too deep, or no TOML; the text says which.
    """
    place = Path(path)
    state = place.stat()
    if not stat.S_ISREG(state.st_mode) and not stat.S_ISDIR(state.st_mode):
        raise ValueError("a device or a pipe and no regular file")
    if state.st_size > largest:
        size = f"{largest >> 20} MiB" if largest >= 1 << 20 else f"{largest >> 10} KiB"
        raise ValueError(f"larger than {size}, which nobody writes by hand")
    text = place.read_bytes().decode("utf-8-sig")
    if _TOO_DEEP.search(text) is not None:
        raise ValueError("nested too deep")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise ValueError("nested too deep") from None


def not_known(name: str, known: Collection[str]) -> str:
    """Return that a name is none of those that are known, with the nearest of them.

    Examples
    --------
    >>> not_known("volumne", ["volume", "charge"])
    'there is no "volumne". Did you mean "volume"? Known: volume, charge'
    """
    near = get_close_matches(name.lower().replace("-", "_"), known, n=1)
    meant = f' Did you mean "{near[0]}"?' if near else ""
    return f'there is no "{name}".{meant} Known: {", ".join(known)}'


def line_of_key(text: str, key: str, table: str = "", number: int = 1) -> int | None:
    """Return the line at which a key stands, for a message.

    Parameters
    ----------
    text : str
        The file.
    key : str
        The key; empty for the heading of the table itself.
    table : str
        Heading that it stands under; empty for the top of the file.
    number : int
        Which of several tables with this heading, counted from 1. [-]

    Returns
    -------
    int or None
        Counted from 1; ``None`` where it is written in a way that this does not find, as within braces.

    Examples
    --------
    >>> line_of_key('volume = "3 L"\\n[[log]]\\nfile = "a"\\n[[log]]\\nfile = "b"', "file", "log", 2)
    5
    """
    heading, seen = "", 0
    for count, line in enumerate(text.splitlines(), 1):
        opened = re.match(r"\s*\[{1,2}\s*([^\[\]]+?)\s*\]", line)
        if opened is not None:
            heading = opened[1]
            seen += heading == table
            if not key and heading == table and seen == number:
                return count
        elif heading == table and (not table or seen == number) and re.match(
                rf"""\s*(["']?){re.escape(key)}\1\s*[=.]""", line) and key:
            return count
    return None
