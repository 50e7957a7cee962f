"""Which column is judged, what is no gauge, and what a column of valve states says. All data are synthetic."""

from __future__ import annotations

import io
import warnings

import numpy as np
import pytest
from writing import MICRONS, accounted, codes, rows, table

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, Valve, read_log
from decay.quantities import MICRON


def read(text: str, **options: object) -> PressureLog:
    return read_log(io.BytesIO(text.encode()), ReadOptions(**options))  # type: ignore[arg-type]


def wide(names: tuple[str, ...], *columns: list[object]) -> str:
    body = [(*row, *(str(column[i]) for column in columns)) for i, row in enumerate(rows())]
    return table(body, ("Time", "Pressure (micron)", *names))


@pytest.mark.parametrize("name", ["t(s)", "t/s", "t [s]", "time [min]", "t (min)", "t_s", "t", "Zeit", "t in s"])
def test_names_of_times(name: str) -> None:
    log = read(f"{name};P (micron)\n" + "".join(f"{10 * i};{v}\n" for i, v in enumerate(MICRONS)))
    assert log.gauge == "P (micron)"
    assert log.duration == 210 * (60 if "min" in name else 1)


@pytest.mark.parametrize("first", ["# t (s){m}P (micron)", "#t (s){m}P (micron)", "[t (s){m}P (micron)]",
                                   "(t (s){m}P (micron)", "% t (s){m}P (micron)", "// t (s){m}P (micron)",
                                   "#{m}t (s){m}P (micron)"])
@pytest.mark.parametrize("mark", [",", "\t", "  "])
def test_a_mark_before_the_first_name_shifts_no_name(first: str, mark: str) -> None:
    text = first.format(m=mark) + "\n" + "".join(f"{i}{mark}{v}\n" for i, v in enumerate(MICRONS))
    log = read(text)
    assert log.gauge == "P (micron)"
    np.testing.assert_allclose(log.pressure, np.array(MICRONS) * MICRON)


def test_the_time_is_never_taken_for_a_pressure() -> None:
    """Without names the hint must not lead to the time column being analysed."""
    text = "".join(f"{2 * i + 5};{v};{v * 9}\n" for i, v in enumerate(MICRONS))
    with pytest.raises(LogError) as caught:
        read(text, unit="micron")
    assert 'e.g.  --gauge "column 1"' not in caught.value.remedy
    for column in ("1", "column 1"):
        with pytest.raises(LogError, match="counts the time"):
            read(text, unit="micron", gauge=column, time_unit="5 s")


@pytest.mark.parametrize("name", ["p error (micron)", "dp (micron)", "sigma (micron)", "+/- (micron)", "± micron",
                                  "uncertainty [micron]", "p std (micron)", "err_micron"])
def test_columns_of_errors_are_no_gauges(name: str) -> None:
    log = read(wide((name,), [v // 20 for v in MICRONS]))
    assert (log.gauge, list(log.other_gauges)) == ("Pressure (micron)", [])


def test_two_identical_columns_are_one_gauge() -> None:
    log = read(wide(("P copy (micron)",), list(MICRONS)))
    assert list(log.other_gauges) == []
    assert codes(log) == ["columns-same"]


def test_many_columns_that_agree_are_not_apart() -> None:
    names = tuple(f"P{i} (micron)" for i in range(60))
    log = read(wide(names, *([v + i for v in MICRONS] for i in range(1, 61))))
    assert log.gauge == "Pressure (micron)"
    assert len(log.other_gauges) == 60


@pytest.mark.parametrize(("names", "judged"), [
    (("pump (micron)", "P2 (micron)"), "P2 (micron)"), (("P1 (micron)", "far end (micron)"), "far end (micron)"),
    (("manifold micron", "evaporator micron"), "evaporator micron"), (("A (micron)", "B (micron)"), "A (micron)"),
])  # fmt: skip
def test_the_far_side_by_its_name(names: tuple[str, str], judged: str) -> None:
    body = [(*row, str(int(row[1]) + 2)) for row in rows()]
    assert read(table(body, ("Time", *names))).gauge == judged


def test_the_far_side_by_its_readings() -> None:
    """In the pull the far gauge lags; when the valve closes the pump's gauge meets it."""
    near = [v if i < 16 else far for i, (v, far) in enumerate(zip(MICRONS, MICRONS, strict=True))]
    far = [round(v * 1.5) if i < 16 else v for i, v in enumerate(MICRONS)]
    body = [(*row, str(other)) for row, other in zip(rows(near), far, strict=True)]
    log = read(table(body, ("Time", "A (micron)", "B (micron)")))
    assert log.gauge == "B (micron)"
    assert "farther from the pump" in log.notes[0].text


def test_a_gauge_without_a_unit_is_compared_as_the_numbers_stand() -> None:
    body = [(*row, str(round(v * 1.25))) for row, v in zip(rows(MICRONS), MICRONS, strict=True)]
    log = read(table(body, ("Time", "pressure", "B (micron)")))
    assert [note.text for note in log.notes if note.code == "gauges-differ"] == [
        '"B (micron)" reads 25 % above "pressure", which is judged.']


def test_a_gauge_at_its_top_is_not_compared() -> None:
    top = 300
    body = [(*row, str(min(v, top))) for row, v in zip(rows(MICRONS), MICRONS, strict=True)]
    assert sum(v >= top for v in MICRONS) >= 8
    assert "gauges-differ" not in codes(read(table(body, ("Time", "A (micron)", "B (micron)"))))


def test_two_gauges_that_differ_say_by_how_much() -> None:
    log = read(wide(("B (micron)",), [round(v * 1.25) for v in MICRONS]))
    assert [note.text for note in log.notes if note.code == "gauges-differ"] == [
        '"B (micron)" reads 25 % above "Pressure (micron)", which is judged.']
    assert "gauges-differ" not in codes(read(wide(("B (micron)",), [round(v * 1.05) for v in MICRONS])))


@pytest.mark.parametrize(("name", "open_", "closed"), [
    ("Valve", "OPEN", "CLOSED"), ("valve state", "open", "shut"), ("Status", "pumping", "hold"), ("closed", "0", "1"),
    ("valve open", "1", "0"), ("Valve", "1", "0"), ("Ventil", "offen", "zu"), ("mode", "Evacuate", "Isolated"),
    ("column", "Open", "Closed"),
])  # fmt: skip
def test_a_column_of_valve_states(name: str, open_: str, closed: str) -> None:
    log = read(wide((name,), [open_ if i < 16 else closed for i in range(22)]))
    assert [(mark.time, mark.valve, mark.word, mark.line) for mark in log.marks] == [
        (0.0, Valve.OPEN, open_, 2), (160.0, Valve.CLOSED, closed, 18)]
    assert log.marks[0].column == name
    (note,) = (note for note in log.notes if note.code == "valve-stated")
    assert "closed at 160 s" in note.text
    assert (name == "Valve" and open_ == "1") == ("taken as open" in note.text)


def test_a_mark_that_stands_once_holds_for_the_rows_below() -> None:
    words = [""] * 22
    words[3], words[16] = "pump on", "valve closed"
    log = read(wide(("Remark / event",), words))
    assert [(mark.time, mark.valve) for mark in log.marks] == [(30.0, Valve.OPEN), (160.0, Valve.CLOSED)]


def test_a_mark_in_a_row_without_a_reading() -> None:
    body = [(*row, "") for row in rows()]
    body.insert(16, ("2026-03-14 09:02:35", "", "valve closed"))
    log = read(table(body, ("Time", "P (micron)", "Event")))
    assert [(mark.time, mark.valve) for mark in log.marks] == [(160.0, Valve.CLOSED)]
    assert accounted(log)


@pytest.mark.parametrize(("name", "words"), [("Status", ("OK", "LOW BATT")), ("flag", ("0", "1")),
                                             ("Valve", ("1", "1")), ("Note", ("a", "b"))])
def test_other_words_are_no_marks(name: str, words: tuple[str, str]) -> None:
    assert read(wide((name,), [words[i > 15] for i in range(22)])).marks == ()


def test_a_unit_that_a_column_states_is_not_asked_for() -> None:
    """Two gauges far apart and a column of units: the gauge is asked for, and nothing else."""
    lines = [f"{10 * i},{4.0 + i % 3:.1f},{1700.0 + i % 3:.1f},Pascal" for i in range(40)]
    with pytest.raises(LogError) as refused:
        read("\n".join(["Time (s),Gauge 1,Gauge 2,Units", *lines]))
    assert '--gauge "Gauge 1"' in str(refused.value)
    assert "--unit" not in str(refused.value)


def test_columns_as_far_apart_as_a_float_reaches_are_told_apart() -> None:
    lines = [f"{10 * i},{250.0 + i % 3:.1f},{'1e308' if i % 2 else '1e-308'}" for i in range(40)]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        log = read("\n".join(["Time (s),p1 (micron),p2 (micron)", *lines]), gauge="p1 (micron)")
    assert log.gauge == "p1 (micron)"


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_column_of_row_numbers_headed_by_the_sign_of_a_comment_keeps_the_names_in_place(mark):
    body = [(str(i + 1), str(10 * i), str(v)) for i, v in enumerate(MICRONS)]
    log = read(table(body, ("#", "time_s", "Vacuum (micron)"), mark))
    assert log.gauge == "Vacuum (micron)"
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)))


def test_short_names_below_a_title_are_names_and_no_line_of_units():
    body = [(str(1780614593000 + 10000 * i), str(v), "") for i, v in enumerate(MICRONS)]
    log = read("Vacuum log\n" + table(body, ("ts", "P/micron", "Note"), "|"))
    assert log.gauge == "P/micron"


def test_pounds_that_do_not_say_from_where_they_count_are_refused_with_the_option():
    body = [(str(10 * i), str(v)) for i, v in enumerate(MICRONS)]
    with pytest.raises(LogError, match="psia"):
        read(table(body, ("time_s", "Vacuum [psi]")))


@pytest.mark.filterwarnings("error")
def test_numbers_beyond_any_pressure_in_two_columns_are_compared_without_a_warning():
    beyond = {2: "1e200", 5: "2e200", 9: "2e200"}
    body = [(str(10 * i), beyond.get(i, str(v)), beyond.get(i, str(v + 3))) for i, v in enumerate(MICRONS)]
    assert len(read(table(body, ("time_s", "far (micron)", "near (micron)"))).time) == len(MICRONS) - len(beyond)
