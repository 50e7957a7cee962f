"""The lesson as a whole: what a rule passes, what that loses, how length and volume change it, and two holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from decay.constants import STANDARD_ATMOSPHERE
from decay.errors import RangeError
from decay.impact.assess import Impact, assess
from decay.interval import Interval
from decay.lesson.holds import Pair, find_pair
from decay.lesson.passing import Proof, RuleCurve, rule_and_proof, rule_in_volume
from decay.lesson.terms import SIZES, Terms
from decay.physics import refrigerant
from decay.physics.refrigerant_table import lookup

SHORT = 1800.0  # s
LONGER, SHORTER = (1.0, 3.0, 6.0), (1.0, 1.0 / 3.0, 1.0 / 6.0)
"""Lengths of hold that are compared, in stated holds: with a short hold longer ones, with a long one shorter ones."""
VOLUMES = (1.0 / 3.0, 3.0)
"""Volumes that are compared with the stated one, in stated volumes."""
EVERY = 4
"""Of the leak sizes, one in so many is analysed in full."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, eq=False)
class Lesson:
    """What a lesson shows; every share was counted in invented jobs."""

    terms: Terms  # what it is about
    meanings: tuple[Impact, ...]  # what each leak size means, the first one (no leak) included
    # How often the rule passes in the stated volume, by length of hold; the stated length first
    rules: tuple[RuleCurve, ...]
    proofs: tuple[Proof, ...]  # what the logs prove: with the stated length of hold, and with the last of the lengths
    # How often the rule passes the same leaks with the stated length: smaller, stated and larger volume
    volumes: tuple[RuleCurve, ...]
    pair: Pair  # two holds side by side
    remarks: tuple[str, ...] = ()  # what the loss and the time to half the charge rest on, where it is not the usual

    def half(self, index: int) -> tuple[float, float]:
        """Return the time until half the charge is gone with one leak, laminar and molecular. [s]"""
        times = self.meanings[index].until_empty
        if times is None:
            raise RangeError("the loss of this refrigerant cannot be stated at this temperature")
        return 0.5 * times.laminar.value, 0.5 * times.molecular.value

    def loss(self, index: int) -> tuple[float, float]:
        """Return the loss of refrigerant through one leak, laminar and molecular. [kg/s]"""
        found = self.meanings[index].loss
        if found is None:
            raise RangeError("the loss of this refrigerant cannot be stated at this temperature")
        return found.laminar.value, found.molecular.value


def teach(terms: Terms, progress: Progress | None = None, pair: Pair | None = None) -> Lesson:
    """Make a lesson.

    Parameters
    ----------
    terms : Terms
        What it is about.
    progress : callable, optional
        Told how many pieces of work are done, and of how many.
    pair : Pair, optional
        The two holds, where they were found already.

    Raises
    ------
    RangeError
        If the loss cannot be stated for the refrigerant at the temperature.
    """
    meanings = tuple(meaning_of(terms, float(leak)) for leak in terms.leaks)
    if meanings[0].loss is None:
        raise RangeError(" ".join(meanings[0].remarks))
    indices = np.concatenate(([0], np.arange(1, SIZES + 1, EVERY))).astype(np.int64)
    total = terms.runs * (1 + len(VOLUMES)) + terms.proof_runs * len(indices)
    done = 0

    def told(more: int) -> None:
        nonlocal done
        done += more
        if progress is not None:
            progress(done, total)

    lengths = LONGER if terms.hold <= SHORT else SHORTER
    rules, proofs = rule_and_proof(terms, tuple(x * terms.hold for x in lengths), indices, told)
    smaller, larger = (rule_in_volume(terms, x * terms.volume.value, told) for x in VOLUMES)
    pair = find_pair(terms) if pair is None else pair
    return Lesson(terms, meanings, rules, proofs, (smaller, rules[0], larger), pair, remarks_on(terms))


def meaning_of(terms: Terms, leak: float) -> Impact:
    """Return what a leak of a known size means: `decay.impact` with nothing uncertain but the temperature.

    Parameters
    ----------
    terms : Terms
        What the lesson is about.
    leak : float
        Rise that it makes in the stated volume. [Pa/s]
    """
    return assess(Interval(leak, leak, leak), leak, terms.system)


def remarks_on(terms: Terms) -> tuple[str, ...]:
    """Return what the loss and the time to half the charge rest on, where it is not the usual."""
    fluid = lookup(terms.refrigerant)
    standing = refrigerant.standing_state(fluid, terms.ambient, terms.charge, terms.volume.value)
    remarks = list(standing.remarks)
    if standing.pressure <= STANDARD_ATMOSPHERE:
        remarks.append(
            f"{fluid.name} stands below atmospheric pressure at this temperature: at rest air leaks in, and nothing "
            "leaks out."
        )
    if standing.is_saturated:
        vapour = refrigerant.vapour_density(fluid, terms.ambient) * terms.volume.value
        if vapour > 0.5 * terms.charge:
            remarks.append(
                "Before half the charge is gone the last liquid is: from then on the pressure falls, and the rest "
                "takes longer than stated."
            )
    return tuple(remarks)
