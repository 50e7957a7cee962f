"""The way in: one call from a file to a pressure log."""

from __future__ import annotations

import io
import os
from typing import BinaryIO, TextIO

from decay.errors import LogError
from decay.log.harmonise import harmonise
from decay.log.options import ReadOptions
from decay.log.pressure_log import PressureLog
from decay.log.source import load
from decay.log.table import look

_DEFAULT = ReadOptions()


def read_log(source: str | os.PathLike[str] | BinaryIO | TextIO, options: ReadOptions = _DEFAULT) -> PressureLog:
    """Return the pressure log in a file.

    Parameters
    ----------
    source : str, path or file
        The file, open or by its name; ``"-"`` is standard input. A ``.gz`` file is unpacked.
    options : ReadOptions
        What the user settles; everything else the content decides.

    Returns
    -------
    PressureLog
        Times, pressures and what was decided on the way.

    Raises
    ------
    LogError
        If there is no log in the file, with what was found, what was expected, and the option that settles it.
    """
    return harmonise(look(load(_bytes_of(source), options), options), options)


def _bytes_of(source: str | os.PathLike[str] | BinaryIO | TextIO) -> str | os.PathLike[str] | BinaryIO:
    """Return a source whose content is bytes: text that somebody opened as text is written in UTF-8."""
    if isinstance(source, (str, os.PathLike)):
        return source
    if not hasattr(source, "read"):
        raise TypeError(
            f"a log is read from a path, an open file or a DataFrame, not from {type(source).__name__}. "
            "For arrays of your own: PressureLog.from_frame(pandas.DataFrame({...}))"
        )
    if not isinstance(source, io.TextIOBase):
        return source  # type: ignore[return-value]
    content = io.BytesIO(source.read().encode("utf-8"))
    content.name = getattr(source, "name", "text")
    return content


__all__ = ["LogError", "read_log"]
