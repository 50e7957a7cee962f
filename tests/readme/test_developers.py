"""The guides of contributors against the house: what they name exists, and no room is missing from the map."""

from __future__ import annotations

import importlib.util
import re

import pytest

from tests.readme.shown import ROOT

TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
GUIDES = [ROOT / "DEVELOPERS.md", *sorted(ROOT.glob("tests/*/README.md"))]
LONGEST = 4500  # words: it is read in one sitting
MAP = TEXT[TEXT.index("## Map of the rooms") : TEXT.index("## Data flow")]


def exists(name):
    """Tell whether a name in backticks is a file or folder, from the top or inside the library; it may hold a star."""
    return any(list(ROOT.glob(f"{place}{name}")) for place in ("", "decay/"))


def test_the_guide_is_read_in_one_sitting():
    assert len(TEXT.split()) <= LONGEST


def test_every_file_and_folder_that_they_name_exists():
    written = "".join(path.read_text(encoding="utf-8") for path in GUIDES)
    rooms = "|".join(path.name for path in (ROOT / "decay").iterdir() if path.is_dir())
    named = set(re.findall(rf"`((?:decay|cli|tests|sample_logs|{rooms}|\.ci)/[\w./*-]*)`", written))
    assert len(named) > 40
    assert {name for name in named if not exists(name)} == set()


def test_every_module_that_they_run_exists():
    named = {name for path in GUIDES
             for name in re.findall(r"python -m ((?:decay|tests)[\w.]*)", path.read_text(encoding="utf-8"))}
    assert len(named) >= 6
    for name in named:
        assert importlib.util.find_spec(name) is not None, name


@pytest.mark.parametrize("room", sorted(path.parent.name for path in ROOT.glob("decay/*/__init__.py")))
def test_every_room_is_on_the_map(room):
    assert f"| `decay/{room}/` |" in MAP


def test_the_constants_that_it_quotes_are_those_of_the_code():
    from decay.fit import hold, mixture, steady_rise
    from decay.several import joint

    assert f"`KAPPA` = {hold.KAPPA:g} holds" in TEXT
    assert f"`SLOWEST` = {hold.SLOWEST:g} times" in TEXT
    assert f"{mixture.POOLS} time constants" in TEXT
    assert f"`TAKEN_UP` = {steady_rise.TAKEN_UP:.0%}".replace("%", " %") in TEXT
    assert f"`TAKEN_UP_TOGETHER` is {joint.TAKEN_UP_TOGETHER:.0%}".replace("%", " %") in TEXT
    assert f"below {steady_rise.NEARLY_STRAIGHT:.0%}".replace("%", " %") in TEXT
    assert f"homogeneity test ({joint.HOMOGENEOUS:.0%})".replace("%)", " %)") in TEXT


def test_the_change_list_opens_with_what_can_change_a_verdict():
    headings = re.findall(r"^### (.*)$", TEXT[TEXT.index("## Changes") :], re.MULTILINE)
    assert headings[0] == "Verdicts that can differ"
