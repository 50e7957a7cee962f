"""What the README shows: blocks of command lines, the output printed below them, and the pictures that they make."""

from __future__ import annotations

import contextlib
import re
import shlex
import shutil
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from click.testing import CliRunner, Result

from decay_cli.main import decay

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
PICTURES = ROOT / "sample_logs" / "pictures"
MADE_WITH = PICTURES / "made_with.toml"
"""Which matplotlib drew the pictures: another one sets letters and margins a little differently."""

_FENCED = re.compile(r"^```(\w+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
_PICTURE = re.compile(r"!\[[^\]]*\]\(([^)]+)\)")
_MORE = "...\n"


@dataclass(frozen=True)
class Block:
    """Command lines that belong together, and what the README shows of what they give.

    Parameters
    ----------
    lines : tuple of (str, int)
        Command lines, each with the exit code that stands behind it as ``# exit N``; 0 where none does.
    output : str or None
        What is shown of the last line's standard output: its beginning, up to a line of three dots.
    pictures : tuple of Path
        Pictures that are shown before the next block; the block's lines leave them in the working directory.
    """

    lines: tuple[tuple[str, int], ...]
    output: str | None
    pictures: tuple[Path, ...]


def blocks(text: str) -> list[Block]:
    """Return the blocks of command lines in order; those that set the program up are left aside."""
    fences = [match for match in _FENCED.finditer(text) if match[1] == "sh" and re.search("^decay ", match[2], re.M)]
    ends = [*(match.start() for match in fences[1:]), *([len(text)] if fences else [])]
    found = []
    for match, end in zip(fences, ends, strict=True):
        lines = tuple(_command(line) for line in match[2].splitlines() if line.startswith("decay "))
        below = text[match.end() : end]
        shown = next((fence[2] for fence in _FENCED.finditer(below) if fence[1] == "text"), None)
        output = None if shown is None else shown.removesuffix(_MORE)
        found.append(Block(lines, output, tuple(ROOT / name for name in _PICTURE.findall(below))))
    return found


def _command(line: str) -> tuple[str, int]:
    command, _, code = line.partition("  # exit ")
    return command.strip(), int(code or 0)


def run(block: Block, folder: Path) -> list[Result]:
    """Run a block's lines in order in a folder that holds the sample logs, and nothing else before the first."""
    shutil.copytree(ROOT / "sample_logs", folder / "sample_logs")
    # On one core an audit works in this process; that its rows do not hang on that is for the audit's own tests.
    with contextlib.chdir(folder), mock.patch("os.sched_getaffinity", return_value={0}, create=True):
        return [CliRunner().invoke(decay, shlex.split(line)[1:]) for line, _ in block.lines]
