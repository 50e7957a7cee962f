"""What the codes of an audit mean: its own, and those that it shares with the verdict on one log."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from inspect import getdoc
from typing import Any

from decay.audit import trend
from decay.audit.checks import CHECKS
from decay.judge import rules
from decay.judge.rules.rule import SECTIONS

SCHEMA_VERSION = 1

_SHARED = frozenset(rules.codes())
_OWN: dict[str, tuple[str, Callable[..., Any]]] = {
    **{check.code: (check.title, check.examine) for check in CHECKS if check.code not in _SHARED},
    trend.SLOWER: (trend.TITLES[trend.SLOWER], trend.rig_gets_slower),
    trend.SHALLOWER: (trend.TITLES[trend.SHALLOWER], trend.lowest_gets_worse),
}


def own_titles() -> dict[str, str]:
    """Return the title of every code that only an audit gives."""
    return {code: title for code, (title, _) in _OWN.items()}


def titles() -> dict[str, str]:
    """Return the title of every code that may stand in a row."""
    return {**rules.titles(), **own_titles()}


def matching(word: str) -> tuple[str, ...]:
    """Return the codes whose title or page has a word, in either case; those with it in their title first."""
    wanted = word.strip().casefold()
    known = sorted(titles().items())
    named = [code for code, title in known if wanted in title.casefold()]
    return (*named, *(code for code, _ in known if code not in named and wanted in page(code).casefold()))


def document(codes: Iterable[str]) -> dict[str, Any]:
    """Return the pages of codes as a JSON document.

    Parameters
    ----------
    codes : iterable of str
        Codes that may stand in a row.

    Returns
    -------
    dict
        Strict JSON: of each code its title and the sections of its page by their headings, with underscores.
    """
    known = titles()
    return {"schema_version": SCHEMA_VERSION,
            "codes": [{"code": code, "title": known[code], **_sections(page(code))} for code in codes]}


def _sections(text: str) -> dict[str, str]:
    """Return the sections of a page, each in one line, by their headings."""
    found: dict[str, list[str]] = {}
    for line in text.splitlines():
        if line in SECTIONS:
            found[line] = []
        elif found and line.strip():
            found[list(found)[-1]].append(line.strip())
    return {heading.lower().replace(" ", "_"): " ".join(lines) for heading, lines in found.items()}


def page(code: str) -> str:
    """Return the manual page of a code that may stand in a row.

    Parameters
    ----------
    code : str
        In either case.

    Returns
    -------
    str
        Title, what it looks for, why it matters, when it is wrong, an example, what to do, references.

    Raises
    ------
    RangeError
        If there is no such code.
    """
    wanted = code.strip().upper()
    if wanted not in _OWN:
        return rules.explain(code)
    title, source = _OWN[wanted]
    heading = f"{wanted}  {title}  (audit)"
    return f"{heading}\n{'=' * len(heading)}\n\n{getdoc(source) or ''}\n"
