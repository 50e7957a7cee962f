"""Every error that `decay` raises on purpose, on one screen.

Exceptions are for "there is nothing to work on" and for a caller's mistake. What a technician should
weigh is never an exception: it is a finding in the result.
"""

from __future__ import annotations


class DecayError(Exception):
    """Base of every deliberate error."""


class UnitError(DecayError, ValueError):
    """A quantity without a unit, with an unknown unit, or with a unit of the wrong kind."""


class RangeError(DecayError, ValueError):
    """A value outside the range in which a formula or an option means anything."""


class CriterionError(DecayError, ValueError):
    """A criterion, table or job file of the user's that cannot be used."""


class FitError(DecayError):
    """Too few or unusable readings for the fit that was asked for."""


class LogError(DecayError):
    """A log that cannot be read, told in four parts: where, found, expected, what to do.

    Parameters
    ----------
    path : str
        The file as the user named it; ``"-"`` for standard input.
    found : str
        What stands there, as a clause: ``'pressure is "OL", which is not a number'``.
    expected : str
        What was expected instead, as a sentence.
    remedy : str
        What to do next, naming the option that settles it where there is one.
    line : int, optional
        Line number in the file, counted from 1. [-]
    column : str, optional
        Name of the column.
    """

    def __init__(
        self,
        path: str,
        found: str,
        expected: str,
        remedy: str,
        *,
        line: int | None = None,
        column: str | None = None,
    ) -> None:
        self.path = path
        self.found = found
        self.expected = expected
        self.remedy = remedy
        self.line = line
        self.column = column
        super().__init__(self._text())

    def _text(self) -> str:
        where = "standard input" if self.path == "-" else self.path
        if self.line is not None:
            where += f", line {self.line}"
        if self.column is not None:
            where += f', column "{self.column}"'
        return f"{where}: {self.found}.\n       {self.expected}\n       {self.remedy}"
