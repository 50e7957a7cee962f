"""Headings that state a unit with a power of ten: read to the last zero, or refused with what was not understood."""

from __future__ import annotations

import io
import random

import numpy as np
import pytest
from writing import codes, read_text, rows, table

from decay.errors import LogError
from decay.log import ReadOptions, read_log
from decay.quantities import MICRON, TORR
from decay.table.headings import heading, pascals

# Sizes: prefixes by the SI brochure, 9th edition, table 7; Torr and micron as in tests/published/test_units.py. [Pa]
WRITTEN = [
    ("milli Torr", TORR / 1e3), ("m Torr", TORR / 1e3), ("m bar", 100), ("k Pa", 1e3), ("h Pa", 100),
    ("kilo Pascal", 1e3),
    ("10^-3 mbar", 0.1), ("10⁻³ mbar", 0.1), ("10**-3 mbar", 0.1), ("x1e-3 mbar", 0.1), ("×10^-3 mbar", 0.1),
    ("p[e-3mbar]", 0.1), ("p / 10^-3 mbar", 0.1), ("mbar·10^-3", 0.1), ("mbar E-3", 0.1), ("1e-5 Torr", 1e-5 * TORR),
    ("mTorr x10", TORR / 100), ("mTorrx10", TORR / 100), ("mTorr (x10)", TORR / 100), ("Torr x1000", 1e3 * TORR),
    ("x10,000 Pa", 1e4), ("Pa*100", 100), ("1 mbar", 100), ("uHg", MICRON), ("um", MICRON), ("µm", MICRON),
    ("P(um)", MICRON), ("um Hg", MICRON), ("µmHg", MICRON), ("µm of mercury", MICRON), ("mPa", 1e-3),
    ("P (m Pa)", 1e-3),
    ("MPa", 1e6), ("MBAR", 100), ("MTORR", TORR / 1e3), ("ubar", 0.1), ("micro bar", 0.1), ("P1 mbar", 100),
    ("CH10 mbar", 100), ("gauge 2 mbar", 100), ("Pa [mbar]", 100), ("P_atm [mbar]", 100), ("p_m_Torr", TORR / 1e3),
]  # fmt: skip
IN_PART = [
    ("p [1000 mbar]", "1000"), ("gauge 10 mbar", "10"), ("10-3 mbar", "10-3"), ("10E-3 mbar", "10E-3"),
    ("5e-3 mbar", "5e-3"), ("mbar/1000", "/1000"), ("1/1000 Torr", "1/1000"), ("p % mbar", "%"),
    ("log10(p/mbar)", "log10"),
    ("thousandths of a Torr", "thousandths"), ("p (mpa)", "mpa"), ("PmTorr", "PmTorr"), ("p [xbar]", "xbar"),
    ("p Torr Pa", "Torr and Pa"), ("d bar", "d"), ("pressure x100", "x100"), ("0.1 mbar", "0.1"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "size"), WRITTEN)
def test_understood(text: str, size: float) -> None:
    told = heading(text)
    assert not told.unclear
    assert pascals(told.unit) == pytest.approx(size, rel=1e-9)


@pytest.mark.parametrize(("text", "unclear"), IN_PART)
def test_understood_in_part(tmp_path, text: str, unclear: str) -> None:
    assert heading(text).unclear == unclear
    with pytest.raises(LogError) as caught:
        read_text(tmp_path, table(rows(), ("Time", text)))
    assert f'"{unclear}"' in caught.value.found
    assert "--unit" in caught.value.remedy
    assert read_text(tmp_path, table(rows(), ("Time", text)), unit="micron").pressure[0] == pytest.approx(5200 * MICRON)


@pytest.mark.parametrize("text", ["thickness um", "position (µm)", "leak mbar l/s", "rise mbar/min", "toolbar", "DPA",
                                  "pump"])
def test_no_pressure_unit(text: str) -> None:
    assert heading(text) == heading("")


@pytest.mark.parametrize(("option", "size"), [("um", MICRON), ("mPa", 1e-3), ("1e-3 mbar", 0.1),
                                              ("m Torr", TORR / 1e3)])
def test_option(tmp_path, option: str, size: float) -> None:
    assert read_text(tmp_path, table(rows(), ("Time", "P")), unit=option).pressure[0] == pytest.approx(5200 * size)


def test_a_unit_line_and_a_factor_in_the_name(tmp_path) -> None:
    log = read_text(tmp_path, table([("", "m Torr"), *rows()], ("Time", "Pressure x10")))
    assert log.pressure[0] == pytest.approx(52000 * TORR / 1e3)
    assert log.unit == "1e-2 Torr"


def _pull(numbers: list[float]) -> list[object]:
    return [f"{number:.5g}" for number in numbers]


@pytest.mark.parametrize(("unit", "start"), [("mTorr", 760.0), ("Pa", 101.3), ("micron", 759.8), ("Torr", 760000.0),
                                             ("kPa", 101325.0), ("Torr", 20000.0)])
def test_a_start_at_a_thousandth_or_a_thousand_atmospheres(tmp_path, unit: str, start: float) -> None:
    values = _pull([start] * 5 + [start * 0.7**i for i in range(30)])
    with pytest.raises(LogError, match=r"thousandth|atmospheres"):
        read_text(tmp_path, table(rows(values), ("Time", f"P ({unit})")))


def test_a_gauge_that_starts_at_the_top_of_its_range_is_no_thousandth(tmp_path) -> None:
    """Near miss: 750 micron steady, and a fall by a hundred only."""
    values = _pull([750.0] * 5 + [max(750 * 0.7**i, 7.5) for i in range(30)])
    assert len(read_text(tmp_path, table(rows(values), ("Time", "P (micron)"))).time) == 35


def test_a_round_start_without_unit_tells_nothing(tmp_path) -> None:
    """1000 may be the air in mbar or the top of a gauge in micron."""
    values = _pull([1000.0] * 5 + [1000 * 0.7**i for i in range(30)])
    with pytest.raises(LogError, match="unit"):
        read_text(tmp_path, table(rows(values), ("Time", "P")))
    values = _pull([1009.0] * 5 + [1009 * 0.7**i for i in range(30)])
    assert "unit-inferred" in codes(read_text(tmp_path, table(rows(values), ("Time", "P"))))


NAMES = ("P", "Pressure", "Vacuum", "p1", "Gauge 2", "chamber", "PRESSURE", "Druck", "CH3", "Vac_", "pump 10", "press.")
UNITS = (("Torr", TORR), ("mTorr", TORR / 1e3), ("m Torr", TORR / 1e3), ("milli Torr", TORR / 1e3), ("mbar", 100.0),
         ("m bar", 100.0), ("hPa", 100.0), ("Pa", 1.0), ("k Pa", 1e3), ("kPa", 1e3), ("mPa", 1e-3), ("micron", MICRON),
         ("um Hg", MICRON), ("um", MICRON), ("µm", MICRON), ("uHg", MICRON), ("bar", 1e5), ("milli-bar", 100.0),
         ("MILLITORR", TORR / 1e3), ("ubar", 0.1), ("Pascal", 1.0))  # fmt: skip
FRAMES = ("{n} ({f}{u})", "{n} [{f}{u}]", "{n} {f}{u}", "{n}/{f}{u}", "{n} in {f}{u}", "{n}_{f}{u}", "{n}, {f}{u}",
          "{n} ({u}{b})", "{n} [{u} {b}]", "{n} {u} {b}", "{n}{u}")
BEFORE = ("10^{p} ", "x10^{p} ", "1e{p} ", "e{p:+d} ", "×1E{p} ", "10**{p} ", "10{p} ", "{d} ", "x{d} ", "{d}",
          "1/{d} ")
BEHIND = (" x10^{p}", " x{d}", "*{d}", " e{p:+d}", " (x{d})", "/{d}", " {d}", "x{d}")


def invented(seed: int) -> tuple[str, np.ndarray, list[str]]:
    """Return a heading, the true pressures [Pa], and the cells: synthetic, a pull from somewhere and a rise."""
    rng = random.Random(seed)
    unit, size = rng.choice(UNITS)
    power = rng.choice((0, 0, -6, -5, -3, -2, -1, 1, 2, 3))
    plain = f"{10.0**power:g}" if power < 0 else str(10**power)
    factor = {"p": power, "d": plain}
    before = rng.choice(BEFORE).format(**factor) if power else ""
    behind = rng.choice(BEHIND).format(**factor) if power else ""
    frame = rng.choice(FRAMES)
    if "{f}" not in frame and "{b}" not in frame:
        power = 0
    name = frame.format(n=rng.choice(NAMES), u=unit, f=before, b=behind)
    top = rng.choice((101325.0, 101325.0, 2666.0, 133.0))
    base = rng.uniform(3.0, 60.0)
    time = np.arange(60.0)
    truth = np.where(time < 5, top, np.maximum(top * np.exp(-(time - 4) / 3.0), base))
    truth = np.where(time > 40, base + 0.2 * (time - 40), truth)
    return name, truth, [f"{value / size / 10.0**power:.6g}" for value in truth]


def test_a_power_that_no_unit_has_is_not_understood():
    assert heading("Pressure (1e999 mbar)").unclear == "1e999"  # once an overflow


def test_no_log_is_misread_by_a_power_of_ten() -> None:
    """Five hundred invented headings, each unit in some 24: each is read right or refused, and most are read."""
    understood, refused = 0, []
    for seed in range(500):
        name, truth, cells = invented(seed)
        text = f"t (s);{name}\n" + "".join(f"{i};{cell}\n" for i, cell in enumerate(cells))
        try:
            log = read_log(io.BytesIO(text.encode()), ReadOptions(delimiter=";"))
        except LogError as error:
            refused.append((name, error))
            continue
        understood += 1
        np.testing.assert_allclose(log.pressure, truth[log.time.astype(int)], rtol=1e-4, err_msg=f"{seed} {name}")
    assert [(name, str(error)) for name, error in refused if "--unit" not in error.remedy] == []
    assert understood > 300


def test_a_logarithm_above_its_unit_is_refused(tmp_path):
    body = "".join(f"{10 * i};{5.8 - 0.1 * i:.2f}\n" for i in range(30))
    with pytest.raises(LogError, match="log10"):
        read_text(tmp_path, "time;log10\ns;p/micron\n" + body)
