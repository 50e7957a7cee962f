"""What the codes of an audit mean: its own, and those that it shares with the verdict on one log."""

from __future__ import annotations

from collections.abc import Callable
from inspect import getdoc
from typing import Any

from decay.audit import trend
from decay.audit.checks import CHECKS
from decay.judge import rules

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
