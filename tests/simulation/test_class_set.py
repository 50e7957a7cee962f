"""A class set: mixed truth that its names do not tell, logs that are read as they stand, and the key apart."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay import RangeError, read_log
from decay.simulation.class_set import HANDED_OUT, KEPT, KEY, KINDS, SHAPES, class_set, write_class_set
from decay.simulation.ready_jobs import preset, preset_names
from decay_cli.main import decay


@pytest.fixture(scope="module")
def twelve():
    return class_set(12, 7)


def test_a_set_is_mixed_and_its_order_tells_nothing(twelve):
    assert {log.kind.name for log in twelve} == {kind.name for kind in KINDS}
    assert [log.kind.name for log in twelve] != [KINDS[i % len(KINDS)].name for i in range(12)]
    assert len({log.text.splitlines()[1] for log in twelve}) >= len(SHAPES) // 2


def test_the_same_seed_makes_the_same_set_and_another_seed_another(twelve):
    assert [log.text for log in class_set(12, 7)] == [log.text for log in twelve]
    assert [log.text for log in class_set(12, 8)] != [log.text for log in twelve]


def test_the_folder_to_hand_out_gives_nothing_away(twelve, tmp_path):
    folder = write_class_set(twelve, tmp_path / "monday", lambda place: (place / "more.txt").write_text("x"))
    handed = folder / HANDED_OUT
    assert sorted(path.name for path in handed.iterdir()) == sorted(
        [*(log.name for log in twelve), "answers.csv", "more.txt"])
    for log in twelve:
        said = log.text.lower()
        assert not any(kind.name in said for kind in KINDS if kind.name != "leak")
        assert "leak" not in said
    rows = list(csv.DictReader((folder / KEPT / KEY).read_text().splitlines()))
    assert [row["log"] for row in rows] == [log.name for log in twelve]
    for row, log in zip(rows, twelve, strict=True):
        assert float(row["leak_micron_per_min"]) == pytest.approx(log.made.leak_rate * 60 / 0.133322387415, rel=1e-3)


def test_every_log_is_read_without_an_option_and_holds_what_was_made(twelve, tmp_path):
    folder = write_class_set(twelve, tmp_path / "monday")
    for log in twelve:
        found = read_log(str(folder / HANDED_OUT / log.name))
        assert found.rows == len(log.made.readings.time)
        last = float(log.made.readings.pressure[-1])
        assert float(found.pressure[-1]) == pytest.approx(last, rel=0.02)


def test_a_folder_that_exists_stays_and_an_accident_leaves_nothing(twelve, tmp_path):
    (tmp_path / "mine").mkdir()
    with pytest.raises(FileExistsError):
        write_class_set(twelve, tmp_path / "mine")

    def stop(place):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_class_set(twelve, tmp_path / "half", stop)
    assert [path.name for path in tmp_path.iterdir()] == ["mine"]


@pytest.mark.parametrize("count", [0, 61])
def test_a_set_of_none_or_too_many_is_refused(count):
    with pytest.raises(RangeError, match="1 to 60"):
        class_set(count)


def test_the_command_writes_a_set_with_a_sheet_to_print(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(decay, ["simulate", "--class", "3", "--seed", "7", "--out", "monday"])
    assert done.exit_code == 0, done.output
    assert "monday/class: hand out" in done.stdout
    assert Path("monday/class/answer_sheet.pdf").read_bytes().startswith(b"%PDF")
    again = CliRunner().invoke(decay, ["simulate", "--class", "3", "--out", "monday"])
    assert again.exit_code == 2
    assert "exists" in again.stderr
    mixed = CliRunner().invoke(decay, ["simulate", "--class", "3", "--leak", "5 micron/min", "--out", "b"])
    assert mixed.exit_code == 2
    assert "leave out --leak" in mixed.stderr


@pytest.mark.parametrize("name", preset_names())
def test_a_preset_says_what_it_shows_and_makes_its_sample(name):
    found = preset(name.replace("_", " ").upper())
    assert found.about.endswith(".")
    assert found.job.name


def test_presets_are_listed_and_near_misses_named(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(decay, ["simulate", "--presets"])
    assert [line for line in told.stdout.splitlines() if not line.startswith(" ")] == list(preset_names())
    wrong = CliRunner().invoke(decay, ["simulate", "--like", "leaking slowy", "--out", "a.csv"])
    assert wrong.exit_code == 2
    assert "leaking_slowly" in wrong.stderr
    done = CliRunner().invoke(decay, ["simulate", "--like", "leaking slowly", "--out", "van.csv", "--hold", "5 min"])
    assert done.exit_code == 0, done.output
    assert "True leak 3 micron/min into 12.15 L" in done.stdout


@pytest.mark.parametrize("name", ["a.xlsx", "a.pdf", "a.xlsx.gz", "a"])
def test_a_log_is_not_written_under_the_name_of_something_else(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(decay, ["simulate", "--out", name])
    assert done.exit_code == 2
    assert "a log is text" in done.stderr
    assert not list(tmp_path.iterdir())
