"""The README and the manual against the program.

Each command line works, each shown output is the real one, each picture is fresh.
"""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import version

import numpy as np
import pytest
from matplotlib.image import imread

from decay import manual
from decay.judge.criteria import criterion_names, load_criterion
from decay_cli.console import ExitCode
from decay_cli.main import COMMANDS
from tests.cli.test_surface import surface
from tests.readme.renew import paragraphs
from tests.readme.shown import MADE_WITH, PICTURES, README, ROOT, blocks, run

TEXT = README.read_text(encoding="utf-8")
PAGES = "".join(manual.page(topic) for topic in manual.ORDER)
README_BLOCKS = blocks(TEXT)
BLOCKS = [*README_BLOCKS, *(block for topic in manual.ORDER for block in blocks(manual.page(topic)))]
SHOWN = [line for block in BLOCKS for line, _ in block.lines]
TILE = 20  # pixels: what rounding changes in a few of them averages out, a moved curve or another word does not
UNLIKE = 0.02  # of full brightness; a fifth with another matplotlib, which the comparison leaves aside
DRAWN_ALIKE = tomllib.loads(MADE_WITH.read_text(encoding="utf-8"))["matplotlib"] == version("matplotlib")
RENEW = "run: python -m tests.readme.renew"


def unlikeness(one, other):
    """Return the largest difference in brightness between tiles of two pictures; infinite where their sizes differ."""
    first, second = (imread(path)[..., :3].mean(axis=2) for path in (one, other))
    if first.shape != second.shape:
        return np.inf
    rows, columns = (size - size % TILE for size in first.shape)
    difference = (first - second)[:rows, :columns].reshape(rows // TILE, TILE, columns // TILE, TILE)
    return float(np.abs(difference.mean(axis=(1, 3))).max())


@pytest.fixture
def in_short(request, block, answered_once):
    """Let a log be judged once for all pages, and what a page does not show be shorter, its pictures empty."""
    if block.output is None and not block.pictures:
        for way in ("few_moments", "few_sizes", "planned_roughly", "drawn_blank"):
            request.getfixturevalue(way)


@pytest.mark.usefixtures("in_short")
@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.lines[-1][0])
def test_a_block_does_what_its_page_says(block, tmp_path):
    results = run(block, tmp_path)
    for (line, code), result in zip(block.lines, results, strict=True):
        assert result.exit_code == code, f"{line}\n{result.output}"
    if block.output is not None:
        assert results[-1].stdout.startswith(block.output), RENEW
    for picture in block.pictures:
        assert (tmp_path / picture.name).exists(), line
        difference = unlikeness(picture, tmp_path / picture.name)
        assert difference < (UNLIKE if DRAWN_ALIKE else np.inf), f"{picture.name} is out of date; {RENEW}"


def test_pictures_of_different_logs_are_told_apart():
    # The yardstick of the test above: two results drawn in the same layout must not pass for each other.
    assert unlikeness(PICTURES / "leaking_slowly.png", PICTURES / "leaking_slowly.png") == 0
    assert unlikeness(PICTURES / "leaking_slowly.png", PICTURES / "tight_but_damp.png") > UNLIKE


def test_the_pictures_are_those_that_the_readme_shows():
    shown = {picture for block in README_BLOCKS for picture in block.pictures}
    assert len(shown) == TEXT.count("![")
    assert shown == set(PICTURES.glob("*.png"))


def test_every_command_is_shown_at_work():
    assert all(f"decay {name}" in TEXT + PAGES for name in COMMANDS)
    assert {line.split()[1] for line in SHOWN} == set(COMMANDS) - {"completion"}  # its script is for a shell's start-up


def test_the_opening_is_one_paragraph_and_the_page_stays_short():
    first = TEXT.split("\n\n")[1]
    assert not first.startswith(("#", "`", "|"))
    assert len(TEXT.split()) <= 1200


def test_every_option_that_the_pages_name_exists():
    known = {option for options in surface().values() for option in options} | {"--help"}
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", TEXT + PAGES))
    assert named - known == set()


@pytest.mark.parametrize("code", ExitCode, ids=lambda code: code.name)
def test_every_exit_code_stands_in_the_readme(code):
    assert re.search(rf"^\| {code.value} \|", TEXT, re.MULTILINE)


def test_the_criteria_that_the_pages_name_are_shipped():
    named = set(re.findall(r"--criterion ([a-z0-9-]+)", TEXT + PAGES)) - {"NAME", "FILE"}
    assert named
    assert named <= set(criterion_names())


def test_the_criterion_of_one_s_own_is_one(tmp_path):
    shown = re.search(r"^```toml\n(.*?)^```$", manual.page("criteria"), re.DOTALL | re.MULTILINE)[1]
    (tmp_path / "own.toml").write_text(shown, encoding="utf-8")
    assert load_criterion(tmp_path / "own.toml").hold == 1200.0


def test_shown_output_is_whole_paragraphs():
    for block in README_BLOCKS:
        if block.output is not None:
            count = len(block.output.rstrip("\n").split("\n\n"))
            assert paragraphs(block.output, count) == block.output


def test_links_lead_somewhere():
    for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", TEXT):
        assert (ROOT / target).exists(), target
