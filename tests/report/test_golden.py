"""What the program prints, to the letter, at 60, 80 and 100 columns and in plain ASCII."""

from __future__ import annotations

import pytest

from tests.report.golden import FOLDER, MAKERS, outputs

MADE = outputs()


@pytest.mark.parametrize("name", sorted(MADE))
def test_the_output_is_as_it_was(name: str) -> None:
    # Where the change is meant: python -m tests.report.golden, and read what it wrote.
    assert MADE[name] == (FOLDER / name).read_text(encoding="utf-8")


def test_no_file_stands_for_nothing() -> None:
    assert {path.name for path in FOLDER.iterdir()} == {f"{maker.__name__}.txt" for maker in MAKERS} | {"table.txt"}
