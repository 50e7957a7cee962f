"""A few holds in a row as one table: the problem of `decay.several.chain` written out whole.

The table grows as the square of the number of holds, and so does the time that one column more takes. But its columns
in use and their factors serve again for every rate that is asked for; a chain works them out anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from decay.arrays import FloatArray
from decay.fit.mixture import Solution
from decay.fit.non_negative import Along, NonNegative
from decay.several.chain import Link, of_unit_length

MOST = 12
"""Holds up to which it is quicker than a chain: at ten the first fit takes half the time and each further rate a
seventh, at thirty three times and as much. [-]"""


class FewHolds:
    """All holds as one non-negative least-squares problem in the shared rate and in what each source gives in each.

    Parameters
    ----------
    links : sequence of Link
        The holds, in order of time. Nothing is kept before the first.
    """

    def __init__(self, links: Sequence[Link]) -> None:
        self.links = links
        own, kept, right = of_unit_length(links)
        self._line, self._target = right[:, 0].ravel(), right[:, 1].ravel()
        self._columns = _written_out(own, kept)
        self._begun: FloatArray | None = None  # where the search at a rate begins
        self.freedom = max(1, sum(len(link.target) for link in links) - 1)

    def best(self) -> Solution:
        """Return the best fit over rate and sources together."""
        norm = float(np.linalg.norm(self._line))
        found, rest = NonNegative(np.vstack((self._line / norm, self._columns))).fit(self._target)
        self._begun = found[1:]
        return Solution(float(found[0] / norm), found[1:], rest**2)

    @cached_property
    def misfit(self) -> Along:
        """The least misfit with the shared rate held at a value [Pa/s], a function of it. [-]"""
        return Along(NonNegative(self._columns, self._begun), self._target, -self._line)


def _written_out(own: FloatArray, kept: FloatArray) -> FloatArray:
    """Return what each source beyond what a later hold asks of it gives in its own hold and in all before. [-]

    One in each row, by hold and source, with the readings of all holds one after the other.
    """
    holds, sources, readings = own.shape
    table = np.zeros((holds, sources, holds, readings))
    for last in range(holds):
        share = np.ones(sources)
        for i in range(last, -1, -1):
            table[last, :, i] = own[i] * share[:, None]
            share = share * kept[i]
    return table.reshape(holds * sources, holds * readings)
