"""One number, one spelling: whatever a text says in micron a minute stands in the document, and nothing beside it."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

import decay
from decay import wording
from decay.analysis import Analysis
from decay.audit.collect import Target
from decay.audit.extract import rows_of
from decay.report.answers import picture_text

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
JOBS = {
    "leak": ("leaking_slowly.csv", {"volume": "12.15 L", "refrigerant": "R134a", "ambient": "23 degC"}),
    "damp": ("tight_but_damp.csv", {"volume": "6.65 L", "ambient": "23 degC"}),
    "leak and damp": ("leak_with_damp.csv", {"allow": "2 micron/min"}),
    "accelerating": ("accelerating_leak.csv", {}),
    "from oil": ("refrigerant_from_oil.csv", {"volume": "3 L", "refrigerant": "R134a", "ambient": "23 degC"}),
    "several holds": ("triple_evacuation.csv.gz", {"volume": "5 L", "refrigerant": "R134a", "ambient": "23 degC"}),
    "rig": ("rig_leak.csv", {"volume": "4 L"}),
}
NUMBER = r"(?<![\w.])(\d[\d,]*(?:\.\d+)?(?:e-?\d+)?)"
RATES = re.compile(rf"{NUMBER} micron/min(?: \({NUMBER} to {NUMBER}\))?")
LOSSES = re.compile(rf"(?:{NUMBER} to )?{NUMBER} g/year(?: \({NUMBER} to {NUMBER}\))?")


@cache
def judged(name: str) -> Analysis:
    file, told = JOBS[name]
    if not (SAMPLES / file).exists():
        pytest.skip(f"{file} is not among the samples")
    return decay.analyze(SAMPLES / file, **told)


def rates_in(document: object, is_rate: bool = False) -> list[float]:
    """Return every number of a document that its key says is in micron a minute."""
    if isinstance(document, dict):
        return [x for key, value in document.items()
                for x in rates_in(value, is_rate or "micron_per_min" in key or key == "leak")]
    if isinstance(document, (list, tuple)):
        return [x for value in document for x in rates_in(value, is_rate)]
    return [float(document)] if is_rate and isinstance(document, (int, float)) else []


def spelled(text: str, rates: re.Pattern[str] = RATES) -> list[tuple[str, bool]]:
    """Return every rate that a text says, and whether it is said as a lower end."""
    found = []
    for match in rates.finditer(" ".join(text.split())):
        is_least = match.string[: match.start()].endswith(("at least ", "between "))
        found += [(number, is_low) for number, is_low in zip(match.groups(), (is_least, True, False), strict=True)
                  if number]
    return found


def is_spelling_of(text: str, values: list[float], *, is_low: bool = False) -> bool:
    """Tell whether a printed number is one of some values, rounded to the digits that it shows: an end outwards."""
    bare = text.replace(",", "")
    mantissa, _, power = bare.partition("e")
    places = len(mantissa.partition(".")[2])
    half = 0.5 * 10.0 ** (int(power or 0) - places)
    if "." not in mantissa:  # trailing zeros of a whole number may be rounded ones
        half *= 10 ** (len(mantissa) - len(mantissa.rstrip("0"))) if mantissa.strip("0") else 1
    off = (float(bare) - value for value in values)
    return any(-2.0 * half < x <= 1e-9 if is_low else -half * 1.0001 <= x < 2.0 * half for x in off)


@pytest.mark.parametrize("name", JOBS)
def test_every_rate_that_a_text_says_stands_in_the_document(name: str) -> None:
    analysis = judged(name)
    known = rates_in(analysis.to_dict())
    texts = {
        "summary": analysis.summary(),
        "detail": analysis.summary(detail=True),
        "picture": "\n".join(picture_text(analysis)),
    }
    for where, text in texts.items():
        found = spelled(text)
        assert found or where != "detail"
        strange = [number for number, is_low in found if not is_spelling_of(number, known, is_low=is_low)]
        assert not strange, (where, strange)


@pytest.mark.parametrize("name", JOBS)
def test_the_leak_of_the_answer_is_the_verdicts(name: str) -> None:
    analysis = judged(name)
    verdict = analysis.to_dict()["verdict"]
    ends = [verdict["leak"]["value"], verdict["leak"]["low"], verdict["leak"]["high"],
            verdict["detection_limit_micron_per_min"]]
    line = next(text for text in picture_text(analysis) if text.startswith("Leak: "))
    numbers = spelled(line)
    assert numbers
    assert all(is_spelling_of(number, ends, is_low=is_low) for number, is_low in numbers), line


@pytest.mark.parametrize("name", JOBS)
def test_an_audit_row_has_the_document_s_numbers(name: str) -> None:
    analysis = judged(name)
    document = analysis.to_dict()
    rows = rows_of(Target("made.csv", 1, 1), analysis, None)
    fitted = [row for row in rows if row.leak_micron_per_min is not None]
    assert len(fitted) == len(document["holds"])
    for row, hold in zip(fitted, document["holds"], strict=True):
        rate = hold["leak"]["rate_micron_per_min"]
        assert (row.leak_micron_per_min, row.leak_low_micron_per_min, row.leak_high_micron_per_min) == (
            rate["value"], rate["low"], rate["high"])
        assert row.detection_limit_micron_per_min == hold["smallest_detectable"]["rate_micron_per_min"]
        assert row.cause == hold["cause"]


def test_a_spelling_is_a_rounding_and_nothing_more() -> None:
    assert is_spelling_of("12,300", [12345.6])
    assert is_spelling_of("0.30", [0.2961])
    assert not is_spelling_of("0.30", [0.31])
    assert not is_spelling_of("3.05", [3.0])
    assert is_spelling_of("2.3e-6", [2.34e-6])
    assert is_spelling_of("1.9", [1.98], is_low=True)
    assert not is_spelling_of("2.0", [1.98], is_low=True)


@pytest.mark.parametrize("name", JOBS)
def test_the_end_of_the_interval_has_one_spelling(name: str) -> None:
    analysis = judged(name)
    high = wording.rate_ends(analysis.basis.leak)[1]
    text = " ".join(analysis.summary(detail=True).split())
    told = re.findall(r"(?:readings rule out a leak above|up to|at most) ([\d.,]+) micron/min", text)
    assert set(told) <= {high}


def losses_in(document: object, is_loss: bool = False) -> list[float]:
    """Return every number of a document that its key says is in grams a year."""
    if isinstance(document, dict):
        return [x for key, value in document.items() for x in losses_in(value, is_loss or key.endswith("_g_per_year"))]
    if isinstance(document, (list, tuple)):
        return [x for value in document for x in losses_in(value, is_loss)]
    return [float(document)] if is_loss and isinstance(document, (int, float)) else []


@pytest.mark.parametrize("name", ["leak", "from oil", "several holds"])
def test_every_loss_that_a_text_says_stands_in_the_document(name: str) -> None:
    analysis = judged(name)
    known = losses_in(analysis.to_dict())
    texts = (analysis.summary(), analysis.summary(detail=True), "\n".join(picture_text(analysis)))
    for text in texts:
        found = [number for match in LOSSES.finditer(" ".join(text.split())) for number in match.groups() if number]
        assert found
        # An end is rounded outward, a bound upward: either way by less than one step of its last digit.
        strange = [n for n in found if not (is_spelling_of(n, known) or is_spelling_of(n, known, is_low=True))]
        assert not strange


def test_what_a_hold_gives_alone_is_the_same_beside_the_others() -> None:
    analysis = judged("several holds")
    document = analysis.to_dict()
    each = document["joint"]["each_rate_micron_per_min"]
    alone = [hold["leak"]["rate_micron_per_min"] for hold in document["holds"]]
    assert each == [alone[index] for index in document["joint"]["holds_used"]]
    rests_on = next(hold["verdict_rests_on"] for hold in document["holds"] if hold["is_decisive"])
    assert rests_on["leak"]["rate_micron_per_min"] == document["verdict"]["leak"]
