"""The shape of the house: top level, length of files, docstrings, public names, no printing in the library."""

from __future__ import annotations

import ast
import re
import subprocess
import tomllib
from functools import cache

import pytest

import decay
from tests.house.sources import LIBRARY, ROOT, SOURCES, tree_of

TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "decay", "cli", "tests", "sample_logs"}
LONGEST = 350  # lines that are neither blank nor docstring
LONGEST_FUNCTION = 60  # lines without its docstring

PUBLIC = [
    "AllowKind", "Allowance", "Analysis", "Cause", "Criterion", "CriterionError", "DecayError", "Finding", "FitError",
    "Interval", "Level", "LogError", "PressureLog", "RangeError", "ReadOptions", "Result", "RigTest", "System",
    "UnitError", "Verdict", "Warmed", "__version__", "analyze", "analyze_job", "compare", "criterion_names",
    "default_criteria", "examine_rig", "explain", "finding_codes", "finding_titles", "load_criterion", "plan",
    "practices", "read_log", "simulate",
]


def name(path):
    return path.relative_to(ROOT).as_posix()


def test_the_top_level_is_the_fixed_set():
    listed = subprocess.run(["git", "-C", ROOT, "ls-files", "--cached"],
                            capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout: what belongs to the project cannot be told from what was made here")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {entry for entry in top if not entry.startswith(".")} == TOP


@cache
def docstring_lines(path):
    lines = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            lines |= set(range(node.lineno, node.end_lineno + 1))
    return lines


def test_a_file_says_what_it_knows_and_fits_in_one_reading():
    silent, long = [], []
    for path in SOURCES:
        tree = tree_of(path)
        first = (ast.get_docstring(tree) or "").split("\n\n")[0]
        # An empty file that only marks a package knows nothing.
        if tree.body and not first.endswith((".", "?")):
            silent.append(name(path))
        prose = docstring_lines(path)
        lines = enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if sum(bool(line.strip()) and number not in prose for number, line in lines) > LONGEST:
            long.append(name(path))
    assert silent == [], "a file opens with one sentence that says what it knows"
    assert long == []


def test_a_function_of_the_library_is_read_at_a_glance():
    long = []
    for path in LIBRARY:
        tree = tree_of(path)
        prose = docstring_lines(path)
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                lines = sum(number not in prose for number in range(node.lineno, node.end_lineno + 1))
                if lines >= LONGEST_FUNCTION:
                    long.append(f"{name(path)}:{node.lineno}: {node.name}, {lines} lines")
    assert long == []


def test_the_library_never_prints():
    calls = [f"{name(path)}:{node.lineno}" for path in LIBRARY if not path.stem.startswith("make_")  # run by hand
             for node in ast.walk(tree_of(path))
             if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("print", "input")]
    assert calls == []


def broken_word(function):
    """Return in what the docstring of a function says other than its signature, or ``None``."""
    text = ast.get_docstring(function)
    if not text:
        return "no docstring"
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-{3,}|\Z)", text, re.DOTALL | re.MULTILINE)
    if section is None:
        return None  # a short function in one sentence
    documented = {part.strip().lstrip("*") for line in section[1].splitlines() if re.match(r"\*{0,2}\w[\w, *]* :", line)
                  for part in line.split(" :")[0].split(",")}
    arguments = function.args
    real = {a.arg for a in [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]}
    real |= {a.arg for a in (arguments.vararg, arguments.kwarg) if a is not None}
    if documented != real:
        return f"documented are {sorted(documented)}, real are {sorted(real)}"
    for entry in re.split(r"\n(?=\S)", section[1].strip()):
        head, _, body = entry.partition("\n")
        if (re.search(r": (float|ndarray)\b", head) and "bool" not in head
                and not re.search(r"\[[^\]]+\]|\bany unit\b", body)):
            return f"{head}: a number without its unit in brackets"
    return None


def test_a_public_function_has_a_docstring_that_keeps_its_word():
    functions = [(f"{name(path)}:{node.name}", node) for path in LIBRARY for node in tree_of(path).body
                 if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")]
    assert len(functions) > 100
    assert {place: fault for place, node in functions if (fault := broken_word(node)) is not None} == {}


def test_a_public_function_of_the_library_has_a_name_of_its_own():
    homes = {}
    for path in LIBRARY:
        for node in tree_of(path).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                homes.setdefault(node.name, []).append(name(path))
    assert {each: places for each, places in homes.items() if len(places) > 1} == {}


def test_public_names():
    assert decay.__all__ == PUBLIC
    for each in PUBLIC:
        assert getattr(decay, each) is not None


def test_type_checkers_see_the_public_names_where_a_running_program_finds_them():
    checked = next(node for node in tree_of(ROOT / "decay" / "__init__.py").body if isinstance(node, ast.If))
    assert ast.unparse(checked.test) == "TYPE_CHECKING"
    assert {alias.name: line.module for line in checked.body for alias in line.names} == decay._HOMES


def test_every_finding_has_a_manual_page():
    headings = ("What it looks for", "Why it matters", "When it is wrong", "What to do")
    assert [(code, heading) for code in decay.finding_codes() for heading in headings
            if heading not in decay.explain(code)] == []


def test_every_room_and_every_file_of_data_goes_into_the_wheel():
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    rooms = {".".join(path.parent.relative_to(ROOT).parts) for path in ROOT.glob("decay/**/__init__.py")}
    assert set(told["packages"]) == rooms | {"decay_cli"}
    shipped = {path for pattern in told["package-data"]["decay"] for path in (ROOT / "decay").glob(pattern)}
    data = {path for path in (ROOT / "decay").rglob("*") if path.is_file() and path.suffix not in (".py", ".pyc")}
    assert data <= shipped
