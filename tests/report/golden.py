"""Every short output of invented analyses, as it was when somebody last looked at it: `python -m tests.report.golden`.

The numbers are synthetic, so that a change here is a change of words or of layout, and never of the estimator.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from decay.analysis import Analysis
from decay.report.answers import picture_text
from decay.report.detail import summary
from decay.report.short_summary import short_summary, table
from tests.report import factories

FOLDER = Path(__file__).parent / "golden"
MAKERS: tuple[Callable[[], Analysis], ...] = (
    factories.tight, factories.leaking, factories.leaking_and_damp, factories.damp, factories.bare,
    factories.many_caveats, factories.no_hold, factories.three_holds, factories.unbounded,
)
WIDTHS = (60, 80, 100)


def outputs() -> dict[str, str]:
    """Return every output by the name of its file."""
    made = {f"{maker.__name__}.txt": _of(maker()) for maker in MAKERS}
    found = [maker() for maker in MAKERS]
    made["table.txt"] = "".join(
        _part(f"table, {width} columns{', ASCII' if plain else ''}", table(found, width=width, ascii_only=plain))
        for width in WIDTHS for plain in (False, True)
    )
    return made


def _of(analysis: Analysis) -> str:
    parts = [_part(f"summary, {width} columns{', ASCII' if plain else ''}",
                   short_summary(analysis, width=width, ascii_only=plain))
             for width in WIDTHS for plain in (False, True)]
    parts += [_part(f"detail, {width} columns", summary(analysis, width=width)) for width in WIDTHS]
    parts.append(_part("detail, 80 columns, ASCII", summary(analysis, width=80, ascii_only=True)))
    parts.append(_part("picture", "\n".join(picture_text(analysis)) + "\n"))
    return "".join(parts)


def _part(title: str, text: str) -> str:
    return f"=== {title}\n{text}"


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, text in outputs().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
