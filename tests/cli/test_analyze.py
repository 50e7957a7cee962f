"""`decay analyze` from outside: exit codes, what goes to which stream, pictures, and every reading option."""

from __future__ import annotations

import gzip
import json
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

from decay_cli import main as program
from decay_cli.console import ExitCode
from decay_cli.options import moment_in
from tests.report.test_document import VALIDATOR

pytestmark = pytest.mark.usefixtures("drawn_blank")

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_logs"
DRY = str(SAMPLES / "tight_and_dry.csv")
LEAK = str(SAMPLES / "leaking_slowly.csv")


@pytest.fixture
def ask(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def run(*arguments, **more):
        return CliRunner().invoke(program.decay, [str(a) for a in arguments], **more)

    return run


@pytest.mark.parametrize("truth", sorted(SAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_each_sample_log_gets_the_result_that_stands_beside_it(ask, truth):
    expected = tomllib.loads(truth.read_text(encoding="utf-8"))["expected"]
    log = next(p for p in (truth.with_suffix(".csv"), truth.with_suffix(".csv.gz")) if p.exists())
    done = ask("analyze", log, *expected["options"], "--json", "--no-plot")
    assert done.exit_code == expected["exit_code"], done.output
    document = json.loads(done.stdout)
    VALIDATOR.validate(document)
    assert document["verdict"]["result"] == expected["result"]
    assert document["verdict"]["cause"] == expected["cause"]


def test_a_hold_that_proves_too_little_is_inconclusive(ask):
    done = ask("analyze", DRY, "--no-plot", "--hold", "3000..3300")
    assert done.exit_code == ExitCode.INCONCLUSIVE, done.output
    assert done.stdout.rstrip().endswith("VERDICT: INCONCLUSIVE")


@pytest.mark.parametrize(("options", "hint"), [
    (["--volume", "12"], "3.2 L"),
    (["--volume", "0 L"], "volume"),
    (["--volume", "3 kg"], "3.2 L"),
    (["--charge", "650"], "650 g"),
    (["--ambient", "24"], "24 degC"),
    (["--allow", "5"], "5 g/yr"),
    (["--allow", "5 g"], "5 g/yr"),
    (["--gauge-accuracy", "0.1"], "10 %"),
    (["--gauge-accuracy", "100 %"], "10 %"),
    (["--volume", "-3 L"], "3.2 L"),
    (["--volume", "1e9 L"], "3.2 L"),
    (["--volume", "1e-12 L"], "3.2 L"),
    (["--volume", "3.2 L +- 100 %"], "3.2 L"),
    (["--volume", "3 micron"], "3.2 L"),
    (["--charge", "650 L"], "650 g"),
    (["--charge", "0 g"], "650 g"),
    (["--ambient", "24 K"], "24 degC"),
    (["--allow", "0 g/yr"], "5 g/yr"),
    (["--allow", "5 degC/min"], "2 micron/min"),
    (["--refrigerant", "R999", "--ambient", "24 degC"], "R134a"),
    (["--refrigerant", "R134a"], "24 degC"),
    (["--refrigerant", "R134b", "--ambient", "24 degC"], "R134a"),
    (["--criterion", "feild-line"], "field-line"),
    (["--criterion", "absent.toml"], "absent.toml"),
    (["--hold", "300"], "300..1500"),
    (["--hold", "9..3"], "--hold START..END"),
    (["--hold", "1..9999999"], "inside the log"),
    (["--hold", "nan..5"], "--hold"),
    (["--hold", "25:61..26:00"], "--hold"),
    (["--plot", "a.bmp"], ".png"),
    (["--plot", "absent/a.png"], "absent"),
    (["--plot", "a.png", "--no-plot"], "contradict"),
    (["--frobnicate"], "--frobnicate"),
])
def test_an_option_that_makes_no_sense_is_a_usage_error_with_a_way_out(ask, options, hint):
    done = ask("analyze", DRY, *([] if "--plot" in options else ["--no-plot"]), *options)
    assert done.exit_code == ExitCode.USAGE, done.output
    assert done.stdout == ""
    assert hint in done.stderr
    assert "Traceback" not in done.output


@pytest.mark.parametrize("log", sorted((ROOT / "tests/log/broken").glob("refused_*")), ids=lambda p: p.stem)
def test_a_log_that_cannot_be_read_is_code_4_in_words(ask, log):
    done = ask("analyze", log, "--no-plot")
    assert done.exit_code == ExitCode.UNREADABLE, done.output
    assert done.stdout == ""
    assert f"Error: {log}" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_log_and_a_folder_are_code_4(ask, tmp_path):
    assert ask("analyze", "absent.csv").exit_code == ExitCode.UNREADABLE
    assert ask("analyze", tmp_path).exit_code == ExitCode.UNREADABLE


def test_the_program_s_own_fault_is_code_70_and_says_where_to_report(ask, monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError("made to fail")

    monkeypatch.setattr("decay.read_log", broken, raising=False)
    done = ask("analyze", DRY, "--no-plot")
    assert done.exit_code == ExitCode.INTERNAL
    assert "made to fail" in done.stderr
    assert "report" in done.stderr
    assert "Traceback" not in done.stderr
    assert "Traceback" in ask("analyze", DRY, "--no-plot", "--verbose").stderr


def test_an_interruption_is_code_130(ask, monkeypatch):
    def stopped(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("decay.read_log", stopped, raising=False)
    assert ask("analyze", DRY, "--no-plot").exit_code == ExitCode.INTERRUPTED


def test_the_answer_and_the_remarks_go_to_different_streams(ask):
    done = ask("analyze", DRY)
    assert done.stdout.splitlines()[0].startswith("PASS")
    assert "Picture" not in done.stdout
    assert "Picture: tight_and_dry.png" in done.stderr
    assert ask("analyze", DRY, "-q").stderr == ""


def test_json_is_one_document_also_with_a_picture(ask):
    done = ask("analyze", LEAK, "--json")
    assert json.loads(done.stdout)["schema_version"] == 1
    assert done.stdout.isascii()


def test_standard_input_and_packed_input_answer_like_the_file(ask, tmp_path):
    plain = json.loads(ask("analyze", DRY, "--json", "--no-plot").stdout)
    data = Path(DRY).read_bytes()
    (tmp_path / "a.csv.gz").write_bytes(gzip.compress(data))
    for document in (
        json.loads(ask("analyze", "-", "--json", "--no-plot", input=data).stdout),
        json.loads(ask("analyze", "a.csv.gz", "--json", "--no-plot").stdout),
    ):
        document["log"]["path"] = plain["log"]["path"]
        assert document == plain


def test_a_picture_never_replaces_what_is_there_unless_asked(ask, tmp_path):
    (tmp_path / "tight_and_dry.png").write_text("someone's own")
    assert "Picture: tight_and_dry-2.png" in ask("analyze", DRY).stderr
    assert "Picture: tight_and_dry-3.png" in ask("analyze", DRY).stderr
    assert (tmp_path / "tight_and_dry.png").read_text() == "someone's own"
    refused = ask("analyze", DRY, "--plot", "tight_and_dry.png")
    assert refused.exit_code == ExitCode.USAGE
    assert "--force" in refused.stderr
    assert (tmp_path / "tight_and_dry.png").read_text() == "someone's own"
    assert ask("analyze", DRY, "--force").exit_code == ExitCode.PASS
    assert (tmp_path / "tight_and_dry.png").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(("suffix", "magic"), [("svg", b"<?xml"), ("pdf", b"%PDF")])
def test_other_kinds_of_picture(ask, tmp_path, suffix, magic):
    assert ask("analyze", DRY, "--plot", f"a.{suffix}").exit_code == ExitCode.PASS
    assert (tmp_path / f"a.{suffix}").read_bytes().startswith(magic)


def test_a_picture_that_cannot_be_written_is_told_after_the_answer(ask, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("decay.report.plot_style.save_picture", full)
    done = ask("analyze", DRY)
    assert done.exit_code == ExitCode.USAGE
    assert "VERDICT: PASS" in done.stdout
    assert "No space left" in done.stderr


def test_plain_ascii_and_no_colour_where_there_is_no_terminal(ask):
    done = ask("analyze", LEAK, "--volume", "12.15 L", "--no-plot", "--ascii")
    assert done.stdout.isascii()
    assert "\x1b" not in done.stdout
    assert not ask("analyze", LEAK, "--volume", "12.15 L", "--no-plot").stdout.isascii()


@pytest.mark.parametrize(("text", "started", "seconds"), [
    ("300", None, 300.0),
    ("5 min", None, 300.0),
    ("10:05:00", "2026-03-18T10:00:00", 300.0),
    ("10:05", "2026-03-18T10:00:00", 300.0),
    ("0:05", "2026-03-18T23:55:00", 600.0),
    ("10:05:00", "2026-03-18T10:00:00+02:00", 300.0),
])
def test_the_ends_of_a_hold(text, started, seconds):
    assert moment_in(text, started) == seconds


def test_a_hold_by_the_clock_is_the_hold_in_seconds(ask):
    by_seconds = ask("analyze", LEAK, "--hold", "3600..6600", "--json", "--no-plot")
    by_clock = ask("analyze", LEAK, "--hold", "12:20:00..13:10:00", "--json", "--no-plot")
    by_minutes = ask("analyze", LEAK, "--hold", "60 min..110 min", "--json", "--no-plot")
    assert json.loads(by_seconds.stdout)["holds"][0]["start_s"] == pytest.approx(3600, abs=2)
    assert by_seconds.stdout == by_clock.stdout == by_minutes.stdout


def test_reading_options_reach_the_reader(ask, tmp_path):
    rows = [f"{5 * i};{0.5 + 0.0001 * i:.4f};{20}".replace(".", ",") for i in range(200)]
    (tmp_path / "odd.txt").write_text("\n".join(rows) + "\n")
    done = ask("analyze", "odd.txt", "--delimiter", ";", "--decimal", ",", "--gauge", "2", "--time-column", "1",
               "--temperature-column", "3", "--time-unit", "s", "--unit", "mbar", "--json", "--no-plot")
    log = json.loads(done.stdout)["log"]
    assert (log["unit"], log["sampling_s"], log["rows_used"]) == ("mbar", 5.0, 200)
