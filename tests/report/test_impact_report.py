"""A leak in every unit of throughput, each at its reference temperature: published cases, text and document."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay.impact.assess import Impact, assess
from decay.interval import Interval
from decay.report.impact_report import SCALES, detectable_on, leak_on, reference_temperature
from decay.system import System
from decay_cli.main import decay
from tests.report.test_document import VALIDATOR

ROOT = Path(__file__).resolve().parents[2]
BY_KEY = {scale.key: scale for scale in SCALES}
# 40 CFR 1065.644, vacuum-decay leak verification: 2.0000 L rise from 25.3 to 50.6 kPa at 293.15 K in 70 s (read).
REGULATION = (50600.0 - 25300.0) / 70.0


def exactly(x: float) -> Interval:
    return Interval(x, x, x)


def regulation(**changes: object) -> Impact:
    told = {"volume": exactly(0.0020000), "ambient": 293.15, "gauge_accuracy": 0.0, "ambient_spread": 0.0} | changes
    return assess(exactly(REGULATION), REGULATION, System(**told))  # type: ignore[arg-type]


def value(impact: Impact, key: str) -> float:
    found = leak_on(impact, BY_KEY[key])
    assert found is not None
    return found.value


def test_the_regulation_s_leak_in_standard_cubic_centimetres() -> None:
    """0.00030 mol/s (from memory; 2.9657e-4 by the regulation's formula) at NIST's 1.3448 sccm a micromole a second."""
    assert value(regulation(), "sccm") == pytest.approx(296.57 * 1.3448, rel=1e-4)


@pytest.mark.parametrize(("key", "per_mbar_litre"), [("pa_m3_per_s", 0.1), ("atm_cc_per_s", 0.987)])
def test_published_factors(key: str, per_mbar_litre: float) -> None:
    """A public leak-rate unit table (read): 1 mbar L/s is 0.987 atm cc/s; the pascal by definition."""
    assert value(regulation(), key) / value(regulation(), "mbar_l_per_s") == pytest.approx(per_mbar_litre, abs=5e-4)


def test_micron_litres() -> None:
    """A micron litre is a thousandth of a torr litre, which is 1.33 mbar L (a public unit table, read)."""
    assert value(regulation(), "mbar_l_per_s") / value(regulation(), "micron_l_per_s") == pytest.approx(
        1.33e-3, abs=5e-6
    )


def test_each_unit_names_the_temperature_at_which_it_counts() -> None:
    impact = regulation(ambient=303.15)
    told = {scale.key: reference_temperature(impact, scale) for scale in SCALES}
    assert told.pop("sccm") == 273.15
    assert set(told.values()) == {303.15}
    # The same rise is less gas when it is warmer; only the standard flow tells.
    cold = regulation(ambient=283.15)
    assert value(cold, "pa_m3_per_s") == value(impact, "pa_m3_per_s")
    assert value(cold, "sccm") / value(impact, "sccm") == pytest.approx(303.15 / 283.15)


def test_without_a_temperature_there_is_no_standard_flow() -> None:
    impact = regulation(ambient=None)
    assert leak_on(impact, BY_KEY["sccm"]) is None
    assert detectable_on(impact, BY_KEY["sccm"]) is None
    assert all(leak_on(impact, scale) is not None for scale in SCALES if not scale.is_standard)


def test_every_uncertainty_is_carried() -> None:
    def spread(key: str, **changes: object) -> float:
        found = leak_on(regulation(**changes), BY_KEY[key])
        assert found is not None
        return found.high / found.value - 1

    assert spread("sccm") == spread("mbar_l_per_s") == 0.0
    assert spread("mbar_l_per_s", volume=Interval(0.002, 0.0018, 0.0022)) == pytest.approx(0.1)
    assert spread("mbar_l_per_s", gauge_accuracy=0.1) == pytest.approx(1 / 0.9 - 1)
    assert spread("mbar_l_per_s", ambient_spread=3.0) == 0.0
    assert spread("sccm", ambient_spread=3.0) == pytest.approx(293.15 / 290.15 - 1)


def test_the_detection_limit_stands_on_every_scale() -> None:
    impact = regulation()
    for scale in SCALES:
        assert detectable_on(impact, scale) == pytest.approx(value(impact, scale.key))


@pytest.fixture(scope="module")
def options() -> list[str]:
    return ["analyze", str(ROOT / "sample_logs/leaking_slowly.csv"), "--no-plot", "-q", "--volume", "12.15 L +- 30 %",
            "--refrigerant", "R134a", "--charge", "650 g", "--ambient", "23 degC", "--gauge-accuracy", "5 %",
            "--allow", "40 g/yr"]  # fmt: skip


def test_the_document_has_them_and_meets_its_schema(options: list[str]) -> None:
    document = json.loads(CliRunner().invoke(decay, [*options, "--json"]).stdout)
    VALIDATOR.validate(document)
    hold = document["holds"][0]
    impact, loss = hold["impact"], hold["leak"]["refrigerant_loss_g_per_year"]
    assert impact["throughputs"]["pa_m3_per_s"]["leak"] == hold["leak"]["throughput_pa_m3_per_s"]
    assert impact["throughputs"]["sccm"]["reference_temperature_k"] == 273.15
    for law in ("laminar", "molecular"):
        ounces = impact["refrigerant_loss_oz_per_year"][law]["value"]
        assert ounces * 28.349523125 == pytest.approx(loss[law]["value"], rel=1e-6)
        share = impact["share_of_charge_per_year"][law]["value"]
        assert share == pytest.approx(loss[law]["value"] / 650.0, rel=1e-6)
        years = impact["until_empty_s"][law]["value"] / (365.25 * 86400.0)
        assert years * share == pytest.approx(1.0, rel=1e-6)
    sizes = impact["uncertainties"]
    assert sizes["volume"] == pytest.approx(0.31, abs=0.01)
    assert impact["dominant_uncertainty"].replace(" ", "_") == max(sizes, key=lambda name: sizes[name])


def test_the_text_says_them_with_their_temperatures_and_the_doubts(options: list[str]) -> None:
    text = " ".join(CliRunner().invoke(decay, [*options, "--detail"]).stdout.split())
    for unit in ("Pa·m³/s", "micron·L/s", "mbar·L/s", "atm·cc/s"):
        assert f"{unit} (" in text
    assert text.count(") at 23 °C") == 4
    assert "at 0 °C" in text
    for words in ("oz/year", "% of the charge a year", "by laminar flow in", "by molecular flow in", "hold needed",
                  "flow regime, for the loss; volume, for the throughput", "volume 31 %", "gauge 5"):
        assert words in text, words


def test_the_text_asks_for_the_temperature_where_it_is_needed(options: list[str]) -> None:
    text = " ".join(CliRunner().invoke(decay, [*options[:6], "--detail"]).stdout.split())
    assert 'sccm counts the gas at 0 °C and needs its temperature: --ambient "24 degC"' in text
