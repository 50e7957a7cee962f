"""How a file comes into being whole or not at all, and replaces nothing that it was not asked to replace."""

from __future__ import annotations

import os
import secrets
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
        If the folder cannot be written to, or the disk is full. After an accident of any kind, an interruption
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
    # A name of its own, not the target's with something added: that may be too long for the file system.
    draft = place.with_name(f".decay-{secrets.token_hex(6)}.part")
    try:
        yield draft
        if replace:
            draft.replace(place)
        else:
            _move_to_free(draft, place)
    except BaseException:
        draft.unlink(missing_ok=True)
        raise


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
    raise FileExistsError(f"{place} exists and is not overwritten unasked")
