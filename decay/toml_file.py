"""Reads a TOML file of the user's, bounded in size and depth, from a regular file and from nothing else."""

from __future__ import annotations

import os
import stat
import tomllib
from pathlib import Path
from typing import Any

LARGEST = 1 << 20
"""Nobody writes a megabyte of criteria or of a job by hand. [bytes]"""


def read_toml(path: str | os.PathLike[str]) -> dict[str, Any]:
    """Return what a TOML file says.

    Parameters
    ----------
    path : str or path-like
        The file.

    Returns
    -------
    dict
        Its tables.

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
    if state.st_size > LARGEST:
        raise ValueError(f"larger than {LARGEST >> 20} MiB, which nobody writes by hand")
    try:
        return tomllib.loads(place.read_bytes().decode("utf-8"))
    except RecursionError:
        raise ValueError("nested too deep") from None
