"""A disk that is full, a folder that cannot be written, a target that is taken, an end half-way: for every writer."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner
from matplotlib.figure import Figure

from decay_cli.console import ExitCode
from decay_cli.main import decay as program

from ..forked import CLOSED, ended, piped, started
from .writers import DRY, LEAK, WRITERS

resource = pytest.importorskip("resource", reason="limits of a process as POSIX has them")

UNFINISHED = "u.jsonl.part"  # documented: the audit goes on from it
EVERY = pytest.mark.parametrize("writer", WRITERS, ids=str)

DRAWN_ANEW = (WRITERS[0], WRITERS[1])  # a PNG and an SVG; the other pictures go through the same function


@pytest.fixture(autouse=True)
def made_once(request, monkeypatch, answered_once, planned_roughly, drawn_blank):
    """Make each answer once, and pictures without what they show: these tests are about what becomes of them."""
    blank, real = Figure.savefig, drawn_blank

    def save(figure, *args, **options):
        is_full = resource.getrlimit(resource.RLIMIT_FSIZE)[0] >= 0
        is_real = is_full and request.node.callspec.params["writer"] in DRAWN_ANEW
        return (real if is_real else blank)(figure, *args, **options)  # what a full disk does to the drawing is real

    monkeypatch.setattr(Figure, "savefig", save)


def run(words, folder):
    """Run a command in a folder, and return how it ended and what it said."""
    before = Path.cwd()
    os.chdir(folder)
    try:
        done = CliRunner().invoke(program, list(words))
    finally:
        os.chdir(before)
    assert "Internal error" not in done.stderr, done.stderr
    return done


def contents(folder):
    return {path.name: path.read_bytes() for path in Path(folder).iterdir() if path.is_file()}


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """Return what a writer writes where nothing stands in its way."""
    made = {}

    def of(writer):
        if writer not in made:
            folder = tmp_path_factory.mktemp("whole")
            done = run(writer.words, folder)
            assert done.exit_code == writer.code, done.stderr
            made[writer] = contents(folder)
            assert tuple(sorted(made[writer])) == tuple(sorted(writer.files))
        return made[writer]

    return of


@contextmanager
def files_no_longer_than(size):
    """Let the system refuse every byte of a file behind ``size``, as it does where a disk is full."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, before)


@EVERY
@pytest.mark.parametrize("share", [0.0, 0.5])
def test_no_room_leaves_nothing_half_written(writer, share, whole, tmp_path):
    expected = whole(writer)
    with files_no_longer_than(int(share * max(map(len, expected.values())))):
        done = run(writer.words, tmp_path)
    assert done.exit_code == ExitCode.USAGE
    assert "cannot be written: File too large" in " ".join(done.stderr.split())
    left = contents(tmp_path)
    left.pop(UNFINISHED, None)
    assert left == {name: expected[name] for name in left}
    assert writer.files[-1] not in left or not writer.has_picture
    assert run((*writer.words, "--force"), tmp_path).exit_code == writer.code  # nothing stands in its way
    assert contents(tmp_path) == expected


@EVERY
def test_no_room_leaves_the_older_files_as_they_were(writer, whole, tmp_path):
    older = {name: b"older" for name in writer.files if not name.endswith(".jsonl")}
    for name, data in older.items():
        (tmp_path / name).write_bytes(data)
    with files_no_longer_than(min(map(len, whole(writer).values())) // 2):
        assert run((*writer.words, "--force"), tmp_path).exit_code == ExitCode.USAGE
    left = contents(tmp_path)
    left.pop(UNFINISHED, None)
    assert left == older


@EVERY
def test_a_file_that_exists_is_replaced_only_where_asked(writer, whole, tmp_path):
    taken = [name for name in writer.files if not name.endswith(".jsonl")]
    for name in taken:
        (tmp_path / name).write_bytes(b"someone's own")
    done = run(writer.words, tmp_path)
    assert done.exit_code == ExitCode.USAGE
    assert "--force" in done.stderr
    assert contents(tmp_path) == dict.fromkeys(taken, b"someone's own")
    assert run((*writer.words, "--force"), tmp_path).exit_code == writer.code
    assert contents(tmp_path) == whole(writer)


def test_an_audit_replaces_no_json_lines_of_others_even_where_asked(tmp_path):
    (tmp_path / "u.jsonl").write_bytes(b'{"someone": "else"}\n')
    for words in ((), ("--force",)):
        assert run(("audit", LEAK, "--out", "u", "--jobs", "1", *words), tmp_path).exit_code == ExitCode.USAGE
        assert contents(tmp_path) == {"u.jsonl": b'{"someone": "else"}\n'}


@EVERY
@pytest.mark.parametrize("words", [(), ("--force",)], ids=["unasked", "forced"])
def test_a_folder_in_the_place_of_a_file_stays(writer, words, whole, tmp_path):
    for name in writer.files:
        folder = tmp_path / name
        folder.mkdir()
        (folder / "in it").write_bytes(b"x")
        done = run((*writer.words, *words), tmp_path)
        assert done.exit_code == ExitCode.USAGE
        left = contents(tmp_path)
        left.pop(UNFINISHED, None)
        assert left == {one: whole(writer)[one] for one in left}
        assert [path.name for path in folder.iterdir()] == ["in it"]
        (folder / "in it").unlink()
        folder.rmdir()
        for path in tmp_path.iterdir():
            path.unlink()


@pytest.fixture
def unwritable(tmp_path):
    """Return a folder in which no file can be made; root may write everywhere but in the kernel's own."""
    if os.geteuid() != 0:
        tmp_path.chmod(0o555)
        yield tmp_path
        tmp_path.chmod(0o755)
        return
    kernel = Path("/sys/kernel")
    try:
        with tempfile.NamedTemporaryFile(dir=kernel):
            pytest.skip("root may write everywhere here")
    except OSError:
        yield kernel


@EVERY
def test_a_folder_that_cannot_be_written(writer, unwritable):
    before = sorted(unwritable.iterdir())
    done = run(writer.words, unwritable)
    assert done.exit_code == ExitCode.USAGE
    assert "cannot be written" in " ".join(done.stderr.split())
    assert sorted(unwritable.iterdir()) == before


@EVERY
def test_a_folder_that_does_not_exist(writer, tmp_path):
    words = [f"nowhere/{word}" if word in (*writer.files, "u") else word for word in writer.words]
    done = run(words, tmp_path)
    assert done.exit_code == ExitCode.USAGE
    assert "nowhere" in done.stderr
    assert list(tmp_path.iterdir()) == []


@EVERY
def test_a_file_that_appears_meanwhile_is_not_replaced(writer, monkeypatch, tmp_path):
    mine = writer.files[-1]
    if mine == "u.jsonl":
        pytest.skip("an audit holds a lock on its rows from the start; its picture is tried")
    # A draft gets its name when writing begins; of an audit the rows have theirs before the picture has.
    names = iter(["1", "2"] if writer.words[0] == "audit" else [])

    def name_meanwhile(size):
        return next(names, None) or ((tmp_path / mine).write_bytes(b"newer") and "3")

    monkeypatch.setattr("decay.files.secrets.token_hex", name_meanwhile)
    done = run(writer.words, tmp_path)
    assert done.exit_code == ExitCode.USAGE
    assert "exists" in done.stderr
    left = contents(tmp_path)
    assert left.pop(mine) == b"newer"
    assert set(left) <= set(writer.files)


@EVERY
@pytest.mark.parametrize("is_taken", [False, True])
def test_a_file_system_without_links(writer, is_taken, monkeypatch, whole, tmp_path):
    def no_links(*_):
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr("os.link", no_links)
    if is_taken:
        (tmp_path / writer.files[0]).write_bytes(b"taken")
        assert run(writer.words, tmp_path).exit_code == ExitCode.USAGE
        assert contents(tmp_path) == {writer.files[0]: b"taken"}
    else:
        assert run(writer.words, tmp_path).exit_code == writer.code
        assert contents(tmp_path) == whole(writer)


@EVERY
def test_an_interruption_at_the_last_step_leaves_nothing_behind(writer, monkeypatch, whole, tmp_path):
    def interrupted(*_):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("os.link", interrupted)
        patch.setattr("pathlib.Path.replace", interrupted)
        done = run(writer.words, tmp_path)
    assert done.exit_code == ExitCode.INTERRUPTED
    assert "Interrupted." in done.stderr
    assert set(contents(tmp_path)) <= {UNFINISHED}
    assert run(writer.words, tmp_path).exit_code == writer.code
    assert contents(tmp_path) == whole(writer)


# Sends itself a signal when a draft is whole and about to be moved to its place.
AT_THE_LAST_STEP = """
import os, sys
sys.addaudithook(lambda event, given: event in ("os.rename", "os.link") and os.kill(os.getpid(), {number}))
"""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("writer", [WRITERS[0], WRITERS[4], WRITERS[6]], ids=str)
def test_a_signal_ends_it_tidily(writer, number, tmp_path):
    done = ended(writer.words, tmp_path, first=AT_THE_LAST_STEP.format(number=int(number)))
    assert done.returncode == ExitCode.INTERRUPTED, done.stderr
    assert done.stderr.endswith("Interrupted.\n")
    assert "Traceback" not in done.stderr
    assert {path.name for path in tmp_path.iterdir()} <= {UNFINISHED}


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize(("words", "sign"), [
    (("lesson", "--shares", "--runs", "200", "--no-plot", "--json"), "Simulating"),
    (("audit", LEAK, DRY, "--out", "u", "--jobs", "2"), "logs"),
], ids=["lesson", "audit"])
def test_a_signal_while_it_works(words, sign, number, tmp_path):
    with piped() as (reading, writing), open(tmp_path.parent / "out", "w+b") as out:
        with started(words, tmp_path, stdout=out, stderr=writing) as running:
            writing.close()
            assert sign in reading.readline()
            running.send_signal(number)
            running.wait(60)
        errors = reading.read()
        assert out.seek(0, os.SEEK_END) == 0
    assert running.returncode == ExitCode.INTERRUPTED, errors
    assert errors.rstrip().endswith("Interrupted.")
    assert "Traceback" not in errors
    assert {path.name for path in tmp_path.iterdir()} <= {UNFINISHED}


JUDGE = ("analyze", LEAK, "--no-plot")
PLAN = ("plan", "--volume", "6.5 L", "--no-plot")
AUDIT = ("audit", LEAK, "--no-plot", "--jobs", "1")
EXPLAIN = ("explain", "H01")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full")
@pytest.mark.parametrize("words", [JUDGE, PLAN, EXPLAIN, ("criteria",), ("--help",), ("completion", "bash"), AUDIT],
                         ids=" ".join)
def test_an_answer_that_finds_no_room_is_no_verdict(words, tmp_path):
    with open("/dev/full", "wb") as full:
        done = ended(words, tmp_path, stdout=full)
    assert done.returncode == ExitCode.USAGE
    assert "No space left on device" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("words", [JUDGE, PLAN, EXPLAIN, AUDIT], ids=" ".join)
def test_a_closed_standard_output_is_said(words, tmp_path):
    done = ended(words, tmp_path, stdout=CLOSED)
    assert done.returncode == ExitCode.USAGE
    assert done.stderr.endswith("standard output is closed\n")


@pytest.mark.parametrize("where", [CLOSED, "/dev/full"])
@pytest.mark.parametrize(("words", "code"), [
    (JUDGE, ExitCode.FAIL), (("analyze", "nowhere.csv"), ExitCode.UNREADABLE),
    (AUDIT, ExitCode.FAIL), (("plan", "--volume", "nothing"), ExitCode.USAGE),
], ids=["analyze", "nowhere", "audit", "plan"])
def test_remarks_that_nobody_can_read_change_no_exit_code(words, code, where, tmp_path):
    if where == CLOSED:
        assert ended(words, tmp_path, stderr=CLOSED).returncode == code
    else:
        with open(where, "wb") as full:
            assert ended(words, tmp_path, stderr=full).returncode == code


def test_a_closed_standard_input_is_no_log(tmp_path):
    done = ended(("analyze", "-", "--no-plot"), tmp_path, stdin=CLOSED)
    assert done.returncode == ExitCode.UNREADABLE
    assert "standard input is closed" in done.stderr


def by_a_shell(command, folder):
    """Return how a shell's command line with `decay` in it ends: a fresh interpreter finds its streams as they are."""
    line = command.replace("decay", f'"{sys.executable}" -m decay_cli.main', 1)
    return subprocess.run(["/bin/sh", "-c", line], cwd=folder, capture_output=True, text=True, check=False, timeout=120)


@pytest.mark.parametrize(("redirected", "code", "said"), [
    (">&-", ExitCode.USAGE, "standard output is closed\n"),
    ("<&- 2>&-", ExitCode.FAIL, ""),
])
def test_a_fresh_interpreter_finds_its_streams_closed(redirected, code, said, tmp_path):
    done = by_a_shell(f'decay analyze "{LEAK}" --no-plot {redirected}', tmp_path)
    assert done.returncode == code
    assert done.stderr.endswith(said)


@pytest.mark.parametrize("words", [JUDGE, AUDIT, EXPLAIN], ids=" ".join)
def test_a_reader_that_goes_away_is_quiet(words, tmp_path):
    # The reader is gone before the answer comes, and the code is still the verdict's.
    with piped() as (reading, writing):
        reading.close()
        done = ended((*words, "-q"), tmp_path, stdout=writing)
    assert done.stderr == ""
    assert done.returncode == (ExitCode.PASS if words == EXPLAIN else ExitCode.FAIL)
