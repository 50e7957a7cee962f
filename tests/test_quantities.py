"""Text to SI and back: how people write quantities, and what is refused with an example that works."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest

from decay import quantities
from decay.errors import DecayError, RangeError, UnitError
from decay.system import AllowKind


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("µmHg", "micron"), ("μmHg", "micron"), ("umHg", "micron"), ("Microns", "micron"), ("[micron]", "micron"),
        ("mtorr", "mTorr"), ("millitorr", "mTorr"), ("TORR", "Torr"), ("mm Hg", "mmHg"), ("Pa", "Pa"), ("hPa", "hPa"),
        ("mb", "mbar"), ("mbar abs", "mbar"), ("in Hg", "inHg"), ("inHgA", "inHg"), ("bara", "bar"), ("inHgV", None),
        ("psia", "psia"), ("psig", None), ("barg", None),
        ("MPa", None), ("mPa", "mPa"), ("mpa", None), ("m Pa", "mPa"), ("uHg", "micron"),
        ("milli-bar", "mbar"), ("atm", "atm"), ("", None), ("degC", None),
    ],
)  # fmt: skip
def test_pressure_unit(written: str, name: str | None) -> None:
    assert quantities.pressure_unit(written) == name


@pytest.mark.parametrize(
    ("written", "kind", "value"),
    [
        ("5 g/yr", AllowKind.LOSS, 0.005 / (365.25 * 86400)),
        ("5 g per year", AllowKind.LOSS, 0.005 / (365.25 * 86400)),
        ("0.2 oz/yr", AllowKind.LOSS, 0.2 * 0.028349523125 / (365.25 * 86400)),
        ("2 micron/min", AllowKind.RISE, 2 * quantities.MICRON / 60),
        ("2 µmHg / min", AllowKind.RISE, 2 * quantities.MICRON / 60),
        ("1e-5 mbar*L/s", AllowKind.THROUGHPUT, 1e-6),
        ("1e-5 mbar.l/s", AllowKind.THROUGHPUT, 1e-6),
        ("1e-6 Pa m3/s", AllowKind.THROUGHPUT, 1e-6),
        ("1e-6 Pa·m³/s", AllowKind.THROUGHPUT, 1e-6),
        ("1e-6 Pa m^3 s^-1", AllowKind.THROUGHPUT, 1e-6),
        ("1 micron L/s", AllowKind.THROUGHPUT, quantities.MICRON * 1e-3),
        ("1e-4 atm cc/s", AllowKind.THROUGHPUT, 1.01325e-5),
        ("3 sccm", AllowKind.THROUGHPUT, 3 * 0.00168875),
        ("3 std cc/min", AllowKind.THROUGHPUT, 3 * 0.00168875),
    ],
)
def test_allowance(written: str, kind: AllowKind, value: float) -> None:
    allowed = quantities.read_allowance(written)
    assert allowed.kind is kind
    assert allowed.value == pytest.approx(value, rel=1e-6)


def test_a_standard_flow_grows_with_the_temperature_of_the_gas() -> None:
    cold, warm = quantities.read_allowance("3 sccm"), quantities.read_allowance("3 sccm", 293.15)
    assert warm.value / cold.value == pytest.approx(293.15 / 273.15)
    assert quantities.read_allowance("1 mbar L/s", 293.15).value == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("kind", "written"),
    [
        ("volume", "3.2"), ("volume", "3.2 g"), ("volume", "0 L"), ("volume", "-1 L"), ("volume", "1e9 L"),
        ("volume", "3 L +- 120 %"), ("volume", "litres"), ("volume", "3,200 L"), ("volume", "1e999 L"),
        ("mass", "1 L"), ("temperature", "24"), ("temperature", "24 L"), ("temperature", "-300 degC"),
        ("pressure", "500"), ("pressure", "500 psig"), ("pressure", "-1 Pa"), ("length", "6 micron"),
        ("length", "1/0 in"), ("duration", "20"), ("duration", "20 L"), ("flow", "6 L"), ("flow", "6 sccm"),
        ("fraction", "10"),
    ],
)  # fmt: skip
def test_refused_with_an_example_that_works(kind: str, written: str) -> None:
    with pytest.raises((UnitError, RangeError), match="write") as caught:
        quantities.read_quantity(written, kind)
    if 'like "' in str(caught.value):
        example = str(caught.value).split('like "')[1].split('"')[0]
        assert quantities.read_quantity(example, kind) > 0


@pytest.mark.parametrize("written", ["5", "5 g", "5 furlong/min", "0 g/yr", "-1 micron/min", "nan g/yr", "5 g//yr", ""])
def test_allowance_refused(written: str) -> None:
    with pytest.raises(DecayError, match=r"5 g/yr"):
        quantities.read_allowance(written)


def test_volume_with_its_uncertainty() -> None:
    for written in ("3.2 L +- 10 %", "3.2 L +/- 10%", "3.2 L ± 0.32 L", "3,2 l ±10%"):
        found = quantities.read_volume(written)
        assert (found.value, found.low, found.high) == pytest.approx((0.0032, 0.00288, 0.00352))


def test_a_volume_that_is_only_bounded() -> None:
    for written in ("at most 50 L", "<= 50 L", "≤50 L", "up to 0.05 m3", "At Most 50 l"):
        found = quantities.read_volume(written)
        assert (found.value, found.low, found.high) == pytest.approx((0.05, 0.0, 0.05))
    for written in ("at most", "at most 0 L", "at most 50 L +- 10 %", "at most 5 kg"):
        with pytest.raises((UnitError, RangeError), match=r"3\.2 L"):
            quantities.read_volume(written)


@pytest.mark.parametrize(
    ("numbers", "expected"),
    [
        ((0.827, 0.827 - 0.119, 0.827 + 0.119), "0.83"),
        ((0.827, 0.827 - 0.367, 0.827 + 0.367), "0.8"),
        ((1234.0, 1234.0 - 97, 1234.0 + 97), "1230"),
        ((0.5, -math.inf, math.inf), "0.500"),
    ],
)
def test_rounding(numbers: tuple[float, float, float], expected: str) -> None:
    """The first two pairs are the Particle Data Group's own: 0.827 with 0.119 and with 0.367."""
    assert quantities.rounded(*numbers)[0] == expected


def test_usual_kinds_do_not_load_the_unit_library() -> None:
    code = (
        "import sys; from decay import quantities as q; q.read_pressure('500 micron'); q.read_duration('10 min'); "
        "q.read_temperature('24 degC'); q.read_fraction('10 %'); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_pounds_and_ounces_are_one_charge():
    """NIST SP 811: 1 lb = 0.45359237 kg, exactly; 16 oz are 1 lb."""
    for text in ("5 lb 8 oz", "5 lbs, 8 oz", "5 pounds and 8 ounces", "5lb 8oz"):
        assert quantities.read_mass(text) == pytest.approx(5.5 * 0.45359237)
    for text in ("5 lb 8", "5 lb 8 g", "8 oz 5 lb", "5.5 lb 8 oz x"):
        with pytest.raises(UnitError):
            quantities.read_mass(text)
