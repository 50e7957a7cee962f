"""What is shown to a class: several holds over each other, and one hold as it grows."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.figure import Figure
from PIL import Image

from decay import RangeError, Result, System, read_log
from decay.lesson import plot_film
from decay.lesson.growing import grow, until
from decay.lesson.plot_film import draw_moment, film_faults, save_film
from decay.pipeline import Ahead, analyze_log
from decay.report.plot_overlay import LOOKS, MOST_HOLDS, draw_overlay, spread
from decay_cli.main import decay

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"


@pytest.fixture(scope="module")
def analyses():
    return [analyze_log(read_log(str(SAMPLES / name)), ahead=Ahead.ODDS)
            for name in ("leaking_slowly.csv", "tight_and_dry.csv", "tight_but_damp.csv")]


@pytest.fixture(scope="module")
def grown():
    log = read_log(str(SAMPLES / "leaking_slowly.csv"))
    span = analyze_log(log, ahead=Ahead.NOTHING).basis.span
    return grow(log, System(), None, span, name="a $hold$.csv", count=4)


def test_each_hold_starts_at_its_closing_and_has_its_number_and_answer(analyses):
    figure = draw_overlay(analyses)
    lines = [line for line in figure.axes[0].lines if len(line.get_xdata()) > 2]
    assert [float(line.get_xdata()[0]) for line in lines] == pytest.approx([0.0] * 3, abs=0.2)
    assert [line.get_linewidth() for line in lines] == [LOOKS[a.verdict.result]["linewidth"] for a in analyses]
    numbers = [text.get_text() for text in figure.axes[0].texts if text.get_text().isdigit()]
    assert sorted(numbers) == ["1", "2", "3"]
    table = [text.get_text() for text in figure.texts]
    for analysis in analyses:
        assert Path(analysis.log.source).name in table
        assert analysis.verdict.result.value.upper() in table


def test_kinds_differ_without_colour():
    looks = [(str(look["linestyle"]), look["linewidth"]) for look in LOOKS.values()]
    assert len(set(looks)) == len(Result)


def test_a_class_of_thirty_fits_and_more_are_refused(analyses):
    figure = draw_overlay([analyses[i % 3] for i in range(MOST_HOLDS)])
    assert len([t for t in figure.axes[0].texts if t.get_text().isdigit()]) == MOST_HOLDS
    places = sorted(text.xy[1] for text in figure.axes[0].texts if text.get_text().isdigit())
    height = figure.get_figheight() * figure.axes[0].get_position().height
    assert min(b - a for a, b in pairwise(places)) * height >= 0.15  # inches: a line of small letters
    with pytest.raises(RangeError, match="1 to 30"):
        draw_overlay([analyses[0]] * (MOST_HOLDS + 1))


@pytest.mark.parametrize("wanted", [[0.1, 0.2, 0.9], [0.5] * 9, [0.1, 0.1, 0.12, 0.5, 0.52]])
def test_places_keep_their_order_and_their_distance(wanted):
    found = spread(wanted, 0.05)
    assert all(b - a >= 0.05 - 1e-9 for a, b in pairwise(found))
    assert np.mean(found) == pytest.approx(np.mean(wanted))


def test_a_hold_grows_to_what_the_whole_log_proves(grown):
    log = grown.log
    whole = analyze_log(log, System(), None, hold=(grown.start, grown.end))
    assert grown.moments[-1].analysis.basis.leak == whole.basis.leak
    assert grown.moments[-1].analysis.verdict.result is whole.verdict.result
    lengths = [len(moment.analysis.log.time) for moment in grown.moments]
    assert lengths == sorted(set(lengths))
    widths = [moment.analysis.basis.leak.width for moment in grown.moments]
    assert widths[-1] < widths[0]


def test_a_log_until_a_moment_knows_nothing_later(grown):
    short = until(grown.log, grown.start + 60.0)
    assert short.time[-1] <= grown.start + 60.0
    assert short.rows == len(short.time) == len(short.pressure) == len(short.step)


def test_the_film_has_a_picture_for_each_moment_and_replaces_nothing(grown, tmp_path, monkeypatch):
    monkeypatch.setattr(plot_film, "STANDS", 1)
    short = replace(grown, moments=grown.moments[-2:])
    path = save_film([short], tmp_path / "hold.gif")
    with Image.open(path) as film:
        # The pictures that stand at the end are alike, and become one that lasts.
        assert 2 <= film.n_frames <= 3
    with pytest.raises(FileExistsError):
        save_film([short], path)
    assert [file.name for file in tmp_path.iterdir()] == ["hold.gif"]


def test_a_picture_of_it_says_rule_answer_and_interval(grown):
    figure = draw_moment(Figure(figsize=(10, 7)), [grown], 3)
    words = " ".join(text.get_text() for text in figure.texts)
    assert r"a \$hold\$.csv" in words
    assert "Rule, " in words
    assert "The log: LEAK" in words
    assert figure.axes[1].get_ylabel() == "leak\n[micron/min]"


def test_an_mp4_needs_ffmpeg(monkeypatch):
    monkeypatch.setattr(plot_film.FFMpegWriter, "isAvailable", classmethod(lambda cls: False))
    assert "ffmpeg" in film_faults("a.mp4")
    assert "must end in .gif or .mp4" in film_faults("a.avi")
    assert film_faults("a.gif") is None


def _rules_of(folder):
    """Return the rules that a film of the command judges by: one, though a young hold answers shorter ones only."""
    from decay_cli import pictures

    seen = set()

    def grow(log, system, criterion, hold, **more):
        seen.add(criterion.name)
        raise RangeError("seen enough")

    analysis = analyze_log(read_log(str(SAMPLES / "leaking_slowly.csv")))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("decay.lesson.growing.grow", grow)
        with pytest.raises(RangeError):
            pictures.show([analysis], None, folder / "a.gif", None, force=False, quiet=True)
    return seen


def test_the_commands_write_both(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("decay.lesson.growing.MOMENTS", 3)
    logs = [str(SAMPLES / name) for name in ("tight_and_dry.csv", "leaking_slowly.csv")]
    done = CliRunner().invoke(decay, ["analyze", *logs, "--no-plot", "--overlay", "both.png"])
    assert done.exit_code == 1, done.output
    assert Path("both.png").read_bytes().startswith(b"\x89PNG")
    again = CliRunner().invoke(decay, ["analyze", *logs, "--no-plot", "--overlay", "both.png"])
    assert again.exit_code == 2
    assert "--overlay: both.png exists" in again.stderr
    assert _rules_of(tmp_path) == {"one-hour-stand"}
    bad = CliRunner().invoke(decay, ["analyze", logs[0], "--no-plot", "--film", "hold.avi"])
    assert bad.exit_code == 2
    assert ".gif" in bad.stderr
