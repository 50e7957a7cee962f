"""What the codes of an audit mean: its own, and those that it shares with the verdict on one log."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from inspect import getdoc
from typing import Any

from decay.audit import trend
from decay.audit.checks import CHECKS
from decay.judge import rules
from decay.judge.rules.rule import SECTIONS
from decay.wording.lines import WIDEST, wrapped

SCHEMA_VERSION = 1

_SHARED = frozenset(rules.finding_codes())
_OWN: dict[str, tuple[str, Callable[..., Any]]] = {
    **{check.code: (check.title, check.examine) for check in CHECKS if check.code not in _SHARED},
    trend.SLOWER: (trend.TITLES[trend.SLOWER], trend.rig_gets_slower),
    trend.SHALLOWER: (trend.TITLES[trend.SHALLOWER], trend.lowest_gets_worse),
}


def own_titles() -> dict[str, str]:
    """Return the title of every code that only an audit gives."""
    return {code: title for code, (title, _) in _OWN.items()}


def row_titles() -> dict[str, str]:
    """Return the title of every code that may stand in a row."""
    return {**rules.finding_titles(), **own_titles()}


def matching(word: str) -> tuple[str, ...]:
    """Return the codes whose title or page has a word, in either case; those with it in their title first."""
    wanted = word.strip().casefold()
    known = sorted(row_titles().items())
    named = [code for code, title in known if wanted in title.casefold()]
    return (*named, *(code for code, _ in known if code not in named and wanted in practice_page(code).casefold()))


def manual_document(codes: Iterable[str]) -> dict[str, Any]:
    """Return a JSON document: of each code its title and the sections of its page, headings with underscores."""
    known = row_titles()
    return {"schema_version": SCHEMA_VERSION, "codes": [
        {"code": code, "title": known[code],
         **{heading.lower().replace(" ", "_"): said for heading, said in _sections(practice_page(code)).items()}}
        for code in codes
    ]}


def _sections(text: str) -> dict[str, str]:
    """Return the sections of a page, each in one line, by their headings."""
    found: dict[str, list[str]] = {}
    for line in text.splitlines():
        if line in SECTIONS:
            found[line] = []
        elif found and line.strip():
            found[list(found)[-1]].append(line.strip())
    return {heading: " ".join(lines) for heading, lines in found.items()}


def practice_page(code: str, width: int = WIDEST) -> str:
    """Return the manual page of a code that may stand in a row, set to a width. [characters]

    Raises
    ------
    RangeError
        If there is no such code.
    """
    wanted = code.strip().upper()
    if wanted in _OWN:
        title, source = _OWN[wanted]
        head = f"{wanted}  {title}  (audit)"
        text = f"{head}\n{'=' * len(head)}\n\n{getdoc(source) or ''}\n"
    else:
        text = rules.explain(code)
    heading, _, body = text.partition("\n\n")
    lines = [line for name, said in _sections(body).items() for line in (name, *wrapped(said, width, "    ", "    "))]
    return "\n".join([heading, "", *lines]) + "\n"
