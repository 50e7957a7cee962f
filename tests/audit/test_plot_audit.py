"""The picture of an audit: what stands on which axes, and that odd audits still give one."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.backends.backend_agg import FigureCanvasAgg

from decay import load_criterion
from decay.audit.collect import Target
from decay.audit.extract import rows_of
from decay.audit.plot_audit import MOST_BARS, MOST_GROUPS, bars_of, draw_audit
from decay.audit.row import failed
from decay.audit.summary import GroupSummary, Tally
from decay.pipeline import Ahead, analyze_log
from decay.report.plot_style import save_picture
from decay_cli.main import decay
from tests.audit.logs import log_of, readings, write

FIELD = load_criterion("field-line")
WIDTH = 1200  # pixels


@cache
def invented(**told):
    """Return an invented log, the same object where the same is told."""
    return log_of(*readings(**told))


@cache
def analysed(log):
    return analyze_log(log, None, FIELD, ahead=Ahead.NOTHING)


def judged(target, log):
    return rows_of(target, analysed(log), FIELD)


def tally(logs, group_of=lambda place: "rig"):
    counted = Tally()
    for place, log in enumerate(logs):
        target = Target(f"{place}.csv", 1, 1)
        rows = [failed(target, 4, "no log")] if log is None else judged(target, log)
        counted.add(place, group_of(place), [row.record() for row in rows])
    return counted.summary()


@pytest.fixture(scope="module")
def summary():
    return tally([invented(seed=seed, leak=20.0 * (seed % 2)) for seed in range(6)])


@pytest.fixture(scope="module")
def figure(summary):
    drawn = draw(summary)
    FigureCanvasAgg(drawn).draw()
    return drawn


def draw(summary):
    return draw_audit(summary, FIELD.hold, FIELD.target)


def series(ax, begins):
    (line,) = [line for line in ax.lines if str(line.get_label()).startswith(begins)]
    return np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float)


def test_every_hold_stands_at_its_limit_and_rate(figure):
    rates = figure.axes[1]
    limit, rate = series(rates, "leak seen")
    assert len(limit) == 3
    assert rate == pytest.approx(20.0, rel=0.2)
    assert np.all(limit < rate)
    limit, upper = series(rates, "no leak seen")
    assert len(limit) == 3
    assert np.all(upper < 10.0)
    assert rates.get_xscale() == rates.get_yscale() == "log"
    assert "micron/min" in rates.get_xlabel()
    assert "micron/min" in rates.get_ylabel()


def test_the_lengths_add_up_to_all_holds(figure):
    lengths = figure.axes[2]
    assert sum(bar.get_height() for bar in lengths.patches) == 6
    inside = [bar for bar in lengths.patches if bar.get_height() == 6]
    assert len(inside) == 1
    assert inside[0].get_x() <= 25.0 <= inside[0].get_x() + inside[0].get_width()
    assert any("asked for, 10 min" in str(line.get_label()) for line in lengths.lines)


def test_jobs_stand_in_their_order(figure):
    job, minutes = series(figure.axes[3], "rig")
    assert list(job) == [1, 2, 3, 4, 5, 6]
    assert minutes * 60.0 == pytest.approx(313.0, abs=30.0)
    _, lowest = series(figure.axes[4], "rig")
    assert lowest == pytest.approx(160.0, abs=5.0)
    assert any("target, 500 micron" in str(line.get_label()) for line in figure.axes[4].lines)


def test_results_are_stacked_with_the_worst_group_on_top():
    logs = [invented(seed=seed, leak=30.0 * (seed < 3)) for seed in range(6)]
    ax = draw(tally(logs, lambda place: f"rig {place % 2}" if place != 2 else "rig 9")).axes[0]
    assert [label.get_text() for label in ax.get_yticklabels()] == ["rig 9 (1)", "rig 0 (2)", "rig 1 (3)"]
    widths = [bar.get_width() for bar in ax.patches]
    assert sum(widths) == pytest.approx(3.0)  # each row is whole
    assert {text.get_text() for text in ax.texts} == {"1", "2"}


def test_groups_without_a_bar_of_their_own_are_put_together():
    groups = [GroupSummary(f"g{n}", 2, 1, 1, 0, 0, 2, 0, 600.0, "path", None, None, np.empty(0), np.empty(0))
              for n in range(20)]
    bars = bars_of(groups)
    assert len(bars) == MOST_BARS
    assert bars[-1] == ("7 groups that fail less", (7, 0, 7, 0))
    assert sum(sum(counts) for _, counts in bars) == 40


def test_a_line_joins_only_jobs_that_follow_each_other():
    logs = [invented(seed=seed, leak=0.0) for seed in range(3)]
    lines = draw(tally(logs)).axes[3].lines
    assert [line.get_linestyle() for line in lines if line.get_label() == "rig"] == ["None"]  # no clock in these logs
    timed = [replace(log, started=f"2026-03-0{n + 1}T08:00:00") for n, log in enumerate(logs)]
    ax = draw(tally([timed[0], timed[1], replace(timed[2], pressure=timed[2].pressure * 9.0)])).axes[3]
    (line,) = [line for line in ax.lines if line.get_label() == "rig"]
    assert line.get_linestyle() != "None"
    assert np.isnan(line.get_ydata()[-1])  # the third never reached its target: nothing is drawn through it


def test_the_headline_counts(figure):
    assert "6 logs: 3 pass, 3 fail, 0 inconclusive, 0 unreadable; 6 holds" in figure.get_suptitle()


def test_many_groups_share_the_names():
    logs = [invented(seed=seed, leak=0.0) for seed in range(MOST_GROUPS + 3)]
    (legend,) = draw(tally(logs, lambda place: f"rig {place}")).legends
    labels = [text.get_text() for text in legend.get_texts()]
    assert sum(label.startswith("rig ") for label in labels) == MOST_GROUPS
    assert "3 more groups" in labels


@pytest.mark.parametrize("logs", [[None], [invented(hold_s=0.0)], [invented()]],
                         ids=["unreadable", "no hold", "one hold"])
def test_an_audit_that_shows_little_still_has_a_picture(logs, tmp_path):
    target = save_picture(draw(tally(logs)), tmp_path / "a.png")
    header = target.read_bytes()[16:24]  # width and height in the first chunk of a PNG
    assert int.from_bytes(header[:4], "big") == WIDTH
    assert int.from_bytes(header[4:], "big") < 1300


def test_nothing_stands_outside_the_picture_or_on_each_other(figure):
    renderer = figure.canvas.get_renderer()
    boxes = [ax.get_tightbbox(renderer) for ax in figure.axes]
    for box in boxes:
        assert box.x0 >= 0
        assert box.y0 >= 0
        assert box.x1 <= WIDTH
        assert box.y1 <= figure.bbox.height
    assert not any(one.overlaps(other) for place, one in enumerate(boxes) for other in boxes[place + 1 :])


def test_the_command_writes_the_picture_and_the_same_again(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write(tmp_path / "logs/a.csv", *readings())
    command = ["audit", "logs", "--criterion", "field-line", "--jobs", "1"]
    assert CliRunner().invoke(decay, command).exit_code == 0
    first = (tmp_path / "audit.png").read_bytes()
    assert CliRunner().invoke(decay, command).exit_code == 0
    assert (tmp_path / "audit.png").read_bytes() == first
