"""Which room may know which, who may import what from outside, and how little the help loads."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from functools import cache
from graphlib import TopologicalSorter

import pytest

from tests.house.sources import ROOT, SOURCES, tree_of

TYPES = {"constants", "errors", "interval", "arrays"}
ALLOWED = {
    "constants": set(),
    "errors": set(),
    "interval": set(),
    "arrays": set(),
    "files": set(),
    "toml_file": set(),
    "stretch": TYPES | {"quantities", "log"},
    "job_record": TYPES | {"toml_file", "stretch", "quantities", "system", "log", "impact"},
    "threads": set(),
    "manual": {"errors", "files", "audit"},
    "allowance": set(),
    "system": TYPES | {"allowance", "quantities"},
    "wording": TYPES | {"quantities"},
    "quantities": TYPES | {"allowance"},
    "physics": TYPES,
    "table": TYPES | {"quantities"},
    "log": TYPES | {"quantities", "table"},
    "phases": TYPES | {"log"},
    "fit": TYPES | {"physics", "log", "phases"},
    "pull": TYPES | {"quantities", "physics", "log", "phases", "fit"},
    "several": TYPES | {"wording", "physics", "fit"},
    "impact": TYPES | {"wording", "physics", "system", "quantities", "log", "phases", "fit", "pull"},
    "judge": TYPES | {"toml_file", "wording", "several", "physics", "system", "quantities", "log", "phases", "fit",
                      "impact", "pull"},
    "interface": TYPES | {"job_record", "stretch", "system", "physics", "impact", "log", "judge", "analysis",
                          "pipeline", "planning", "simulation", "several"},
    # An analysis shows itself: it stands above the reports, which know what is judged.
    "analysis": TYPES | {"report", "log", "judge"},
    "examine": TYPES | {"system", "log", "phases", "fit", "impact", "judge", "pull"},
    "together": TYPES | {"examine", "log", "phases", "fit", "judge", "several"},
    "pipeline": TYPES | {"examine", "together", "several", "threads", "system", "log", "phases", "fit", "judge",
                         "analysis", "pull"},
    "report": TYPES | {"wording", "files", "comparison", "quantities", "system", "log", "phases", "fit", "impact",
                       "judge", "several", "planning", "pull"},
    "simulation": TYPES | {"files", "toml_file", "quantities", "system", "physics", "log"},
    "lesson": TYPES | {"files", "report", "several", "wording", "quantities", "system", "physics", "log", "phases",
                       "fit", "impact", "judge", "analysis", "pipeline", "simulation"},
    "comparison": TYPES | {"quantities", "physics", "fit", "judge", "several"},
    "planning": TYPES | {"several", "threads", "quantities", "system", "physics", "log", "phases", "fit", "impact",
                         "judge"},
    "watch": TYPES | {"several", "threads", "wording", "system", "log", "phases", "fit", "impact", "judge", "examine",
                      "pipeline", "planning"},
    "audit": TYPES | {"wording", "files", "quantities", "system", "physics", "log", "phases", "fit", "impact", "judge",
                      "analysis", "pipeline", "report"},
}
# Rooms whose modules the commands may name; everything else comes through decay's public names.
CLI_ROOMS = {"audit", "comparison", "constants", "errors", "impact", "job_record", "lesson", "manual", "quantities",
             "system", "log", "physics", "planning", "report", "simulation", "stretch", "toml_file", "watch", "wording"}

OUTSIDE = {
    "click": r"cli/.*",
    "pandas": r"decay/(table/cells|log/frame)\.py",
    "pint": r"decay/quantities/registry\.py",
    "matplotlib": r"decay/(report|audit|lesson)/plot\w*\.py",
    "CoolProp": r"decay/physics/make_refrigerant_table\.py",
    "markdown_it": r"decay/manual/render\.py",
    "openpyxl": r"decay/table/workbook\.py",
    "numpy": r"decay/.*",
    "scipy": r"decay/.*",
    "threadpoolctl": r"decay/threads\.py",
}
# Imported under another name than it is installed by.
DISTRIBUTED = {"markdown_it": "markdown-it-py"}


@cache
def imported(path):
    """Return (module, line) of every import of a file, `from decay import x` as decay.x."""
    found = []
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative import"
            if node.module == "decay":
                found += [(f"decay.{alias.name}", node.lineno) for alias in node.names]
            else:
                found.append((node.module, node.lineno))
    return found


def room_of(path):
    return path.relative_to(ROOT).with_suffix("").parts[1]


def rooms():
    return {p.stem if p.is_file() else p.name for p in (ROOT / "decay").iterdir()
            if (p.suffix == ".py" or (p / "__init__.py").exists()) and p.name != "__init__.py"}


def test_every_room_stands_in_the_table():
    assert rooms() == set(ALLOWED)


def test_the_rooms_know_only_those_below_them():
    wrong = []
    for path in SOURCES:
        where = path.relative_to(ROOT)
        if where.parts[0] != "decay" or (where.name == "__init__.py" and len(where.parts) == 2):
            continue
        room = room_of(path)
        for module, line in imported(path):
            parts = module.split(".")
            if parts[0] == "decay_cli" or (parts[0] == "decay" and parts[1] not in ALLOWED[room] | {room}):
                wrong.append(f"{where}:{line}: {room} imports {module}")
    assert not wrong, "\n".join(wrong)


def test_no_files_know_each_other():
    """Imports inside of functions count; a room's __init__ stands for its files and is not one of them."""
    files = {re.sub(r"^cli\b", "decay_cli", ".".join(path.relative_to(ROOT).with_suffix("").parts)): path
             for path in SOURCES if path.name != "__init__.py"}
    known = {name: {other for node in ast.walk(tree_of(path)) if isinstance(node, ast.ImportFrom)
                    for other in (node.module, *(f"{node.module}.{alias.name}" for alias in node.names))} & set(files)
             for name, path in files.items()}
    TopologicalSorter(known).prepare()  # raises CycleError, which names the files


def test_the_commands_use_public_names_and_the_documented_rooms():
    import decay

    wrong = [f"{path.name}:{line}: {module}" for path in SOURCES if path.parent.name == "cli"
             for module, line in imported(path) if module.startswith("decay.")
             and module.split(".")[1] not in CLI_ROOMS | set(decay.__all__)]
    assert not wrong, wrong


def test_each_outside_library_stays_in_its_room():
    wrong, outside = [], set()
    for path in SOURCES:
        where = path.relative_to(ROOT).as_posix()
        for module, line in imported(path):
            name = module.split(".")[0]
            if name in sys.stdlib_module_names or name in ("decay", "decay_cli"):
                continue
            outside.add(name)
            if name not in OUTSIDE or not re.fullmatch(OUTSIDE[name], where):
                wrong.append(f"{where}:{line}: {name}")
    assert not wrong, "\n".join(wrong)
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
    assert {re.match(r"[\w-]+", entry)[0] for entry in declared} == {
        DISTRIBUTED.get(name, name) for name in outside - {"CoolProp", "openpyxl"}}


HEAVY = ["numpy", "pandas", "scipy", "matplotlib", "pint"]


@pytest.mark.parametrize("command", [["--help"], ["analyze", "--help"], ["explain", "--help"], ["simulate", "--help"],
                                     ["volume", "--help"]],
                         ids=" ".join)
def test_help_loads_click_and_nothing_heavy(command):
    script = (
        "import sys\nfrom decay_cli.main import decay\n"
        f"try:\n    decay.main({command!r})\nexcept SystemExit as ended:\n    assert ended.code == 0, ended.code\n"
        f"heavy = [name for name in {HEAVY!r} if name in sys.modules]\nassert not heavy, heavy\n"
        "assert 'click' in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr


def test_importing_the_library_is_light():
    unwanted = [*HEAVY, "click"]
    script = f"import sys, decay\nheavy = [n for n in {unwanted!r} if n in sys.modules]\nassert not heavy, heavy"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr


def test_a_clean_log_is_judged_without_pandas():
    log = ROOT / "sample_logs" / "tight_and_dry.csv"
    script = f"import sys, decay\ndecay.analyze({str(log)!r})\nassert 'pandas' not in sys.modules"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
