"""Reads the published tables beside it: comment lines carry the source, the first other line the columns."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    lines = (HERE / name).read_text(encoding="utf-8").splitlines()
    found = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert found, f"{name} has no rows"
    return found


def half_last_digit(printed: str) -> float:
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5001 * 10.0**exponent
