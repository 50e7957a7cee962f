"""What a notebook does first: a frame, a path or a text of readings, quantities as text, and short answers."""

from __future__ import annotations

import io
import json
import math
import pickle
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pint
import pytest
from click.testing import CliRunner

import decay
from decay.errors import CriterionError
from decay.quantities import MICRON
from decay_cli.main import decay as command_line

pytestmark = pytest.mark.usefixtures("followed_up_once")

SAMPLE = Path(__file__).resolve().parents[2] / "sample_logs" / "leaking_slowly.csv"
MINUTES = 60.0


def frame(**changes: object) -> pd.DataFrame:
    """Return a synthetic pull and an hour's hold that leaks 3 micron/min, at a reading every 10 s."""
    time = np.arange(0.0, 5400.0, 10.0)
    since = np.clip(time - 1800.0, 0.0, None)
    noise = np.random.default_rng(4).normal(0.0, 0.5, len(time))
    pressure = np.where(time <= 1800.0, 250 + 7.6e5 * np.exp(-time / 40.0), 250 + 3.0 * since / 60.0) + noise
    return pd.DataFrame({"time s": time, "far end": np.round(pressure), "note": "x"} | changes)


@pytest.fixture(scope="module")
def found() -> decay.Analysis:
    return decay.analyze(frame(), pressure="far end", unit="micron", volume="6.5 L", refrigerant="R134a",
                         ambient="23 degC")


def test_a_frame_is_judged(found: decay.Analysis) -> None:
    assert found.verdict.result is decay.Result.FAIL
    assert found.leak is not None
    assert found.leak.low <= 3.0 * MICRON / 60.0 <= found.leak.high
    assert found.system.volume is not None
    assert found.system.volume.value == pytest.approx(6.5e-3)
    assert "g/year" in found.summary()


def test_a_path_a_text_and_a_frame_say_the_same() -> None:
    text = frame().drop(columns="note").to_csv(index=False)
    by_text = decay.analyze(io.StringIO(text), unit="micron", pressure="far end")
    by_bytes = decay.analyze(io.BytesIO(text.encode()), unit="micron", pressure="far end")
    by_frame = decay.analyze(frame(), unit="micron", pressure="far end")
    leaks = {(a.leak.value, a.leak.low, a.leak.high) for a in (by_text, by_bytes, by_frame) if a.leak is not None}
    assert len(leaks) == 1
    assert decay.read_log(io.StringIO(text), decay.ReadOptions(unit="micron")).rows == len(frame())


def test_an_index_may_be_the_time() -> None:
    plain = frame()
    stamps = pd.Timestamp("2026-03-02 09:15") + pd.to_timedelta(plain["time s"], unit="s")
    dated = plain.set_axis(pd.DatetimeIndex(stamps), axis=0).drop(columns="time s")
    log = decay.PressureLog.from_frame(dated, pressure="far end", unit="micron")
    assert log.started == "2026-03-02T09:15:00"
    assert log.duration == pytest.approx(5390.0)
    elapsed = plain.set_axis(pd.to_timedelta(plain["time s"], unit="s"), axis=0).drop(columns="time s")
    assert decay.PressureLog.from_frame(elapsed, "far end", "micron").duration == pytest.approx(5390.0)


def test_quantities_come_as_text_or_with_units() -> None:
    units = pint.UnitRegistry()
    told = decay.System(volume=units.Quantity(6.5, "liter"), charge="650 g", ambient=units.Quantity(23, "degC"))
    assert told.volume == decay.System(volume="6.5 L").volume or told.volume.value == pytest.approx(6.5e-3)
    assert told.charge == pytest.approx(0.65)
    assert told.ambient == pytest.approx(296.15)


@pytest.mark.parametrize(
    ("told", "error", "words"),
    [
        ({"volume": 6.5}, TypeError, '"6.5 L"'),
        ({"volume": "6.5 furlong"}, decay.UnitError, "3.2 L"),
        ({"ambient": 23}, decay.RangeError, '"23 degC"'),
        ({"volum": "6.5 L"}, TypeError, "did you mean volume"),
        ({"charge": [1]}, TypeError, '"650 g"'),
        ({"refrigerant": "R1234567"}, decay.RangeError, "R1234567"),
    ],
)
def test_a_wrong_quantity_is_told_with_an_example(told: dict[str, object], error: type, words: str) -> None:
    with pytest.raises(error) as problem:
        decay.analyze(frame(), pressure="far end", unit="micron", **told)
    assert words in str(problem.value)


@pytest.mark.parametrize("source", [3, [1.0, 2.0], np.zeros(5), None])
def test_a_wrong_source_is_told_with_the_way_out(source: object) -> None:
    with pytest.raises(TypeError, match="DataFrame"):
        decay.analyze(source)


def test_a_column_that_is_not_there_is_told() -> None:
    with pytest.raises(decay.LogError, match="far end"):
        decay.analyze(frame(), pressure="nearby", unit="micron")


def test_the_answer_is_short_to_look_at(found: decay.Analysis) -> None:
    assert len(repr(found)) < 300
    assert repr(found).startswith("<Analysis of 'DataFrame': FAIL: ")
    assert len(repr(found.log)) < 200
    assert len(repr(found.verdict)) < 300
    assert len(repr(found.holds[0])) < 100
    shown = found._repr_html_()
    assert all(part in shown for part in ("<pre", "<b>FAIL: ", "<b>Next</b>", "<b>VERDICT: FAIL</b>"))
    assert found.to_dict()["verdict"]["result"] == "fail"
    table = found.to_frame()
    assert list(table.columns) == ["time_s", "pressure_micron", "is_over_range", "phase"]
    assert len(table) == len(found.log.time)
    assert set(table["phase"]) >= {"pumpdown", "hold"}
    picture = found.plot()
    assert picture.axes
    assert picture._repr_png_().startswith(b"\x89PNG")  # what a notebook asks a figure that pyplot did not make
    assert len(found.summary(detail=True)) > len(found.summary())


def test_pump_and_hose_are_told_as_text() -> None:
    judged = decay.analyze(SAMPLE, volume="12.15 L", pump_speed="6 cfm", hose="6 mm x 1.5 m")
    assert judged.system.hose == pytest.approx((6e-3, 1.5))
    assert judged.load is not None


def test_compare_plan_and_simulate_are_called_like_analyze() -> None:
    made = decay.simulate("leaking_slowly", seed=2, hold="10 min", leak="60 micron/min")
    assert made.holds[0].leak_rate == pytest.approx(60.0 * MICRON / 60.0, rel=0.02)
    after = decay.analyze(made, volume="12.15 L")
    assert after.leak is not None
    assert after.leak.high > 0.5 * made.holds[0].leak_rate
    change = decay.compare(decay.analyze(SAMPLE), after).leak
    assert change.after == after.leak
    planned = decay.plan(volume="6.5 L", pump="6 cfm", hose="6 mm x 1.5 m", allow="2 micron/min", ambient="23 degC")
    assert planned.pull is not None
    assert math.isfinite(planned.pull.to_target)
    assert any("--damp" in text and "--interval" in text for text in planned.assumed)


def test_a_room_that_was_loaded_does_not_stand_where_a_function_was() -> None:
    import decay.comparison
    import decay.planning
    import decay.simulation

    assert all(callable(function) for function in (decay.compare, decay.plan, decay.simulate))


@pytest.mark.parametrize(
    ("function", "told", "error", "words"),
    [
        (decay.plan, {"water": "5 g"}, decay.RangeError, "need the pump"),
        (decay.plan, {"volume": "6.5 L", "pumps": "6 cfm"}, TypeError, "did you mean pump"),
        (decay.simulate, {"leek": "5 micron/min"}, TypeError, "did you mean leak"),
        (decay.simulate, {"leak": "5 g/yr"}, decay.UnitError, "rate of rise"),
        (decay.simulate, {"job": "no such"}, decay.RangeError, "no preset"),
    ],
)
def test_a_plan_and_an_invented_job_say_what_they_take(
    function: Callable[..., object], told: dict[str, object], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        function(**told)


@pytest.mark.parametrize(
    ("given", "error", "words"),
    [
        ({"system": "field-line"}, TypeError, "criterion="),
        ({"hold": "10:41..end"}, TypeError, "seconds since the first row"),
        ({"warmed": "both"}, TypeError, "all, system, part"),
        ({"allow": 2}, TypeError, '"5 g/yr"'),
        ({"volume": pint.UnitRegistry().Quantity(6.5, "meter")}, decay.UnitError, "expected a volume"),
        ({"source": "time,pressure\n0,1\n"}, TypeError, "StringIO"),
    ],
)
def test_what_a_notebook_guesses_wrong_is_told_with_the_way_out(
    given: dict[str, object], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        decay.analyze(**{"source": frame(), "pressure": None if "source" in given else "far end",
                         "unit": None if "source" in given else "micron", **given})


def test_a_record_is_judged_as_on_the_command_line() -> None:
    record = SAMPLE.parent / "cold_and_warm" / "job.toml"
    done = CliRunner().invoke(command_line, ["analyze", str(record), "--no-plot", "--json"])
    judged = decay.analyze(record)
    assert judged.to_dict() == json.loads(done.stdout)["documents"][-1]
    assert judged.to_dict()["joint"] is not None
    told = decay.analyze(record, volume="12 L", criterion="one-hour-stand")
    assert told.system.volume.value == pytest.approx(0.012)
    assert told.to_dict()["verdict"]["criterion"]["name"] != judged.to_dict()["verdict"]["criterion"]["name"]


def test_what_is_wrong_in_a_record_is_told_with_its_line(tmp_path: Path) -> None:
    record = tmp_path / "job.toml"
    record.write_text('charge = "650 micron"\n[[log]]\nfile = "cold.csv"\n')
    with pytest.raises(CriterionError, match=r"job.toml, line 3: .*cold.csv is not there"):
        decay.analyze(record)
    (tmp_path / "cold.csv").write_text("time s,pressure micron\n0,500\n")
    with pytest.raises(CriterionError, match=r"job.toml, line 1: charge: "):
        decay.analyze(str(record))
    with pytest.raises(TypeError, match="into the record"):
        decay.analyze(record, hold=(0.0, 600.0))


def test_a_series_is_a_log_and_a_rig_may_be_one_too(found: decay.Analysis) -> None:
    series = frame().set_index("time s")["far end"]
    judged = decay.analyze(series, unit="micron", rig=series)
    assert judged.log.pressure.tolist() == found.log.pressure.tolist()
    assert judged.rig.explains_all


def test_the_answer_goes_from_process_to_process(found: decay.Analysis) -> None:
    again = pickle.loads(pickle.dumps(found))
    assert again.to_dict() == found.to_dict()
