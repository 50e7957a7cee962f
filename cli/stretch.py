"""A stretch of a log on the command line: what cannot be read of it is told as a usage error."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from decay import stretch
from decay.errors import DecayError

if TYPE_CHECKING:
    from decay import PressureLog


class StretchType(click.ParamType):
    """START..END as a person says it; kept as two texts until the log is read."""

    name = "stretch"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the two texts."""
        if not isinstance(value, str):
            return value
        try:
            return stretch.parse_stretch(value)
        except DecayError as problem:
            self.fail(str(problem), param, ctx)


def stretch_of(hold: tuple[str, str], log: PressureLog) -> tuple[float, float]:
    """Return the stretch that --hold names, as times since the first row. [s]"""
    with _told():
        return stretch.stretch_of(hold, log)


def moment(text: str, started: str | None, clock_start: float | None = None) -> float:
    """Return what --hold-from names as time since the first row. [s]"""
    with _told():
        return stretch.moment(text, started, clock_start=clock_start)


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except DecayError as problem:
        raise click.UsageError(f"--hold: {problem}") from problem
