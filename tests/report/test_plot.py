"""The picture: what is on it, in which units, how lines differ without colour, and how it reaches the disk."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text

from decay.analysis import Analysis
from decay.errors import RangeError
from decay.phases.phase import Kind
from decay.report import plot, plot_style
from decay.report.answers import picture_text
from tests.report import factories


@cache
def picture(make: Callable[[], Analysis]) -> Figure:
    """Return a picture that nobody changes."""
    return plot.draw(make())


def labels(ax: Axes) -> list[str]:
    legend = ax.get_legend()
    assert legend is not None
    return [text.get_text().replace("\n", " ") for text in legend.get_texts()]


def line(ax: Axes, label: str) -> np.ndarray:
    """Return x and y of the line with this label."""
    found = [each for each in ax.get_lines() if str(each.get_label()).replace("\n", " ") == label]
    assert len(found) == 1, f"{label!r} among {[each.get_label() for each in ax.get_lines()]}"
    return np.array([found[0].get_xdata(), found[0].get_ydata()], dtype=float)


def all_text(figure: Figure) -> str:
    texts = [*figure.texts, *(text for ax in figure.axes for text in ax.texts)]
    return " ".join(text.get_text().replace("\n", " ") for text in texts if text.get_text())


def test_the_picture_has_its_panels() -> None:
    figure = picture(factories.leaking)
    whole, hold, scale = figure.axes
    assert whole.get_yscale() == "log"
    assert whole.get_ylabel() == "pressure [micron]"
    assert whole.get_xlabel() == "time since the first row [min]"
    assert hold.get_yscale() == "linear"
    assert hold.get_ylabel() == "pressure [micron]"
    assert hold.get_xlabel() == "time since the valve closed [min]"
    assert scale.get_xlabel() == "steady rise [micron/min]"
    assert tuple(figure.get_size_inches() * figure.dpi) == (1200.0, 900.0)


@pytest.mark.parametrize("make", factories.EVERY, ids=lambda make: make.__name__)
def test_the_head_says_the_reason_and_both_answers_in_four_lines(make: Callable[[], Analysis]) -> None:
    made, figure = make(), picture(make)
    shown = all_text(figure)
    headline, _, leak, practice = (text.replace("\n", " ") for text in picture_text(made))
    assert headline.startswith(made.verdict.result.value.upper())
    for text in (headline, leak, practice):
        assert plot_style.safe(text)[:100] in shown
    assert "Leak: " in shown
    assert "Practice: " in shown


def test_every_usable_reading_of_the_log_is_drawn() -> None:
    made = factories.leaking()
    whole = picture(factories.leaking).axes[0]
    drawn = line(whole, "readings: vacuum")
    assert drawn.shape[1] == len(made.log.time) == 721
    assert np.count_nonzero(np.isfinite(drawn[1])) == int((~made.log.is_over_range).sum())
    np.testing.assert_allclose(drawn[1][400] * factories.MICRON, made.log.pressure[400])


def test_phases_are_named_in_a_strip_above_the_readings() -> None:
    figure = picture(factories.leaking)
    figure.draw_without_rendering()
    whole = figure.axes[0]
    named = [text for text in whole.texts if text.get_text() in ("pumpdown", "hold")]
    assert len(named) == 2
    assert all(text.get_window_extent().y0 >= whole.bbox.y1 for text in named)
    assert "atmosphere" in labels(whole)  # too narrow for its name
    assert all(patch.get_hatch() is None for patch in whole.patches)


def test_neighbours_in_the_strip_differ_in_grey() -> None:
    grounds = {kind: shade for kind, (shade, _) in plot_style.SHADES.items()}
    assert set(grounds) == set(Kind)
    assert len({grounds[kind] for kind in (Kind.PUMPDOWN, Kind.HOLD, Kind.SWEEP, Kind.UNCLEAR)}) == 4


def test_the_criterion_is_named_on_its_line() -> None:
    whole = picture(factories.leaking_and_damp).axes[0]
    name = next(text for text in whole.texts if "criterion" in text.get_text())
    assert name.get_text() == "criterion's line, 500 micron"
    assert name.xy[1] == pytest.approx(500.0)  # type: ignore[attr-defined]


def test_over_range_readings_are_visible_in_both_panels() -> None:
    made = factories.over_range()
    whole, hold, _ = picture(factories.over_range).axes
    lost = int(made.log.is_over_range.sum())
    lost_in_hold = int(made.log.is_over_range[made.log.time >= factories.ISOLATED_AT].sum())
    assert 0 < lost_in_hold < lost
    assert f"over range ({lost} readings)" in labels(whole)
    assert f"over range ({lost_in_hold} readings)" in labels(hold)


def test_rows_that_were_not_used_are_counted() -> None:
    legend = picture(factories.many_caveats).axes[0].get_legend()
    assert legend is not None
    assert legend.get_title().get_text() == "12 of 733 rows not used"


def test_other_gauges_are_drawn_and_named() -> None:
    whole = picture(factories.leaking_and_damp).axes[0]
    assert "other gauge: manifold" in labels(whole)


def test_the_hold_shows_readings_model_parts_and_lines() -> None:
    made = factories.leaking_and_damp()
    fit = made.holds[0].fit
    hold = picture(factories.leaking_and_damp).axes[1]
    start = factories.micron(262.0)  # where the factories let the fitted rise begin
    inside = (made.log.time >= fit.fit_from) & (made.log.time <= fit.end)
    settling = (made.log.time >= fit.start) & (made.log.time < fit.fit_from)
    assert line(hold, "reading").shape[1] == inside.sum()
    assert line(hold, "first 30 s, not fitted").shape[1] == settling.sum() > 0
    for label, curve in (
        ("fitted rise", fit.curve.model),
        ("steady part", start + fit.curve.leak),
        ("part that levels off", start + fit.curve.outgassing),
    ):
        np.testing.assert_allclose(line(hold, label)[1] * factories.MICRON, curve)
    assert line(hold, "criterion's line")[1][0] == pytest.approx(500.0)
    shaded = hold.collections[0].get_paths()[0].vertices  # type: ignore[union-attr]
    spread = (fit.leak.high - fit.leak.low) * (fit.curve.time[-1] - fit.curve.time[0])
    ends = shaded[shaded[:, 0] == shaded[:, 0].max(), 1]  # type: ignore[index, call-overload]
    assert np.ptp(ends) * factories.MICRON == pytest.approx(spread)


def test_names_stand_beside_the_hold_where_their_lines_end() -> None:
    hold = picture(factories.leaking_and_damp).axes[1]
    names = {text.get_text().replace("\n", " "): text for text in hold.texts}
    assert {"fitted rise", "steady part; grey: its 95 % interval", "part that levels off",
            "criterion's line, 500 micron"} <= set(names)
    low, high = hold.get_ylim()
    at = names["fitted rise"].xy[1]  # type: ignore[attr-defined]
    assert low + at * (high - low) == pytest.approx(line(hold, "fitted rise")[1][-1])


def test_a_criterion_far_above_is_an_arrow_and_the_panel_says_that_it_is_enlarged() -> None:
    hold = picture(factories.tight).axes[1]
    texts = [text.get_text().replace("\n", " ") for text in hold.texts]
    assert "↑ criterion's line, 500 micron" in texts
    assert any(text.startswith("enlarged: this panel spans") for text in texts)
    assert hold.get_ylim()[1] < 300.0


def test_noise_alone_does_not_fill_the_panel() -> None:
    made = factories.tight()
    low, high = picture(factories.tight).axes[1].get_ylim()
    assert (high - low) * factories.MICRON >= 20.0 * made.holds[0].fit.step


def test_the_ceiling_of_water_is_drawn_when_near() -> None:
    hold = picture(factories.damp).axes[1]
    assert line(hold, "saturated water vapour")[1][0] == pytest.approx(480)
    assert "saturated water vapour,\n480 micron" in [text.get_text() for text in hold.texts]


def test_lines_differ_without_colour() -> None:
    hold = picture(factories.damp).axes[1]
    dashed = [
        (each.get_linestyle(), str(each._dash_pattern), each.get_marker())  # type: ignore[attr-defined]
        for each in hold.get_lines()
    ]
    assert len(set(dashed)) == len(dashed) >= 7


def test_the_scale_says_the_leak_in_grams_a_year() -> None:
    made = factories.leaking()
    figure = picture(factories.leaking)
    scale = figure.axes[2]
    tops = list(scale.child_axes)
    assert len(tops) == 2
    shown = {text.get_text() for text in scale.texts}
    assert {"g/year, laminar flow", "g/year, molecular flow", "3.20 micron/min (2.90 to 3.50)"} <= shown
    figure.draw_without_rendering()
    loss = made.holds[0].impact.loss
    assert loss is not None
    for top, law in zip(tops, (loss.laminar, loss.molecular), strict=True):
        right = scale.get_xlim()[1]
        assert top.get_xlim()[1] / right == pytest.approx(law.value / factories.G_PER_YEAR / 3.2)
    assert any("0.6 micron/min" in label and "g/year" in label for label in labels(scale))


def test_without_volume_the_scale_says_what_it_needs() -> None:
    scale = picture(factories.bare).axes[2]
    assert scale.child_axes == []
    assert "needs volume, refrigerant and temperature" in scale.get_title(loc="left")


def test_both_intervals_stand_on_the_scale_of_a_joint_job() -> None:
    scale = picture(factories.three_holds).axes[2]
    assert [tick.get_text() for tick in scale.get_yticklabels()] == ["all holds", "this hold"]


def test_without_a_hold_the_picture_says_what_was_looked_for() -> None:
    figure = picture(factories.no_hold)
    assert len(figure.axes) == 2
    assert figure.axes[1].get_title(loc="left") == "No usable hold"
    assert "looked for" in all_text(figure)
    with pytest.raises(ValueError, match="needs a hold"):
        plot.draw_leak_scale(figure.axes[1], factories.no_hold())


@pytest.mark.parametrize("make", factories.EVERY, ids=lambda make: make.__name__)
def test_texts_stay_on_the_picture_and_apart(make: Callable[[], Analysis]) -> None:
    figure = picture(make)
    figure.draw_without_rendering()
    boxes = [(text.get_text(), text.get_window_extent()) for text in figure.texts]
    for ax in figure.axes:
        found = [*ax.texts, ax.xaxis.label, ax.yaxis.label, ax._left_title]  # type: ignore[attr-defined]
        legend = ax.get_legend()
        # A name's leader line may pass another's corner: the letters count.
        boxes += [(text.get_text(), Text.get_window_extent(text)) for text in found if text.get_text()]
        boxes += [("legend", legend.get_window_extent())] if legend is not None else []
    for text, box in boxes:
        assert box.x0 >= -1, text
        assert box.y0 >= -1, text
        assert box.x1 <= figure.bbox.width + 1 == 1201, text
        assert box.y1 <= figure.bbox.height + 1, text
    for position, (text, box) in enumerate(boxes):
        for other, other_box in boxes[position + 1 :]:
            overlap_x = min(box.x1, other_box.x1) - max(box.x0, other_box.x0)
            overlap_y = min(box.y1, other_box.y1) - max(box.y0, other_box.y0)
            assert overlap_x < 2 or overlap_y < 2, (text, other)


def test_a_long_file_name_stays_on_the_picture() -> None:
    figure = plot.draw(factories.analysis(source="M" * 40 + "m" * 90 + "W" * 40 + ".csv"))
    figure.draw_without_rendering()
    widest = max(text.get_window_extent().x1 for text in figure.texts)
    assert 400 < widest <= 1200


def test_the_same_analysis_gives_the_same_file(tmp_path: Path) -> None:
    made = factories.leaking_and_damp()
    starts = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF"}
    assert set(starts) == set(plot_style.SUFFIXES)
    figures = {name: plot.draw(made) for name in ("one", "two")}
    for suffix, start in starts.items():
        one, two = (plot_style.save_picture(figure, tmp_path / f"{name}{suffix}") for name, figure in figures.items())
        assert one.read_bytes() == two.read_bytes()
        assert one.read_bytes().startswith(start)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(f"{n}{s}" for n in ("one", "two") for s in starts)
    png = (tmp_path / "one.png").read_bytes()
    assert (int.from_bytes(png[16:20]), int.from_bytes(png[20:24])) == (1200, 900)  # the promised size


@pytest.mark.parametrize("name", ["hold.jpeg", "hold", "hold.csv"])
def test_an_unknown_suffix_is_refused_with_what_would_do(tmp_path: Path, name: str) -> None:
    with pytest.raises(RangeError, match=r"\.png, \.svg, \.pdf"):
        plot_style.save_picture(Figure(), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_failure_leaves_nothing_and_keeps_what_was_there(tmp_path: Path) -> None:
    class Torn(Figure):
        def savefig(self, stream, **_):  # type: ignore[no-untyped-def, override]
            stream.write(b"half a picture")
            raise OSError(28, "No space left on device")

    before = tmp_path / "hold.png"
    before.write_bytes(b"the picture of yesterday")
    with pytest.raises(OSError, match="No space left"):
        plot_style.save_picture(Torn(), before)
    assert before.read_bytes() == b"the picture of yesterday"
    assert [path.name for path in tmp_path.iterdir()] == ["hold.png"]


def test_a_folder_that_is_not_there_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        plot_style.save_picture(Figure(), tmp_path / "nowhere" / "hold.png")


@pytest.mark.skipif(os.name == "nt", reason="permissions are those of POSIX")
def test_the_picture_gets_the_permissions_that_new_files_get(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.touch()
    written = plot_style.save_picture(Figure(), tmp_path / "hold.svg")
    assert stat.S_IMODE(written.stat().st_mode) == stat.S_IMODE(other.stat().st_mode)


def test_odd_names_are_drawn_as_they_are(tmp_path: Path) -> None:
    made = factories.analysis(source="$a_1$ \u51b7\u5e93 \x1b[2J.csv")
    figure = plot.draw(made)
    assert r"\x1b[2J" in all_text(figure)
    plot_style.save_picture(figure, tmp_path / "hold.png")  # a warning about a missing letter would fail here


def test_a_long_log_is_thinned_without_losing_its_extremes() -> None:
    values = np.sin(np.arange(50_000) / 900.0)
    values[31_337] = 9.0
    values[40_000] = np.nan
    shown = plot_style.worth_drawing(values)
    assert len(shown) <= plot_style.MOST_POINTS
    assert 31_337 in shown
    assert np.all(np.diff(shown) > 0)


def test_a_log_with_readings_at_zero_shows_them() -> None:
    made = factories.leaking()
    pressure = made.log.pressure.copy()
    pressure[500:503] = 0.0
    whole = plot.draw(replace(made, log=replace(made.log, pressure=pressure))).axes[0]
    assert "zero or below (3 readings)" in labels(whole)


def test_no_window_no_pyplot_and_no_pandas() -> None:
    code = (
        "import sys, decay.report.detail, decay.report.document; assert 'matplotlib' not in sys.modules;"
        "import decay.report.plot; assert 'matplotlib.pyplot' not in sys.modules;"
        "assert 'pandas' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
