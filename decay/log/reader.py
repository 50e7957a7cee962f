"""The way in: one call from a file to a pressure log."""

from __future__ import annotations

import os
import warnings
from typing import BinaryIO

from decay.errors import LogError
from decay.log.harmonise import harmonise
from decay.log.options import ReadOptions
from decay.log.pressure_log import PressureLog
from decay.log.source import load
from decay.log.table import look

_DEFAULT = ReadOptions()


def read_log(source: str | os.PathLike[str] | BinaryIO, options: ReadOptions = _DEFAULT) -> PressureLog:
    """Return the pressure log in a file.

    Parameters
    ----------
    source : str, path or binary file
        The file; ``"-"`` is standard input. A ``.gz`` file is unpacked.
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
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # pandas warns of guesses that are not used here
        return harmonise(look(load(source, options), options), options)


__all__ = ["LogError", "read_log"]
