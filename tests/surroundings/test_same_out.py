"""Same in, same out: every byte of every output, whatever the locale, time zone, terminal, cores and hashing are."""

from __future__ import annotations

import json
import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
LOGS = ("leaking_slowly.csv", "tight_but_damp.csv", "leak_with_damp.csv", "triple_evacuation.csv.gz")

COMMANDS = (
    "analyze leaking_slowly.csv --volume '12.15 L' --ambient '23 degC' --refrigerant R134a --charge '650 g'",
    "analyze tight_but_damp.csv --json --plot analyze.svg",
    "analyze leak_with_damp.csv tight_but_damp.csv --same-job --verbose --plot job.pdf",
    "audit triple_evacuation.csv.gz leak_with_damp.csv --json --allow '2 micron/min' --jobs",
    "compare leak_with_damp.csv tight_but_damp.csv --plot compare.png",
    "lesson --runs 1 --hold '10 min' --interval '10 s'",
    "plan --volume '6.5 L' --pump '6 cfm' --hose '6 mm x 1.5 m' --water '5 g' --plot plan.svg",
    "simulate --leak '200 micron/min' --hold '7 min' --interval '10 s' --target '500 micron' --out invented.csv",
    "simulate --leak '5 micron/min' --damp '600 micron' --hold '10 min' --dialect clock12 --out invented12.csv.gz",
    "volume --tube '12 mm bore x 6 m'",
    "watch invented.csv --replay --allow '2 micron/min' --every '10 s' --hold-from '108 s'",  # a short log: two looks
    "explain H01",
    "criteria",
)

# Runs all commands in one process, each with its standard output in a file, and notes the exit codes.
RUN = """
import json, os, sys
if os.environ.get("ONE_CORE") and hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
try:
    import locale
    locale.setlocale(locale.LC_ALL, "")  # as a program around the library may
except locale.Error:
    pass
from decay_cli.main import decay, main
codes, given = [], json.loads(sys.argv[1])
for number, words in enumerate(given):
    sys.argv = ["decay", *words]
    if words[0] == "plan":  # two holds of each of three lengths, alike everywhere
        from decay.planning import hold_lengths
        hold_lengths._FEW, hold_lengths._ALIKE, hold_lengths._UNLIKE = 2, 1e9, 1e9
    with open(f"{number:02}-{words[0]}.out", "w", encoding="utf-8", newline="") as sys.stdout:
        try:
            # The first as a process of its own, which looks at its surroundings.
            decay.main(words, prog_name="decay") if number else main()
        except SystemExit as ended:
            codes.append(ended.code)
sys.stdout = sys.__stdout__
print(codes)
"""

RC = "font.size: 21\nsavefig.dpi: 31\nlines.linewidth: 7\nsvg.fonttype: none\n"

# COLUMNS is how a user asks for a width, also in a pipe: it is the same in both places, and nothing else is.
PLACES = {
    "german": {"TZ": "America/St_Johns", "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8", "PYTHONHASHSEED": "4242",
               "OPENBLAS_NUM_THREADS": "2", "OMP_NUM_THREADS": "2", "COLUMNS": "80", "LINES": "5", "TERM": "dumb",
               "FORCE_COLOR": "1", "MPLBACKEND": "svg", "MATPLOTLIBRC": "rc", "JOBS": "2",
               "SOURCE_DATE_EPOCH": "86400"},
    "bare": {"TZ": "<+1345>-13:45", "LC_ALL": "POSIX", "PYTHONHASHSEED": "random", "ONE_CORE": "1", "NO_COLOR": "1",
             "COLUMNS": "80", "TERM": "xterm-256color", "PYTHONUTF8": "0",
             "MPLBACKEND": "no-such", "SOURCE_DATE_EPOCH": "x"},  # settings of nonsense, for pictures
}


def made_german(folder):
    """Return where a German locale stands that is made here, and what to say to be heard; nothing where none can be."""
    try:
        subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", str(folder / "de_DE.UTF-8")], check=True,
                       capture_output=True, timeout=60)
    except (OSError, subprocess.CalledProcessError):
        return {}, ""
    return {"LOCPATH": str(folder)}, "axes.formatter.use_locale: True\n"


@pytest.fixture(scope="module")
def outputs(tmp_path_factory):
    """Return the standard output of the run, and all files, in each place."""
    found = {}
    german, comma = made_german(tmp_path_factory.mktemp("locale"))
    for name, place in PLACES.items():
        folder = tmp_path_factory.mktemp(name) / "job"  # an audit tells the folder's name
        folder.mkdir()
        for log in LOGS:
            shutil.copy2(SAMPLES / log, folder / log)
        (folder / "rc").write_text(RC + (comma if name == "german" else ""))
        place = {**place, **(german if name == "german" else {})}
        jobs = place.get("JOBS", "1")
        commands = [shlex.split(f"{line} {jobs}" if line.endswith("--jobs") else line) for line in COMMANDS]
        kept = {key: value for key, value in os.environ.items()
                if not key.startswith(("LC_", "LANG", "OPENBLAS", "OMP"))}
        done = subprocess.run([sys.executable, "-c", RUN, json.dumps(commands)], cwd=folder, env={**kept, **place},
                              capture_output=True, text=True, check=False, timeout=300)
        assert done.returncode == 0, done.stderr
        files = {path.name: path.read_bytes() for path in folder.iterdir() if path.name not in (*LOGS, "rc")}
        found[name] = (json.loads(done.stdout.splitlines()[-1]), files, done.stderr)
    return found


def test_every_command_did_its_work(outputs):
    codes, files, said = outputs["german"]
    assert [code for code in codes if code not in (0, 1, 3)] == [], said
    assert not [name for name, (_, _, told) in outputs.items() if "Traceback" in told]
    assert {"leaking_slowly.png", "analyze.svg", "job.pdf", "audit.csv", "audit.jsonl", "audit.png", "compare.png",
            "lesson.png", "plan.svg", "invented.csv", "invented.toml", "invented12.csv.gz"} <= set(files)
    assert [name for name, data in files.items() if not data] == []


def test_the_same_bytes_in_both(outputs):
    codes, files, _ = outputs["german"]
    others, elsewhere, _ = outputs["bare"]
    assert others == codes
    assert sorted(elsewhere) == sorted(files)
    assert [name for name in sorted(files) if elsewhere[name] != files[name]] == []
