"""Makes the README's pictures and shown outputs again, by its own command lines: ``python -m tests.readme.renew``."""

from __future__ import annotations

import shutil
import sys
import tempfile
from importlib.metadata import version
from pathlib import Path

from tests.readme.shown import MADE_WITH, PICTURES, README, Block, blocks, run


def paragraphs(text: str, count: int) -> str:
    """Return the first paragraphs of a text, the blank line behind the last one included."""
    return "\n\n".join(text.split("\n\n")[:count]) + "\n\n"


def renew(block: Block, text: str) -> str:
    """Run one block, keep its pictures, and return the README's text with its output as it is now."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        results = run(block, folder)
        for (line, code), result in zip(block.lines, results, strict=True):
            if result.exit_code != code:
                raise SystemExit(f"{line}\n{result.output}\nexit code {result.exit_code}, the README says {code}")
        for picture in block.pictures:
            shutil.copyfile(folder / picture.name, picture)
            print(picture.name)
    if block.output is None:
        return text
    shown = paragraphs(results[-1].stdout, len(block.output.rstrip("\n").split("\n\n")))
    return text.replace(f"```text\n{block.output}", f"```text\n{shown}")


def main() -> None:
    """Renew all of it; pictures that the README no longer shows are removed."""
    text = README.read_text(encoding="utf-8")
    shown = [block for block in blocks(text) if block.pictures or block.output is not None]
    for block in shown:
        text = renew(block, text)
    README.write_text(text, encoding="utf-8")
    MADE_WITH.write_text(f'matplotlib = "{version("matplotlib")}"\n', encoding="utf-8")
    for stray in set(PICTURES.glob("*.png")) - {picture for block in shown for picture in block.pictures}:
        stray.unlink()
        print(f"{stray.name}: no longer shown, removed")


if __name__ == "__main__":
    sys.exit(main())
