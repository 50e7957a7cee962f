"""The manual: pages in Markdown that ship with the program, one a topic, and the codes as the program knows them."""

from __future__ import annotations

from difflib import get_close_matches
from importlib.resources import files

from decay.errors import RangeError

CODES = "codes"
"""The topic that is written from the rules themselves, so that it cannot fall behind."""
ORDER = (
    "first-job", "reading-logs", "units", "several-holds", "warm-hold", "criteria", CODES, "audit", "defaults",
    "teaching", "python", "json", "limits", "cautions", "glossary",
)  # fmt: skip


def topics() -> dict[str, str]:
    """Return the topics in reading order, each with the title of its page."""
    return {topic: page(topic).partition("\n")[0].removeprefix("# ") for topic in ORDER}


def page(topic: str) -> str:
    """Return the page of a topic as Markdown.

    Parameters
    ----------
    topic : str
        One of `topics`.

    Raises
    ------
    RangeError
        If there is no such topic.
    """
    if topic == CODES:
        return _codes()
    if topic not in ORDER:
        near = get_close_matches(topic, ORDER, n=1)
        meant = f' Did you mean "{near[0]}"?' if near else ""
        raise RangeError(f'there is no topic "{topic}".{meant} Topics: {", ".join(ORDER)}')
    return (files(__package__) / f"{topic}.md").read_text(encoding="utf-8")


def _codes() -> str:
    from decay.audit.manual import row_titles

    listed = "\n".join(f"- {code}: {title}" for code, title in sorted(row_titles().items()))
    return (
        "# Codes of the findings\n\n"
        "Each reason, caveat and next step carries a code. `decay explain CODE`\n"
        "shows its page: what it looks for, why it matters, when it is wrong;\n"
        "`decay explain --search WORD` lists the codes whose page has a word.\n"
        "The codes that begin with A come from `decay audit` only.\n\n"
        f"{listed}\n"
    )
