"""The record of a job: the same answer as the long command line, and what is wrong with one told by file and line."""

from __future__ import annotations

import json
import os
import shutil

import pytest
from click.testing import CliRunner

from decay.job_record import LARGEST, MOST_LOGS
from decay_cli.main import decay
from tests.readme.shown import ROOT

# What a record changes is what is judged, and how; what would settle an open hold follows from that alone.
pytestmark = pytest.mark.usefixtures("not_followed_up", "drawn_blank")

JOB = ROOT / "sample_logs" / "cold_and_warm"
RIG = ROOT / "sample_logs" / "rig_leak.csv"


@pytest.fixture
def job(tmp_path):
    """Return a folder with the sample's logs and record."""
    shutil.copytree(JOB, tmp_path / "job")
    return tmp_path / "job"


def ask(*words):
    return CliRunner().invoke(decay, ["analyze", *map(str, words), "--no-plot", "--json"])


def record(folder, *lines):
    path = folder / "mine.toml"
    path.write_text("\n".join(lines) + "\n")
    return path


def refused(folder, *lines):
    """Return what is said of a record that cannot be used."""
    done = ask(record(folder, *lines))
    assert done.exit_code == 2, done.output
    assert not done.stdout
    return " ".join(done.stderr.split())


COLD, WARM = ("[[log]]", 'file = "cold.csv"', 'ambient = "21 degC"'), (
    "[[log]]", 'file = "warm.csv"', 'ambient = "38 degC"', 'warmed = "all"')


def test_a_record_answers_as_the_long_command_line():
    told = ask(JOB / "job.toml")
    long = ask(JOB / "cold.csv", JOB / "warm.csv", "--same-job", "--ambient", "21 degC", "--ambient", "38 degC",
               "--warmed", "all", "--volume", "6.15 L", "--refrigerant", "R134a", "--criterion", "ceiling-20-min")
    documents = json.loads(told.stdout)["documents"]
    written = [document["log"]["notes"].pop(0) for document in documents]
    assert documents == json.loads(long.stdout)["documents"]
    assert [note["text"] for note in written] == ["first hold, morning", "heating blankets on tank, lines and rig"]
    assert told.exit_code == long.exit_code == 1
    truth = 4.0  # micron/min, as truth.toml beside it has it
    leak = documents[-1]["verdict"]["leak"]
    assert 0.0 < leak["low"] <= truth <= leak["high"]
    assert "heating blankets" in told.stderr
    short = CliRunner().invoke(decay, ["analyze", str(JOB / "job.toml"), "--no-plot"])
    assert "\nYour note: heating blankets on tank, lines and rig\n" in short.stdout


def test_of_a_long_note_the_short_answer_has_the_beginning(job):
    record(job, *COLD, f'note = "{"tank and lines, " * 40}"')
    short = CliRunner().invoke(decay, ["analyze", str(job / "mine.toml"), "--no-plot"])
    assert len(short.stdout.splitlines()) <= 25
    assert "Your note: tank and lines, " in short.stdout
    assert " ...\n" in short.stdout


def test_what_the_command_line_gives_goes_first(job):
    told, other = ask(job / "job.toml", "--volume", "12.3 L"), ask(job / "job.toml")
    half, whole = (json.loads(done.stdout)["documents"][0]["holds"][0]["leak"]["throughput_pa_m3_per_s"]["high"]
                   for done in (other, told))
    assert whole == pytest.approx(2.0 * half, rel=1e-6)


def test_each_log_may_be_read_in_its_own_way_and_only_a_stretch_of_it_judged(job):
    text = (job / "cold.csv").read_text().replace("pressure [micron]", "pressure")
    (job / "plain.csv").write_text(text)
    path = record(job, 'volume = "6.15 L"', "[[log]]", 'file = "plain.csv"', 'unit = "micron"', 'closed = "45.5 min"',
                  "[[log]]", 'file = "warm.csv"')
    done = ask(path)
    long = ask(job / "plain.csv", "--unit", "micron", "--hold", "45.5 min..end", "--volume", "6.15 L")
    first, alone = json.loads(done.stdout)["documents"][0], json.loads(long.stdout)
    assert first["holds"][0]["start_s"] == alone["holds"][0]["start_s"]
    assert first["log"]["unit"] == alone["log"]["unit"] == "micron"


def test_the_rig_alone_is_told_in_the_record(job):
    shutil.copyfile(RIG, job / "rig.csv")
    path = record(job, 'volume = "6.15 L"', *COLD, "[[log]]", 'file = "rig.csv"', "rig_alone = true",
                  'volume = "0.25 L"')
    long = ask(job / "cold.csv", "--ambient", "21 degC", "--volume", "6.15 L", "--rig-log", job / "rig.csv",
               "--rig-volume", "0.25 L")
    done = ask(path)
    assert done.stdout == long.stdout
    assert done.stdout


@pytest.mark.parametrize(("lines", "said"), [
    (('volumne = "3 L"', *COLD), 'mine.toml, line 1: there is no "volumne". Did you mean "volume"?'),
    ((*COLD, *WARM[:1], 'fiel = "warm.csv"'), 'mine.toml, line 5: there is no "fiel". Did you mean "file"?'),
    (('[logs]', 'file = "a"'), 'mine.toml, line 1: there is no "logs". Did you mean "log"?'),
    ((*COLD, "[[log]]", 'file = "wram.csv"'), 'line 5: file: '),
    ((*COLD, "[[log]]", 'file = "wram.csv"'), 'is not there. Did you mean "warm.csv"?'),
    ((*COLD, "[[log]]", 'note = "second"'), 'mine.toml, line 4: without a file'),
    (('volume = "3 bar"', *COLD), "mine.toml, line 1: volume: "),
    (('volume = 3', *COLD), "line 1: volume: expected text in quotes"),
    (('allow = "4 K"', *COLD), "line 1: allow: "),
    (('refrigerant = "R999x"', *COLD), "line 1: refrigerant: "),
    (('criterion = "nonesuch"', *COLD), "line 1: criterion: "),
    ((*COLD[:2], 'ambient = "21 psi"'), "line 3: ambient: "),
    ((*COLD, 'warmed = "a bit"'), 'line 4: warmed: "a bit" is none of all, system, part'),
    ((*COLD, 'hold = "noon"'), 'line 4: hold: "noon" is not a stretch'),
    ((*COLD, 'hold = "1..2"', 'closed = "1 min"'), "line 5: closed: hold and closed contradict each other"),
    ((*COLD, *COLD), "line 5: file: "),
    ((*COLD, 'warmed = "all"', *WARM), "line 8: warmed: a second warm hold"),
    ((*COLD, 'volume = "1 L"'), "line 4: volume: belongs to a log with rig_alone = true"),
    ((*COLD[:2], "rig_alone = true"), "line 3: rig_alone: the rig alone is no job"),
    ((*COLD, 'rig_alone = "yes"'), "line 4: rig_alone: expected true or false"),
    (('volume = "3 L"',), "it lists no log"),
    (("log = 3",), "it lists no log"),
    (("volume = ",), "(at line 1, column"),
    (("[[log]]\nfile = 'cold.csv'\n" * (MOST_LOGS + 1),), "Many jobs: decay audit"),
    (("x = " + "[" * 3000 + "]" * 3000,), "nested too deep"),
    (("x" + ".x" * 20_000 + " = 1",), "nested too deep"),  # to read it takes the square of its names
    (("#" * (LARGEST + 1),), "larger than 64 KiB"),
    (('"a\\u001b[31mb" = 1', *COLD), 'there is no "a'),
])
def test_what_is_wrong_is_told_with_file_and_line(job, lines, said):
    found = refused(job, *lines)
    assert said in found
    assert "\x1b" not in found


def test_a_record_stands_alone_and_is_a_file(job):
    assert "stands alone" in ask(job / "job.toml", job / "cold.csv").stderr
    assert "there is no file" in ask(job / "none.toml").stderr
    (job / "folder.toml").mkdir()
    assert "is a folder" in ask(job / "folder.toml").stderr
    os.mkfifo(job / "pipe.toml")
    assert "a device or a pipe" in ask(job / "pipe.toml").stderr
    os.mkfifo(job / "pipe.csv")
    assert "is no regular file" in refused(job, "[[log]]", 'file = "pipe.csv"')


def test_a_record_of_one_log_is_that_log(job):
    assert ask(record(job, *COLD)).stdout == ask(job / "cold.csv", "--ambient", "21 degC").stdout


def test_the_picture_bears_the_name_of_the_record(job, monkeypatch):
    monkeypatch.chdir(job)
    done = CliRunner().invoke(decay, ["analyze", "job.toml", "-q"])
    assert done.exit_code == 1
    assert (job / "job.png").read_bytes().startswith(b"\x89PNG")
