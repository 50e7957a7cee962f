"""The finding that stands for a required rule which could not answer."""

from __future__ import annotations

from collections.abc import Mapping

from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer


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


def finding_for(titles: Mapping[str, str]) -> Finding:
    """Return the finding that required rules, by code and title, did not answer."""
    listed = "; ".join(f"{title.lower()} ({code})" for code, title in titles.items())
    summary = f"Not answered ({len(titles)} questions): {listed}."
    brief = "a required question was not answered"
    return Finding("V01", Level.BLOCKS, summary, {"questions": float(len(titles))}, headline=brief)
