"""The fast way to read a table against pandas, to the last bit: clean logs take it, others are handed over."""

import datetime as dt
import gzip
import random
from pathlib import Path

import pytest

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions
from tests.faults.seeds import microns, whole_logs
from tests.faults.ways import difference, read_by_pandas, read_counting

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = sorted(path for path in (ROOT / "sample_logs").iterdir() if path.name.endswith((".csv", ".csv.gz")))
WHOLE = whole_logs()
START = dt.datetime(2026, 3, 14, 8, 57, 0)


def agreed(data: bytes, **options: object) -> tuple[PressureLog | LogError, bool]:
    """Return the log and whether the fast way took it; both ways must say the same."""
    given = ReadOptions(**options)  # type: ignore[arg-type]
    answer, was_fast = read_counting(data, given)
    assert difference(answer, read_by_pandas(data, given)) is None
    return answer, was_fast


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.name)
def test_sample_logs(path):
    data = path.read_bytes()
    answer, was_fast = agreed(gzip.decompress(data) if path.suffix == ".gz" else data)
    assert isinstance(answer, PressureLog)
    assert was_fast


@pytest.mark.parametrize("number", range(0, len(WHOLE) - 1))
def test_dialects(number):
    agreed(WHOLE[number])


FORMS = {
    "iso": lambda t: t.isoformat(), "blank": lambda t: t.isoformat(" "), "zoned": lambda t: f"{t.isoformat()}+05:30",
    "fraction": lambda t: (t + dt.timedelta(milliseconds=500)).isoformat(timespec="milliseconds"),
    "some fractions": lambda t: (t + dt.timedelta(milliseconds=500 * (t.second % 2))).isoformat(),
    "unpadded": lambda t: f"{t.month}/{t.day}/{t.year} {t.hour % 12 or 12}:{t:%M:%S} {t:%p}",
    "local": lambda t: f"{t:%d.%m.%Y %H:%M:%S}", "named": lambda t: f"{t:%d-%b-%Y %H:%M:%S}",
    "clock": lambda t: f"{t:%H:%M:%S}", "unpadded clock": lambda t: f"{t.hour}:{t:%M:%S}",
    "elapsed": lambda t: f"{(t - START).total_seconds():g}", "short year": lambda t: f"{t:%d/%m/%y %H:%M:%S}",
}  # fmt: skip
NUMBERS = {
    "whole": "{:.0f}", "tenths": "{:.1f}", "wide": "{:012.4f}", "short": "{:.4g}", "scientific": "{:.3E}",
    "signed": "{:+.2f}", "endless": "{!r}", "shortest": "{:g}",
}  # fmt: skip


def table(form: str, number: str, mark: str, rng: random.Random, *, comma: bool = False, padded: bool = False,
          words: bool = False, end: str = "\n") -> bytes:
    lines = [mark.join(("Time", "Pressure (micron)", "Temp (C)"))]
    for row, value in enumerate(microns(rng, 120)):
        moment = FORMS[form](START + dt.timedelta(seconds=3 * row))
        shown = NUMBERS[number].format(max(value, 1.0))
        if words and row < 3:
            shown = "OL"
        cells = [moment.replace(" ", "_", 1) if mark == " " else moment, shown, f"{20 + row % 7 / 10:.1f}"]
        if comma:
            cells[1:] = [cell.replace(".", ",") for cell in cells[1:]]
        lines.append((mark + " " * padded).join(cells))
    return (end.join(lines) + end).encode()


@pytest.mark.parametrize("number", NUMBERS)
@pytest.mark.parametrize("form", FORMS)
def test_forms(form, number):
    rng = random.Random(f"{form} {number}")
    mark = (",", ";", "\t", "|")[(list(FORMS).index(form) + list(NUMBERS).index(number)) % 4]  # each form meets each
    comma = mark != "," and rng.random() < 0.5
    data = table(form, number, mark, rng, comma=comma, padded=rng.random() < 0.3, words=rng.random() < 0.3,
                 end=rng.choice(("\n", "\r\n")))
    answer, was_fast = agreed(data)
    assert isinstance(answer, PressureLog)
    assert was_fast or number == "endless" or form == "short year"


def test_one_odd_cell_hands_over():
    """Each cell here is one that the two might take for different things: the fast way must not decide."""
    rng = random.Random(4)
    lines = table("iso", "tenths", ",", rng).decode().splitlines()
    for odd in ("inf", "-Infinity", "0x1F", "1_000", "1,5", "12345678901234567890", "-0.0", " 7", "7 ", "1e400", "True",
                "", "nan", "NaN", "NA", ".", "-", "+5", '"8"', '"8', "5.", ".5", "1E5", "1e-300", "5 micron"):
        at = len(lines) // 2
        row = lines[at].split(",")
        data = "\n".join([*lines[:at], f"{row[0]},{odd},{row[2]}", *lines[at + 1 :], ""]).encode()
        agreed(data)
        data = "\n".join([*lines[:at], f"{row[0]},{row[1]},{odd}", *lines[at + 1 :], ""]).encode()
        agreed(data)


@pytest.mark.parametrize("blanks", ["", "\n", "\n\n\n", "\r\n", "# end\n", "\n# end\n", ",,\n", "end of log\n", " \n"])
def test_what_follows_the_data(blanks):
    agreed(table("iso", "tenths", ",", random.Random(5)) + blanks.encode())


def test_a_block_of_its_own_width():
    """Dates that grow by a digit where a block of rows ends."""
    rows = "".join(f"{second},{second % 97 + 100}\n" for second in range(70_000))
    answer, was_fast = agreed(("Time s,Pressure (micron)\n" + rows).encode())
    assert was_fast
    assert len(answer.time) == 70_000
