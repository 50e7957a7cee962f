"""Files on which the reader once stumbled, and what it must do with each; and a short run of the damaged logs."""

import time
from pathlib import Path

import numpy as np
import pytest
from writing import MICRONS, accounted, codes

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, read_log
from tests.faults.run import run

FOUND = Path(__file__).parent / "faults_found"


def read(name: str, **options: object) -> PressureLog:
    before = time.process_time()
    try:
        log = read_log(FOUND / f"{name}.csv", ReadOptions(**options))  # type: ignore[arg-type]
    finally:
        assert time.process_time() - before < 1.0
    assert accounted(log)
    return log


def test_one_damaged_cell_does_not_turn_the_decimal_mark():
    log = read("decimal_mark_by_one_cell")
    assert log.pressure[0] == pytest.approx(45.3)  # 0,453 mbar; once read as 453 mbar
    assert np.median(log.pressure) < 50


def test_over_range_rows_before_the_first_reading():
    log = read("over_range_before_data")
    assert (log.gauge, log.rows, log.duration) == ("pressure", 30, 58.0)  # "HI" was once taken for the gauge's name
    assert log.is_over_range.sum() == 6
    assert "over-range-guessed" in codes(log)


def test_an_offset_of_two_days_is_no_zone():
    log = read("zone_of_two_days")  # its first row once ended the reading in an error of the program
    assert log.started is not None
    assert log.started.endswith("+02:00")
    assert "time-unreadable" in codes(log)


def test_a_cell_of_many_letters_takes_no_time():
    log = read("long_cells")
    assert len(log.time) == len(MICRONS) - 2
    assert all(len(note.text) < 500 for note in log.notes)


def test_endless_names_are_cut_in_messages():
    with pytest.raises(LogError, match="time") as caught:
        read("long_names")
    assert len(str(caught.value)) < 2000


def test_an_endless_word_is_cut_in_messages():
    with pytest.raises(LogError, match="below atmosphere") as caught:
        read("long_word_for_gauge")
    assert len(str(caught.value)) < 2000


def test_the_time_is_no_temperature():
    with pytest.raises(LogError, match="--temperature-column"):
        read("time_named_as_temperature", temperature="1")


def test_an_epoch_beyond_the_calendar():
    log = read("epoch_beyond_calendar")
    assert log.started is None


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_damaged_logs(seed):
    """A sample of what `python -m tests.faults --count 200000` does by hand: one fault in a hundred logs is seen.

    That in 99 % of samples, for they are 450 in all.
    """
    tally = run(range(150), seed)
    assert [what for what, _ in tally.faults] == []
    assert tally.read > 30  # a reader that refuses all would pass, too
    assert tally.refused > 30
