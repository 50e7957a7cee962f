"""What `--allow` does to the verdict, from outside: in all three quantities, below, inside and above the interval."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay_cli.console import ExitCode
from decay_cli.main import decay

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
LEAK = (str(SAMPLES / "leaking_slowly.csv"), "--volume", "12.15 L +- 10 %")
DRY = (str(SAMPLES / "tight_and_dry.csv"), "--volume", "4.35 L +- 10 %")
DAMP = (str(SAMPLES / "tight_but_damp.csv"), "--volume", "6.65 L +- 10 %")
KNOWN = ("--ambient", "23 degC", "--refrigerant", "R134a", "--charge", "650 g", "--gauge-accuracy", "10 %")


def ask(*words: str):
    return CliRunner().invoke(decay, ["analyze", *words, "--json", "--no-plot", "-q"])


@cache
def first_hold(job: tuple[str, ...]):
    """Return the deciding hold without anything allowed."""
    holds = json.loads(ask(*job, *KNOWN).stdout)["holds"]
    return next(hold for hold in holds if hold["is_decisive"])


def ends(job: tuple[str, ...], unit: str) -> tuple[float, float]:
    """Return the range in which the leak lies, in a unit that `--allow` takes; over both laws for a loss."""
    leak, impact = first_hold(job)["leak"], first_hold(job)["impact"]
    if unit == "micron/min":
        found = [leak["rate_micron_per_min"]]
    elif unit == "g/yr":
        found = list(leak["refrigerant_loss_g_per_year"].values())
    elif unit == "oz/yr":
        found = list(impact["refrigerant_loss_oz_per_year"].values())
    else:
        key = {"mbar L/s": "mbar_l_per_s", "Pa m3/s": "pa_m3_per_s", "micron L/s": "micron_l_per_s",
               "atm cc/s": "atm_cc_per_s", "sccm": "sccm"}[unit]
        found = [impact["throughputs"][key]["leak"]]
    return min(each["low"] for each in found), max(each["high"] for each in found)


UNITS = ("micron/min", "g/yr", "oz/yr", "mbar L/s", "Pa m3/s", "micron L/s", "atm cc/s", "sccm")


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize(("where", "expected", "code"), [
    ("below", ExitCode.FAIL, "H02"),
    ("inside", ExitCode.INCONCLUSIVE, "H03"),
    ("above", ExitCode.PASS, "H05"),
])
def test_a_leak_that_is_seen(unit, where, expected, code):
    low, high = ends(LEAK, unit)
    # The allowed rise is the smallest that the allowed quantity can mean, which is stricter than the interval's end.
    allowed = {"below": 0.9 * low, "inside": (low * high) ** 0.5, "above": 1.6 * high}[where]
    done = ask(*LEAK, *KNOWN, "--allow", f"{allowed:.6g} {unit}")
    assert done.exit_code == expected, done.output
    assert code in {finding["code"] for finding in json.loads(done.stdout)["verdict"]["reasons"]}


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize(("share", "expected", "code"), [
    (0.5, ExitCode.INCONCLUSIVE, "H03"),
    (1.6, ExitCode.PASS, "H05"),
])
def test_a_hold_without_a_leak(unit, share, expected, code):
    _, high = ends(DRY, unit)
    done = ask(*DRY, *KNOWN, "--allow", f"{share * high:.6g} {unit}")
    assert done.exit_code == expected, done.output
    assert code in {finding["code"] for finding in json.loads(done.stdout)["verdict"]["reasons"]}


def test_nothing_allowed_makes_any_leak_a_fail_and_no_leak_a_pass():
    assert ask(*LEAK, *KNOWN).exit_code == ExitCode.FAIL
    assert ask(*DRY, *KNOWN).exit_code == ExitCode.PASS


def test_an_allowance_never_saves_a_hold_that_missed_its_criterion():
    done = ask(*DAMP, *KNOWN, "--allow", "1000 micron/min")
    assert done.exit_code == ExitCode.FAIL
    codes = {finding["code"] for finding in json.loads(done.stdout)["verdict"]["reasons"]}
    assert {"C02", "H05"} <= codes


@pytest.mark.parametrize(("told", "allowed"), [
    ((), "5 g/yr"),
    ((), "1e-5 mbar L/s"),
    (("--volume", "4.35 L"), "5 g/yr"),
    (("--volume", "4.35 L", "--ambient", "23 degC"), "5 g/yr"),
])
def test_what_cannot_be_compared_is_inconclusive(told, allowed):
    done = ask(DRY[0], *told, "--allow", allowed)
    assert done.exit_code == ExitCode.INCONCLUSIVE, done.output
    assert "I05" in {finding["code"] for finding in json.loads(done.stdout)["verdict"]["reasons"]}
    assert ask(DRY[0], "--allow", "1 micron/min").exit_code == ExitCode.PASS


def test_a_bound_of_the_volume_excludes_and_never_condemns():
    low, high = ends(LEAK, "mbar L/s")
    bounded = (LEAK[0], "--volume", "at most 50 L")
    for allowed, expected in ((0.1 * low, ExitCode.INCONCLUSIVE), (high, ExitCode.INCONCLUSIVE),
                              (100 * high, ExitCode.PASS)):
        done = ask(*bounded, *KNOWN, "--allow", f"{allowed:.6g} mbar L/s")
        assert done.exit_code == expected, (allowed, done.output)
    loss = next(f["summary"] for f in json.loads(done.stdout)["verdict"]["caveats"] if f["code"] == "I01")
    assert "at the soonest: the volume is a bound" in loss
    # A rate of rise does not ask for the volume.
    assert ask(*bounded, *KNOWN, "--allow", "1 micron/min").exit_code == ExitCode.FAIL


def test_the_hold_that_would_have_shown_it_stands_beside_none_seen():
    limit = first_hold(DRY)["smallest_detectable"]["rate_micron_per_min"]
    below = json.loads(ask(*DRY, *KNOWN, "--allow", f"{0.8 * limit:.6g} micron/min").stdout)
    wanted = below["holds"][0]["impact"]["hold_to_show_allowed"]
    assert wanted["length_s"] > below["holds"][0]["duration_s"]
    assert wanted["rests_on"] == "its own limit"
    none_seen = next(f["summary"] for f in below["verdict"]["reasons"] if f["code"] == "H04")
    assert "would show the allowed" in none_seen
    for unit in ("micron/min", "Pa·m³/s", "g/year"):
        assert unit in none_seen
    above = json.loads(ask(*DRY, *KNOWN, "--allow", f"{2 * limit:.6g} micron/min").stdout)
    assert above["holds"][0]["impact"]["hold_to_show_allowed"]["rests_on"] == "this hold"
    tiny = json.loads(ask(*DRY, *KNOWN, "--allow", "0.0005 micron/min").stdout)["holds"][0]["impact"]
    assert tiny["hold_to_show_allowed"] == {"length_s": None, "rests_on": "temperature"}
