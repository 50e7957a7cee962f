"""The files of the program, each parsed once for all rules of the house."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIBRARY = sorted(ROOT.glob("decay/**/*.py"))
SOURCES = [*LIBRARY, *sorted(ROOT.glob("cli/*.py"))]


@cache
def tree_of(path: Path) -> ast.Module:
    """Return a file's syntax."""
    return ast.parse(path.read_text(encoding="utf-8"))
