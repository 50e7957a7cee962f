"""One file, one defect: what each note or error says, and that every row left out is accounted for."""

import gzip
from pathlib import Path

import numpy as np
import pytest
from writing import accounted, codes, read_text, rows, table

from decay.errors import LogError
from decay.log import ReadOptions, read_log

BROKEN = Path(__file__).parent / "broken"

# file: code of the note, its line, rows it takes out
NOTED = {
    "error_word_in_hold": ("pressure-missing", 17, 1),
    "over_range_at_start": ("over-range-guessed", 2, 0),
    "over_range_in_vent": ("over-range-guessed", 21, 0),
    "above_stated_limit": ("over-range-guessed", 2, 0),
    "empty_pressure": ("pressure-missing", 11, 1),
    "nan_pressure": ("pressure-missing", 11, 1),
    "sentinel": ("sentinel-missing", 11, 1),
    "negative_reading": ("reading-wrong", 17, 1),
    "unreadable_time": ("time-unreadable", 9, 1),
    "duplicate_time": ("duplicate-time", 10, 1),
    "rows_out_of_order": ("time-disorder", 10, 0),
    "repeated_header": ("repeated-header", 9, 0),
    "footer": ("text-line", 24, 0),
    "torn_row": ("row-torn", 9, 1),
    "nul_bytes": ("nul-bytes", 2, 0),
}
REFUSED = {
    "empty": "is empty", "header_only": "no line looks like", "one_row": "fewer than two",
    "all_over_range": "over range|no column looks like a pressure", "no_pressure": "no column looks like a pressure",
    "two_gauges": "several columns could be the pressure(.|\n)*--gauge", "no_unit": "--unit",
    "vacuum_negative": "below atmosphere", "vacuum_named": "below atmosphere", "vacuum_rising": "below atmosphere",
    "vacuum_kpa": "below atmosphere", "no_time": "--time-unit", "dates": "--day-first", "binary": "binary",
    "spreadsheet": "(?s)spreadsheet.*CSV", "text": "no line looks like",
}  # fmt: skip


@pytest.mark.parametrize("name", NOTED)
def test_noted(name):
    code, line, out = NOTED[name]
    log = read_log(BROKEN / f"{name}.csv")
    found = [note for note in log.notes if note.code == code]
    assert [(note.line, note.rows) for note in found] == [(line, out)], log.notes
    assert accounted(log)
    assert log.rows - len(log.time) == out


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name):
    with pytest.raises(LogError, match=REFUSED[name]) as caught:
        read_log(BROKEN / f"refused_{name}.csv")
    assert caught.value.expected
    assert caught.value.remedy


def test_every_file_is_used():
    extra = {"half_row", "stray_quote"}
    names = {path.stem for path in BROKEN.iterdir()}
    assert names == set(NOTED) | {f"refused_{name}" for name in REFUSED} | extra


def test_half_row_is_accounted_for():
    log = read_log(BROKEN / "half_row.csv")
    assert log.rows == 23
    assert len(log.time) == 22
    assert accounted(log)


def test_stray_quote_swallows_nothing():
    log = read_log(BROKEN / "stray_quote.csv")
    assert len(log.time) == 22
    assert log.pressure[7] == pytest.approx(430 * 0.133322387415)


def test_over_range_is_kept_without_a_number():
    log = read_log(BROKEN / "over_range_at_start.csv")
    assert log.is_over_range.sum() == 3
    assert np.isnan(log.pressure[:3]).all()


def test_option_settles_over_range():
    log = read_log(BROKEN / "error_word_in_hold.csv", ReadOptions(over_range=("err",)))
    assert log.is_over_range[15]
    assert codes(log) == ["over-range-declared"]
    log = read_log(BROKEN / "sentinel.csv", ReadOptions(over_range=("99999",)))
    assert log.is_over_range[9]


def test_no_such_file(tmp_path):
    with pytest.raises(LogError, match="no such file"):
        read_log(tmp_path / "none.csv")
    with pytest.raises(LogError, match="folder"):
        read_log(tmp_path)


def test_packed(tmp_path):
    path = tmp_path / "log.csv.gz"
    whole = gzip.compress(table(rows()).encode())
    path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(LogError, match="cut short"):
        read_log(path)
    path.write_bytes(whole + whole[:-9])
    with pytest.raises(LogError, match="cut short"):
        read_log(path)
    path.write_bytes(whole + gzip.compress(b"footer\n") + b"\x00" * 700)  # two members and padding
    assert len(read_log(path).time) == 22


def test_monsters(tmp_path):
    with pytest.raises(LogError, match="characters"):
        read_text(tmp_path, "1," * 200_000)
    with pytest.raises(LogError, match="fields"):
        read_text(tmp_path, ("1," * 5000 + "\n") * 5)


def test_a_misspelt_name_is_told_with_the_nearest(tmp_path):
    (tmp_path / "monday.csv").write_text("")
    with pytest.raises(LogError, match=r"Did you mean .*monday\.csv\?"):
        read_log(tmp_path / "mondya.csv")
    with pytest.raises(LogError, match="there is no folder"):
        read_log(tmp_path / "jobs" / "monday.csv")


@pytest.mark.parametrize(("names", "again"), [
    ("t [s],p [Torr]", "t [s],p [mbar]"), ("t [s],p [Torr]", "p [Torr],t [s]"),
    ("t [s],p [Torr],T [°C]", "t [s],p [Pa],T [°C]"),
])
def test_names_that_change_the_columns_or_the_unit_half_way_are_refused(tmp_path, names, again):
    cells = ",20" if "°C" in names else ""
    some, more = ([f"{t},{760 - t}{cells}\n" for t in range(first, first + 30)] for first in (0, 30))
    with pytest.raises(LogError, match="named anew") as refused:
        read_text(tmp_path, names + "\n" + "".join(some) + again + "\n" + "".join(more))
    assert refused.value.line == 32
    assert len(read_text(tmp_path, names + "\n" + "".join(some) + names + "\n" + "".join(more)).time) == 60
    # Names below the last reading change nothing that is read.
    assert len(read_text(tmp_path, names + "\n" + "".join(some) + again + "\n").time) == 30
