"""The shape of the house: top level, length of files, docstrings, public names, no printing in the library."""

from __future__ import annotations

import ast
import re
import subprocess
import tomllib
from pathlib import Path

import pytest

import decay

ROOT = Path(__file__).resolve().parents[2]
LIBRARY = sorted(ROOT.glob("decay/**/*.py"))
SOURCES = [*LIBRARY, *sorted(ROOT.glob("cli/*.py"))]
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "decay", "cli", "tests", "sample_logs"}
LONGEST = 350  # lines that are neither blank nor docstring

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


def docstring_lines(tree):
    lines = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            lines |= set(range(node.lineno, node.end_lineno + 1))
    return lines


@pytest.mark.parametrize("path", SOURCES, ids=name)
def test_a_file_says_what_it_knows_and_fits_in_one_reading(path):
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    first = (ast.get_docstring(tree) or "").split("\n\n")[0]
    # An empty file that only marks a package knows nothing.
    assert not tree.body or first.endswith((".", "?")), "a file opens with one sentence that says what it knows"
    prose = docstring_lines(tree)
    code = [n for n, line in enumerate(text.splitlines(), 1) if line.strip() and n not in prose]
    assert len(code) <= LONGEST


@pytest.mark.parametrize("path", LIBRARY, ids=name)
def test_the_library_never_prints(path):
    calls = [node.lineno for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
             if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("print", "input")]
    if path.stem.startswith("make_"):
        return  # run by hand as a script
    assert not calls


def public_functions():
    """Yield the module-level public functions of the library, and their place."""
    for path in LIBRARY:
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield pytest.param(node, id=f"{name(path)}:{node.name}")


@pytest.mark.parametrize("function", list(public_functions()))
def test_a_public_function_has_a_docstring_that_keeps_its_word(function):
    text = ast.get_docstring(function)
    assert text, "no docstring"
    section = re.search(r"^Parameters\n-+\n(.*?)(?=^\w[\w ]*\n-{3,}|\Z)", text, re.DOTALL | re.MULTILINE)
    if section is None:
        return  # a short function in one sentence
    documented = {part.strip().lstrip("*") for line in section[1].splitlines() if re.match(r"\*{0,2}\w[\w, *]* :", line)
                  for part in line.split(" :")[0].split(",")}
    arguments = function.args
    real = {a.arg for a in [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]}
    real |= {a.arg for a in (arguments.vararg, arguments.kwarg) if a is not None}
    assert documented == real
    for entry in re.split(r"\n(?=\S)", section[1].strip()):
        head, _, body = entry.partition("\n")
        if re.search(r": (float|ndarray)\b", head) and "bool" not in head:
            assert re.search(r"\[[^\]]+\]|\bany unit\b", body), f"{head}: a number without its unit in brackets"


def test_public_names():
    assert decay.__all__ == PUBLIC
    for each in PUBLIC:
        assert getattr(decay, each) is not None


@pytest.mark.parametrize("code", decay.finding_codes())
def test_every_finding_has_a_manual_page_and_stands_in_the_readme(code):
    page = decay.explain(code)
    for heading in ("What it looks for", "Why it matters", "When it is wrong", "What to do"):
        assert heading in page


def test_every_room_and_every_file_of_data_goes_into_the_wheel():
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    rooms = {".".join(path.parent.relative_to(ROOT).parts) for path in ROOT.glob("decay/**/__init__.py")}
    assert set(told["packages"]) == rooms | {"decay_cli"}
    shipped = {path for pattern in told["package-data"]["decay"] for path in (ROOT / "decay").glob(pattern)}
    data = {path for path in (ROOT / "decay").rglob("*") if path.is_file() and path.suffix not in (".py", ".pyc")}
    assert data <= shipped
