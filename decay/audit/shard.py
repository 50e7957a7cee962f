"""One audit in pieces, for many machines: which logs a shard judges, and what its files are called."""

from __future__ import annotations

import re
from dataclasses import dataclass

from decay.audit.collect import Target
from decay.errors import RangeError


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
