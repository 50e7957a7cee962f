"""The same readings in every dialect, encoding and unit give equal logs."""

import bz2
import gzip
import io
import lzma
import zipfile

import numpy as np
import pytest
from writing import MICRONS, accounted, codes, read_text, rows, table

from decay.errors import LogError
from decay.log import ReadOptions, read_log
from decay.quantities import MICRON, PRESSURE_UNITS
from decay.table.digits import number_in

TIME = np.arange(len(MICRONS)) * 10.0
PASCAL = np.array(MICRONS) * MICRON
PLAIN = table(rows())


def same(log):
    np.testing.assert_allclose(log.time, TIME)
    np.testing.assert_allclose(log.pressure, PASCAL, rtol=1e-9)
    assert log.unit == "micron"
    assert log.rows == len(TIME)
    assert accounted(log)
    return True


WRITTEN = {
    "comma": PLAIN, "semicolon": table(rows(), mark=";"), "tab": table(rows(), mark="\t"),
    "pipe": table(rows(), mark="|"), "comma and tab": table(rows(), mark=",\t"),
    "blank padded": table(rows(), mark=" \t "),
    "blanks": table([(t.replace(" ", "T"), v) for t, v in rows()], ("Time", "Pressure_micron"), "   "),
    "quoted": table([(f'"{t}"', f'"{v}"') for t, v in rows()], ('"Time"', '"Pressure (micron)"')),
    "trailing separators": table([(*r, "", "") for r in rows()]),
    "decimal comma": table([(t, f"{v},0") for t, v in rows()], mark=";"),
    "thousands": table([(t, f'"{int(v):,}"') for t, v in rows()]),
    "thousands semicolon": table([(t, f"{int(v):,}") for t, v in rows()], mark=";"),
    "thousands apart by narrow blanks": table([(t, f"{int(v):,}".replace(",", "\u202f")) for t, v in rows()], mark=";"),
    "crlf": table(rows(), end="\r\n"), "cr": table(rows(), end="\r"),
    "preamble": "Logger export\nSerial,12\n\n" + PLAIN, "comments": "# made up\n# Unit: micron\n" + PLAIN,
    "unit line": table([("", "micron"), *rows()], ("Time", "Pressure")),
    "unit in preamble": "Pressure unit: micron\n" + table(rows(), None),
    "unit column": table([(t, v, "micron") for t, v in rows()], ("Time", "Reading", "Unit")),
    "unit beside": table([(t, f"{v} microns") for t, v in rows()], ("Time", "Reading")),
    "sentences": table([(t, "Gauge 1: fine", f"Pressure: {v}.0000 micron") for t, v in rows()], None),
    "utf-8 bom": b"\xef\xbb\xbf" + PLAIN.encode(), "utf-16": PLAIN.encode("utf-16"),
    "utf-16 without bom": PLAIN.encode("utf-16-le"),
    "cp1252": table(rows(), ("Time", "Pressure (µmHg)")).encode("cp1252"), "gz": gzip.compress(PLAIN.encode()),
    "exponents": table([(t, f"{int(v):.6e}") for t, v in rows()]),
}  # fmt: skip


@pytest.mark.parametrize("kind", WRITTEN)
def test_dialect(tmp_path, kind):
    assert same(read_text(tmp_path, WRITTEN[kind]))


@pytest.mark.parametrize("unit", PRESSURE_UNITS)
def test_units(tmp_path, unit):
    values = [f"{v * MICRON / PRESSURE_UNITS[unit]:.12g}" for v in MICRONS]
    log = read_text(tmp_path, table(rows(values), ("Time", f"Absolute pressure [{unit}]")))
    np.testing.assert_allclose(log.pressure, PASCAL, rtol=1e-9)
    assert log.unit == unit


def test_unit_that_changes(tmp_path):
    body = [(t, f"{int(v) / 1000:.3f} Torr" if int(v) > 1000 else f"{v} mTorr") for t, v in rows()]
    log = read_text(tmp_path, table(body, ("Time", "Reading")))
    torr = PRESSURE_UNITS["Torr"] / 1000
    np.testing.assert_allclose(log.pressure, np.array(MICRONS) * torr, rtol=1e-9)
    assert "unit-changes" in [note.code for note in log.notes]


def test_no_header_needs_unit(tmp_path):
    assert same(read_text(tmp_path, table(rows(), None), unit="micron"))


def test_standard_input(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(PLAIN.encode())))
    assert same(read_log("-"))


def test_open_file():
    assert same(read_log(io.BytesIO(PLAIN.encode())))


def test_atmosphere_tells_the_unit(tmp_path):
    log = read_text(tmp_path, table(rows([760, 760, 760, 300, 50, 8, 2, 1, 0.5]), ("Time", "Pressure")))
    assert log.unit == "Torr"
    assert "unit-inferred" in [note.code for note in log.notes]


def test_options_override(tmp_path):
    text = table([(t, v, str(2 * int(v))) for t, v in rows()], ("Time", "A micron", "B micron"))
    assert read_text(tmp_path, text).gauge == "A micron"
    log = read_text(tmp_path, text, gauge="3", unit="Pa")
    np.testing.assert_allclose(log.pressure, 2.0 * np.array(MICRONS))
    assert list(log.other_gauges) == ["A micron"]


def test_temperature(tmp_path):
    log = read_text(tmp_path, table([(*r, "21.5") for r in rows()], ("Time", "Pressure (micron)", "Temp (°C)")))
    np.testing.assert_allclose(log.temperature, 294.65)


@pytest.mark.parametrize("elsewhere", ["-85.7", "140.0"])
def test_a_cold_trap_or_a_heater_is_not_the_systems_temperature(tmp_path, elsewhere):
    log = read_text(tmp_path, table([(*r, elsewhere) for r in rows()], ("Time", "Pressure (micron)", "Temp (°C)")))
    assert log.temperature is None
    assert "temperature-unused" in codes(log)


def test_seconds_without_a_name_are_told_from_row_numbers(tmp_path):
    seconds = read_text(tmp_path, "".join(f"{5 * n},{m}\n" for n, m in enumerate(MICRONS)), unit="micron")
    np.testing.assert_allclose(seconds.time, 5.0 * np.arange(len(MICRONS)))
    assert "time-unit-assumed" in codes(seconds)
    with pytest.raises(LogError, match="no column holds the time"):
        read_text(tmp_path, "".join(f"{n},{m}\n" for n, m in enumerate(MICRONS)), unit="micron")


def test_read_options_default():
    assert ReadOptions().over_range == ()


@pytest.mark.parametrize("write", [
    lambda v: f"{v / 1000:.4E}".replace("E", "D"), lambda v: f"{v / 1000:.4e}".replace("e", "x10^"),
    lambda v: f"{v / 1000:.4e}".replace("e-0", "×10⁻").replace("e+0", "×10"), lambda v: f"{v / 1000:.3f}*10^0",
    lambda v: f"{v / 1000:.4e}".replace("e", " · 10^").replace(".", ","),
])  # fmt: skip
def test_powers_of_ten_as_people_write_them(tmp_path, write):
    text = table([(t, write(int(v))) for t, v in rows()], ("Time", "p [Torr]"), ";")
    np.testing.assert_allclose(read_text(tmp_path, text).pressure, 0.1333223684 * np.array(MICRONS), rtol=1e-3)


def test_pairs_of_figures_before_the_thousands(tmp_path):
    values = [760000, 500000, 250000, 125150, *MICRONS]
    text = table([(t, shown(v)) for (t, _), v in zip(rows(values), values, strict=True)], mark=";")
    np.testing.assert_allclose(read_text(tmp_path, text).pressure, 0.1333223684 * np.array(values), rtol=1e-6)


def shown(value: int) -> str:
    """Return a number as India groups it."""
    head, tail = divmod(value, 1000)
    pairs = f"{head // 100},{head % 100:02d}" if head > 99 else f"{head}"
    return f"{pairs},{tail:03d}" if head else f"{tail}"


@pytest.mark.parametrize("cell", ["5'10", "12 34", "1'23"])
def test_gaps_that_part_no_thousands_make_no_number(cell):
    assert number_in(cell) is None


@pytest.mark.parametrize("names", [("log.csv",), ("__MACOSX/._log.csv", "log.csv"), ("log.csv", "readme.txt")])
def test_a_zip_archive_with_one_file(tmp_path, names):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in names:
            archive.writestr(name, PLAIN if name == "log.csv" else "other")
    if "readme.txt" in names:
        with pytest.raises(LogError, match=r"zip archive[\s\S]*Unpack it"):
            read_text(tmp_path, packed.getvalue())
        return
    log = read_text(tmp_path, packed.getvalue())
    assert "zip-read" in codes(log)
    assert len(log.time) == len(MICRONS)
    with pytest.raises(LogError, match="damaged or locked"):
        read_text(tmp_path, packed.getvalue()[:-30])


@pytest.mark.parametrize("pack", [bz2.compress, lzma.compress])
def test_other_packing_is_named(tmp_path, pack):
    with pytest.raises(LogError, match=r"packed by (bzip2|xz)[\s\S]*Unpack it"):
        read_text(tmp_path, pack(PLAIN.encode()))


def test_three_decimals_behind_a_comma_are_no_thousands_beside_whole_pressures(tmp_path):
    # From the first minute on no time begins with a nought, and 5,083 min were 5083 beside 410 micron.
    body = "".join(f"{(60 + 5 * n) / 60:.3f};{410 + n}\n".replace(".", ",") for n in range(300))
    text = "Tiempo (min);micras\n" + body
    log = read_text(tmp_path, text)
    assert log.duration == pytest.approx(299 * 5.0, abs=0.1)
    assert (log.pressure[0] / MICRON, log.unit) == (pytest.approx(410.0), "micron")


def test_points_that_may_stand_for_thousands_are_refused(tmp_path):
    falling = [round(760_000 * 0.8**n) for n in range(50)]
    grouped = "t [s];p [micron]\n" + "".join(f"{n};{p:,}\n".replace(",", ".") for n, p in enumerate(falling))
    with pytest.raises(LogError, match=r'"760\.000" and "\d+": (.|\n)*--decimal'):
        read_text(tmp_path, grouped)
    assert read_text(tmp_path, grouped, decimal=".").pressure[0] == pytest.approx(760 * MICRON)
    # The same digits in Torr, to the last place or with its noughts left out, are decimals.
    for places in (".3f", "g"):
        rows = "".join(f"{n};{p / 1000:{places}}\n" for n, p in enumerate(falling))
        log = read_text(tmp_path, "t [s];p [Torr]\n" + rows)
        np.testing.assert_allclose(log.pressure / MICRON, falling, atol=1.0)
