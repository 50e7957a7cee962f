"""How a file comes into being whole or not at all, and replaces nothing that it was not asked to replace."""

from __future__ import annotations

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def drafted(target: str | os.PathLike[str], *, replace: bool) -> Iterator[Path]:
    """Give a name to write to, and move what was written to its place once it is whole.

    Parameters
    ----------
    target : str or path-like
        Where the file goes; what a symbolic link points to is meant.
    replace : bool
        Whether a file that is there is replaced.

    Yields
    ------
    Path
        Name of a file that does not exist yet, in the same folder, so that the last step stays in one file system.

    Raises
    ------
    FileExistsError
        If the file exists by the time it is whole, and ``replace`` is false.
    OSError
        If the folder cannot be written to, the disk is full, or the name is that of a device or a pipe: only a regular
        file is ever replaced, also where a link leads to something else. After an accident of any kind, an interruption
        included, nothing is left behind.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with drafted(Path(folder, "a.txt"), replace=False) as draft:
    ...         _ = draft.write_text("whole")
    ...     sorted(path.name for path in Path(folder).iterdir())
    ['a.txt']
    """
    place = Path(os.path.realpath(target))
    _refuse_irregular(place)
    # A name of its own, not the target's with something added: that may be too long for the file system.
    draft = place.with_name(f".decay-{secrets.token_hex(6)}.part")
    try:
        yield draft
        if replace:
            _refuse_irregular(place)
            draft.replace(place)
        else:
            _move_to_free(draft, place)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise


def _refuse_irregular(place: Path) -> None:
    """Refuse a name that is taken by something else than a regular file or a folder."""
    try:
        mode = place.stat().st_mode
    except OSError:
        return  # nothing is there, or nothing that can be replaced: the last step tells
    if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
        raise OSError(errno.EINVAL, "no regular file, and nothing else is ever replaced; give another name", str(place))


def _move_to_free(draft: Path, place: Path) -> None:
    """Move a file to a name that is free; a file that appeared meanwhile is not replaced."""
    try:
        # A link, unlike a move, refuses to replace.
        os.link(draft, place)
    except FileExistsError:
        pass
    except OSError:
        # Not every file system has links; a memory stick's has none.
        if not os.path.lexists(place):
            draft.replace(place)
            return
    else:
        draft.unlink()
        return
    raise FileExistsError(f"{place} exists and is not overwritten")
