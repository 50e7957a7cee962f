"""What a rule is: a code, the place of its findings, and a function whose docstring is its manual page."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from decay.judge.case import Case
from decay.judge.finding import Finding, Level

SECTIONS = (
    "What it looks for",
    "Why it matters",
    "When it is wrong",
    "Example log",
    "What to do",
    "References",
)
"""Headings of a manual page, in order."""


class Role(StrEnum):
    """Where in the verdict a rule's findings stand."""

    REASON = "reason"
    CAVEAT = "caveat"
    NEXT_STEP = "next step"


Answer = tuple[Finding, ...] | None
"""What a rule found; ``None`` where it could not answer."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule."""

    code: str  # stable for ever
    title: str  # its name in a few words
    place: Role  # where its findings stand
    examine: Callable[[Case], Answer]  # from a case to the findings; its docstring is the manual page
    is_required: bool = False  # without its answer there is no pass

    @property
    def page(self) -> str:
        """The manual page: title, place, and the sections of the docstring."""
        heading = f"{self.code}  {self.title}  ({self.place.value})"
        return f"{heading}\n{'=' * len(heading)}\n\n{inspect.getdoc(self.examine) or ''}\n"


def unanswered(case: Case) -> Answer:
    """
    What it looks for
        A required rule that could not answer, most often because there is no hold that it could look at.
    Why it matters
        A question without an answer is not a pass. "No findings" is not a pass.
    When it is wrong
        Never: it states what was not answered.
    Example log
        A log that is only a pumpdown.
    What to do
        See the finding that says why, and the next steps.
    References
        None.
    """
    del case
    return ()


def finding_for_unanswered(titles: Mapping[str, str]) -> Finding:
    """Return the finding that required rules, by code and title, did not answer."""
    listed = "; ".join(f"{title.lower()} ({code})" for code, title in titles.items())
    summary = f"Not answered ({len(titles)} questions): {listed}."
    brief = "a required question was not answered"
    return Finding("V01", Level.BLOCKS, summary, {"questions": float(len(titles))}, headline=brief)
