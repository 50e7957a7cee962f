"""The JSON document: the contract's keys one by one, the schema, and numbers that JSON can say."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from importlib import resources
from typing import Any

import jsonschema
import pytest

from decay.analysis import Analysis
from decay.interval import Interval
from decay.report.document import collection, document, dumps
from decay.several.next_test import NextTest, TestKind
from tests.report import factories

SCHEMA = json.loads((resources.files("decay.report") / "schema.json").read_text(encoding="utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)

# The contract's tree of keys, spelled out by hand from the developers' guide; `...` marks where more may stand.
INTERVAL = {"value", "low", "high", "level"}
FINDING = {"code", "level", "summary", "evidence", "span_s"}
LOG = {"path", "rows", "rows_used", "gauge", "unit", "sampling_s", "duration_s", "notes"}
PHASE = {"kind", "start_s", "end_s", "start_micron", "end_micron"}
PUMPDOWN = {"start_s", "end_s", "lowest_micron", "time_constant_s", "plateaus"}  # ...
PLATEAU = {"start_s", "end_s", "micron", "meaning"}
HOLD = {
    "start_s",
    "end_s",
    "duration_s",
    "start_micron",
    "end_micron",
    "rise_micron",
    "leak",
    "outgassing",
    "decision_threshold",
    "smallest_detectable",
    "cause",
}  # ...
LEAK = {"rate_micron_per_min", "throughput_pa_m3_per_s", "refrigerant_loss_g_per_year"}
OUTGASSING = {"rise_micron", "time_constant_s", "plateau_micron"}
VERDICT = {
    "result", "cause", "leak", "detection_limit_micron_per_min", "odds_of_leak", "criterion", "reasons", "caveats",
    "next_steps", "next_tests",
}


def test_every_document_meets_the_schema(made: Analysis) -> None:
    assert [error.message for error in VALIDATOR.iter_errors(json.loads(dumps(document(made))))] == []


def test_the_schema_is_one():
    VALIDATOR.check_schema(SCHEMA)


def test_the_next_tests_are_listed_with_their_numbers():
    made = factories.damp()
    tests = (NextTest(TestKind.WARM, 30.0, 0.7, 900.0), NextTest(TestKind.RIG, 20.0))
    told = json.loads(dumps(document(replace(made, basis=replace(made.basis, next_tests=tests)))))
    assert list(VALIDATOR.iter_errors(told)) == []
    assert told["verdict"]["next_tests"] == [
        {"test": "warm", "minutes": 30.0, "hold_s": 900.0, "chance": 0.7},
        {"test": "rig", "minutes": 20.0, "hold_s": None, "chance": None},
    ]


@pytest.mark.parametrize(
    ("path", "bad"),
    [
        (("schema_version",), 2),
        (("log", "rows"), None),
        (("holds", 0, "cause"), "probably fine"),
        (("holds", 0, "leak", "rate_micron_per_min"), 3.2),
        (("verdict", "result"), "maybe"),
        (("verdict", "criterion", "met"), "yes"),
    ],
)
def test_the_schema_refuses_a_document_that_breaks_the_contract(path: tuple[Any, ...], bad: Any) -> None:
    broken = document(factories.leaking())
    place = broken
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = bad
    assert not VALIDATOR.is_valid(broken)


def test_the_keys_are_those_of_the_contract() -> None:
    doc = document(factories.leaking_and_damp())
    assert list(doc) == ["schema_version", "log", "phases", "pumpdowns", "holds", "joint", "verdict"]
    assert doc["schema_version"] == 1
    assert set(doc["log"]) == LOG
    assert all(set(phase) == PHASE for phase in doc["phases"])
    pull = doc["pumpdowns"][0]
    assert set(pull) >= PUMPDOWN
    assert set(pull["time_constant_s"]) == INTERVAL
    assert set(pull["plateaus"][0]) == PLATEAU
    hold = doc["holds"][0]
    assert set(hold) >= HOLD
    assert set(hold["leak"]) == LEAK
    assert set(hold["leak"]["rate_micron_per_min"]) == INTERVAL
    assert set(hold["leak"]["throughput_pa_m3_per_s"]) == INTERVAL
    assert set(hold["leak"]["refrigerant_loss_g_per_year"]) == {"laminar", "molecular"}
    assert set(hold["leak"]["refrigerant_loss_g_per_year"]["laminar"]) == INTERVAL
    assert set(hold["outgassing"]) == OUTGASSING
    assert set(hold["outgassing"]["rise_micron"]) == INTERVAL
    assert set(hold["decision_threshold"]) == {"rate_micron_per_min"}
    assert set(hold["smallest_detectable"]) >= {"rate_micron_per_min", "refrigerant_loss_g_per_year"}
    assert doc["joint"] is None
    assert set(doc["verdict"]) == VERDICT
    assert set(doc["verdict"]["criterion"]) == {"name", "source", "met"}
    for kind in ("reasons", "caveats", "next_steps"):
        assert all(set(finding) == FINDING for finding in doc["verdict"][kind])


def test_notes_carry_code_line_and_text() -> None:
    doc = document(factories.many_caveats())
    assert doc["log"]["notes"][0] == {
        "code": "duplicate-time",
        "line": 100,
        "text": "Two readings at one time; the first was kept, case 0.",
    }
    assert doc["log"]["notes"][-1]["line"] is None
    assert doc["log"]["rows"] - doc["log"]["rows_used"] == 12


def test_joint_holds_are_named_by_their_index() -> None:
    joint = document(factories.three_holds())["joint"]
    assert {"leak", "holds_used", "each_rate_micron_per_min", "homogeneity_p"} <= set(joint)
    assert joint["holds_used"] == [0, 1, 2]
    assert joint["leak"]["rate_micron_per_min"] == {"value": 4.0, "low": 3.8, "high": 4.1, "level": 0.95}


def test_numbers_are_in_the_unit_of_their_key() -> None:
    hold = document(factories.leaking())["holds"][0]
    assert hold["leak"]["rate_micron_per_min"] == {"value": 3.2, "low": 2.9, "high": 3.5, "level": 0.95}
    assert hold["start_micron"] == 250.0
    assert hold["duration_s"] == 1800.0
    assert hold["smallest_detectable"]["rate_micron_per_min"] == 0.6
    # 3.2 micron/min in 3.2 L: 3.2 x 0.133322387 Pa / 60 s x 0.0032 m3, by hand.
    assert hold["leak"]["throughput_pa_m3_per_s"]["value"] == pytest.approx(2.27537e-5, rel=1e-5)
    # The factories take 8.0e-5 kg/s for each Pa m3/s as the laminar law.
    loss = hold["leak"]["refrigerant_loss_g_per_year"]["laminar"]["value"]
    assert loss == pytest.approx(2.27537e-5 * 8.0e-5 * 1e3 * 365.25 * 86400, rel=1e-5)


def test_the_standing_of_the_criterion_goes_with_its_source() -> None:
    criterion = document(factories.leaking())["verdict"]["criterion"]
    assert criterion["source"] == "Invented specification for these tests, section 1; synthetic"


def test_unknown_is_null_and_never_zero() -> None:
    doc = document(factories.bare())
    hold = doc["holds"][0]
    assert hold["leak"]["throughput_pa_m3_per_s"] is None
    assert hold["leak"]["refrigerant_loss_g_per_year"] is None
    assert hold["smallest_detectable"]["refrigerant_loss_g_per_year"] is None
    assert hold["impact"]["until_empty_s"] is None
    assert doc["phases"][0]["start_micron"] is None  # over range
    assert document(factories.no_hold())["verdict"]["cause"] is None
    assert document(factories.no_hold())["verdict"]["criterion"]["met"] is None


def test_an_open_end_of_an_interval_is_null() -> None:
    made = factories.leaking()
    report = made.holds[0]
    fit = replace(report.fit, leak=Interval(1e-3, 0.0, math.inf))
    doc = document(replace(made, holds=(replace(report, fit=fit),)))
    rate = doc["holds"][0]["leak"]["rate_micron_per_min"]
    assert rate["high"] is None
    assert rate["low"] == 0.0
    assert "Infinity" not in dumps(doc)
    assert "NaN" not in dumps(doc)


def test_a_number_that_json_cannot_say_is_refused() -> None:
    with pytest.raises(ValueError, match="JSON"):
        dumps({"x": math.nan})


def test_the_same_analysis_gives_the_same_bytes(made: Analysis) -> None:
    again = dumps(document(made))
    assert again == dumps(document(made))
    assert again.isascii()
    assert again.endswith("}\n")


def test_evidence_stands_in_one_order() -> None:
    made = factories.leaking()
    one = factories.finding("L01", "x", b_s=2.0, a_s=1.0)
    doc = document(replace(made, verdict=replace(made.verdict, reasons=(one,))))
    assert list(doc["verdict"]["reasons"][0]["evidence"]) == ["a_s", "b_s"]


def test_several_logs_make_one_document() -> None:
    both = collection([document(factories.tight()), document(factories.leaking())])
    assert [each["verdict"]["result"] for each in both["documents"]] == ["pass", "fail"]
    assert json.loads(dumps(both)) == both
