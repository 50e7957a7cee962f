"""Workbooks: real date cells, the sheet that is named, and files that are bombs or damaged. All data are synthetic."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import numpy as np
import pytest
from writing import MICRONS, START, codes, rows, table

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, read_log
from decay.quantities import MICRON
from decay.table import workbook as room

openpyxl = pytest.importorskip("openpyxl")


def book(**sheets: list[list[object]]) -> bytes:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for title, cells in sheets.items():
        sheet = made.create_sheet(title)
        for row in cells:
            sheet.append(row)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def readings(times: list[object] | None = None) -> list[list[object]]:
    moments = times or [START + dt.timedelta(seconds=10 * i) for i in range(len(MICRONS))]
    head: list[list[object]] = [["Job 12, attic unit"], [], ["Time", "Pressure (micron)"]]
    return [*head, *([t, v] for t, v in zip(moments, MICRONS, strict=True))]


def read(data: bytes, **options: object) -> PressureLog:
    return read_log(io.BytesIO(data), ReadOptions(**options))  # type: ignore[arg-type]


@pytest.mark.parametrize("times", [
    None,
    [(START + dt.timedelta(seconds=10 * i)).time() for i in range(22)],
    [dt.timedelta(seconds=10 * i) for i in range(22)],
    [10.0 * i for i in range(22)],
    [f"{START + dt.timedelta(seconds=10 * i):%d.%m.%Y %H:%M:%S}" for i in range(22)],
])  # fmt: skip
def test_cells_of_every_kind_read_like_the_text_table(times: list[object] | None) -> None:
    log = read(book(Log=readings(times)))
    same = read(table(rows()).encode())
    np.testing.assert_allclose(log.time, same.time)
    np.testing.assert_allclose(log.pressure, same.pressure)
    np.testing.assert_allclose(log.step, same.step)
    assert log.gauge == "Pressure (micron)"
    assert log.line[0] == 4  # the row of the sheet
    if times is None:
        assert log.started == same.started
    assert [note.text for note in log.notes if note.code == "sheet-read"] == ['The sheet "Log" was read.']


def test_numbers_from_arithmetic_keep_the_gauges_step() -> None:
    cells = [["t (s)", "p (mbar)"], *([float(i), 0.1 * i + 0.2] for i in range(1, 200))]
    assert np.median(read(book(A=cells)).step) == pytest.approx(10.0)


def test_a_sheet_without_readings_is_no_candidate() -> None:
    log = read(book(Cover=[["Customer", "Somebody"], ["Date", dt.date(2026, 3, 14)]], Data=readings()))
    assert 'The sheet "Data" of 2 was read.' in [note.text for note in log.notes]


def test_several_sheets_are_refused_and_named() -> None:
    data = book(Monday=readings(), Tuesday=readings())
    with pytest.raises(LogError, match='several sheets may hold the readings: "Monday", "Tuesday"') as caught:
        read(data)
    assert caught.value.remedy == 'Name it, e.g.  --sheet "Monday"'
    assert codes(read(data, sheet="tuesday"))[0] == "sheet-read"
    assert read(data, sheet="2").notes[0].text == 'The sheet "Tuesday" of 2 was read.'
    with pytest.raises(LogError, match="no sheet"):
        read(data, sheet="Friday")
    with pytest.raises(LogError, match="no sheet of the workbook holds readings"):
        read(book(A=[["nothing"]]))


def test_over_range_words_and_units_work_as_in_text() -> None:
    cells = readings()
    cells[3][1] = cells[4][1] = "OL"
    log = read(book(Log=cells))
    assert log.is_over_range[:2].all()
    assert log.pressure[2] == pytest.approx(MICRONS[2] * MICRON)


def packed(parts: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            archive.writestr(name, text)
    return out.getvalue()


def test_bombs_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(LogError, match="document type"):
        read(packed({"xl/workbook.xml": b'<?xml version="1.0"?><!DOCTYPE b [<!ENTITY a "aa">]><b>&a;</b>'}))
    monkeypatch.setattr(room, "LARGEST_UNPACKED", 1 << 22)
    with pytest.raises(LogError, match="too large"):
        read(packed({"xl/workbook.xml": b"<x/>", "xl/worksheets/sheet1.xml": b"<" * (1 << 23)}))
    monkeypatch.setattr(room, "MOST_ROWS", 10)
    with pytest.raises(LogError, match="too large"):
        read(book(Log=readings()))


def test_a_damaged_or_foreign_archive_is_refused() -> None:
    data = book(Log=readings())
    for damaged in (data[: len(data) // 2], packed({"xl/workbook.xml": b"<nonsense"}), packed({"a.txt": b"hello"}),
                    data[:-400] + b"\x00" * 400):
        with pytest.raises(LogError) as caught:
            read(damaged)
        assert "CSV" in str(caught.value)
