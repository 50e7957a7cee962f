"""The plan in words, as JSON, as a picture, and at the command line."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from click.testing import CliRunner
from matplotlib.text import Text

from decay import wording
from decay.planning import Equipment, Levelling
from decay.planning.hold_lengths import LeftOpen
from decay.quantities import MICRON
from decay.report.document import dumps
from decay.report.plan_report import plan_document, plan_text
from decay.report.plot_plan import draw_plan
from decay.several.next_test import NextTest, TestKind
from decay_cli.console import ExitCode
from decay_cli.main import decay

from .test_holds import plan_of

pytestmark = pytest.mark.usefixtures("answered_once", "drawn_once")

FULL = ["plan", "--volume", "6.5 L", "--pump", "6 cfm", "--hose", "6 mm x 1.5 m", "--allow", "2 micron/min",
        "--ambient", "23 degC", "--water", "5 g", "--heating", "20 W"]


def run(*words):
    return CliRunner().invoke(decay, list(words))


def test_every_statement_has_its_number_and_its_ground(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = run(*FULL)
    assert done.exit_code == ExitCode.PASS, done.output
    for words in ("dry system", "hoses", "5 g water", "at the stated heating", "Warm enough?", "must show", "damp",
                  "show leaks from", "its line", "Sweeps", "Taken from the defaults", "never pull a vacuum"):
        assert words in " ".join(done.stdout.split()), words
    assert "Picture: plan.png" in done.stderr
    assert (tmp_path / "plan.png").read_bytes()[:4] == b"\x89PNG"
    assert "plan-2.png" in run(*FULL).stderr  # nothing is replaced unasked


def test_lines_keep_their_width_and_ascii():
    text = plan_text(plan_of(), width=72, ascii_only=True, verbose=True)
    assert text.isascii()
    assert max(len(line) for line in text.splitlines()) <= 72
    assert "slope formula" in text
    assert "\x1b" not in text
    assert "\x1b[1m" in plan_text(plan_of(), color=True)


def test_the_document_is_strict_json_and_says_what_the_text_says():
    plan = plan_of()
    document = json.loads(dumps(plan_document(plan)))
    assert document["schema_version"] == 1
    assert document["pull"]["dry_s"] == pytest.approx(plan.pull.to_target)
    assert document["hold"]["dry"]["needed_s"] == pytest.approx(plan.dry.needed)
    assert document["hold"]["must_tell_micron_per_min"] == pytest.approx(2.0, rel=1e-4)
    assert document["criterion_line"]["lets_pass_micron_per_min"] == pytest.approx(200 / 60)
    assert document["water"] is None
    assert len(document["hold"]["damp"]["lengths_s"]) == len(document["hold"]["damp"]["tells_micron_per_min"])


def test_a_plan_in_pascal_names_no_micron():
    plan = plan_of()
    with wording.speaking("Pa"):
        figure = draw_plan(plan)
        told = plan_text(plan, verbose=True) + "".join(text.get_text() for text in figure.findobj(Text))
    assert wording.rate(plan.matters).startswith("2 micron")
    assert "0.27 Pa/min" in told  # 2 micron/min
    assert "micron" not in told
    assert plan_document(plan)["hold"]["must_tell_micron_per_min"] == pytest.approx(2.0, rel=1e-4)


def test_what_never_comes_is_null_and_said():
    plan = plan_of("0.005 micron/min")
    document = plan_document(plan)
    assert document["hold"]["dry"]["needed_s"] is None
    assert document["hold"]["dry"]["is_told"] is False
    text = " ".join(plan_text(plan).split())
    assert "no hold up to" in text
    assert "an unnoticed drift of 1 K in an hour looks like" in text


def test_a_pump_that_does_not_get_there_is_said():
    done = run("plan", "--volume", "6.5 L", "--pump", "6 cfm", "--ultimate", "500 micron", "--no-plot")
    assert "cannot get there" in done.stdout
    assert "This pump does not reach 300 micron" in done.stdout


def test_the_picture_has_both_panels_with_units():
    figure = draw_plan(plan_of())
    pull, course = figure.axes
    assert pull.get_ylabel() == "pressure [micron]"
    assert course.get_ylabel() == "smallest leak shown [micron/min]"
    labels = [text.get_text() for text in course.get_legend().get_texts()]
    assert labels[0] == "dry"
    assert any("the leak that matters" in label for label in labels)
    bare = plan_of(None)
    assert len(draw_plan(replace(bare, pull=None)).axes) == 2


def test_the_picture_says_what_settles_a_hold_that_is_left_open():
    plan = plan_of()
    tests = (NextTest(TestKind.WARM, 45.0, 0.7, 1800.0), NextTest(TestKind.RIG, 20.0))
    left = LeftOpen(2.0 * MICRON / 60.0, 3600.0, Levelling(20.0, 7200.0), tests)
    assert " ".join(draw_plan(replace(plan, left_open=left)).get_supxlabel().split()) == (
        "If it leaves a leak of 2 micron/min open: warm hold, 45 min, names a leak in about 70 % of cases; "
        "never a flame."
    )
    assert draw_plan(replace(plan, left_open=None)).get_supxlabel() == ""


def test_parts_give_the_volume_and_defaults_are_owned_up_to():
    done = run("plan", "--tube", "9.5 mm bore x 15 m", "--part", "receiver 1.2 L", "--json", "--no-plot",
               "--interval", "5 s")
    document = json.loads(done.stdout)
    assert document["job"]["volume_l"]["value"] == pytest.approx(2.263, abs=1e-3)
    taken = next(text for text in document["rests_on"] if text.startswith("Taken from the defaults"))
    assert "--gauge-noise" in taken
    assert "--interval" not in taken


@pytest.mark.parametrize("words", [
    ["--volume", "6.5"],
    ["--volume", "6.5 L", "--part", "receiver 1 L"],
    ["--volume", "6.5 L", "--hose", "6 mm x 1.5 m"],
    ["--volume", "6.5 L", "--pump", "6 cfm", "--hose", "1.5 m x 6 mm"],
    ["--volume", "6.5 L", "--heating", "5 W"],
    ["--volume", "6.5 L", "--refrigerant", "R134a"],
    ["--volume", "6.5 L", "--interval", "0 s"],
    ["--volume", "6.5 L", "--target", "0 micron"],
    ["--volume", "6.5 L", "--criterion", "no such"],
    ["--volume", "6.5 L", "--plot", "a.png", "--no-plot"],
    ["--volume", "6.5 L", "--damp-time", "0 s"],
], ids=" ".join)
def test_nonsense_is_a_usage_error(words):
    done = run("plan", *words, *(["--no-plot"] if "--plot" not in words else []))
    assert done.exit_code == ExitCode.USAGE, done.output
    assert done.stdout == ""


def test_equipment_without_speed_is_refused():
    from decay.errors import RangeError

    with pytest.raises(RangeError):
        Equipment(0.0)
    with pytest.raises(RangeError):
        Levelling(-1.0 * MICRON, 10.0)
