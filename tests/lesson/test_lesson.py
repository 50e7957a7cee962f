"""The lesson: shares with their error, losses that are those of `decay.impact`, and a pair that the rule gets wrong."""

from __future__ import annotations

import dataclasses
import io
import json
import math
import re

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.text import Text

from decay import Cause, Interval, RangeError, Result, analyze, load_criterion, wording
from decay.impact.assess import assess
from decay.lesson import Terms, share, teach
from decay.lesson import teaching as whole
from decay.lesson.lesson_document import lesson_document
from decay.lesson.lesson_text import first_page, second_page, told_pair
from decay.lesson.passing import count_passing, is_met, up_to_length
from decay.lesson.plot_lesson import draw_lesson
from decay.lesson.plot_pages import draw_pair, handout
from decay.lesson.terms import Day, gauge_like
from decay.quantities import MICRON
from decay.report.document import dumps
from decay.simulation import run
from decay_cli.main import decay

PER_MINUTE = MICRON / 60.0
SMALL = Terms(runs=4, proof_runs=1)


@pytest.fixture(scope="module")
def lesson():
    """Return a lesson whose logs are analysed at every sixteenth leak size."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(whole, "EVERY", 16)
        return teach(SMALL)


# Newcombe, *Statistics in Medicine* 17 (1998) 857, table I, method 3 (score, without correction), to its four digits;
# figures from memory.
@pytest.mark.parametrize(("count", "runs", "low", "high"), [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605),
                                                            (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)])
def test_shares_have_the_published_score_interval(count, runs, low, high):
    found = share(count, runs)
    assert (found.low, found.value, found.high) == pytest.approx((low, count / runs, high), abs=5e-5)


@pytest.mark.parametrize(("count", "runs"), [(1, 0), (3, 2), (-1, 5)])
def test_a_share_of_nothing_is_refused(count, runs):
    with pytest.raises(RangeError, match="at least one trial"):
        share(count, runs)


def test_the_score_interval_covers():
    # 300 counts of 40 trials each: the interval holds the truth in about 95 % of them, whatever the truth.
    rng = np.random.default_rng(5)
    for truth in (0.05, 0.5, 0.9):
        found = [share(int(n), 40) for n in rng.binomial(40, truth, 300)]
        assert 0.91 <= np.mean([s.low <= truth <= s.high for s in found]) <= 0.99


def test_the_search_finds_the_number_that_pass():
    for guess in (-1, 0, 3, 9, 20):
        for truth in range(10):
            asked = []
            found = count_passing(lambda i, asked=asked, truth=truth: asked.append(i) or i < truth, 9, guess)
            assert found == min(truth, 9), (truth, guess)
            assert len(asked) == len(set(asked)), (truth, guess)


def test_the_search_agrees_with_looking_at_every_leak():
    number, hold, system = 3, SMALL.hold, SMALL.system
    met = [is_met(run(SMALL.job(number, float(leak), hold)), SMALL.rule(), system) for leak in SMALL.leaks[::4]]
    assert met == sorted(met, reverse=True)
    assert count_passing(lambda i: met[i], len(met), 2) == sum(met)
    assert 0 < sum(met) < len(met)


def test_fewer_holds_pass_with_a_larger_leak(lesson):
    for curve in (*lesson.rules, *lesson.volumes):
        assert np.all(np.diff(curve.passes) <= 0)
        assert curve.passes[-1] < curve.passes[0] <= curve.runs


def test_more_holds_pass_in_a_larger_volume_and_fewer_with_a_longer_hold(lesson):
    smaller, stated, larger = (curve.passes.sum() for curve in lesson.volumes)
    assert smaller < stated < larger
    longest_first = [curve.passes[1:].sum() for curve in reversed(lesson.rules)]
    assert longest_first == sorted(longest_first)
    assert longest_first[0] < longest_first[-1]


def test_the_same_jobs_by_brute_force_pass_as_often(lesson):
    index = 26
    leak = float(SMALL.leaks[index])
    passed = sum(is_met(run(SMALL.job(n, leak, SMALL.hold)), SMALL.rule(), SMALL.system) for n in range(SMALL.runs))
    assert passed == lesson.rules[0].passes[index]


def test_what_the_logs_prove_adds_up(lesson):
    for proof in lesson.proofs:
        assert np.all(proof.named + proof.unresolved + proof.unseen + proof.without == proof.runs)
        assert np.all(proof.named_and_met <= proof.named)
        assert np.all(proof.passed <= proof.unseen)
        assert proof.named[0] == 0  # no leak, none named
    # The largest leak shows in the longest hold.
    assert lesson.proofs[-1].named[-1] > 0


def test_losses_are_those_of_the_impact_room(lesson):
    terms = lesson.terms
    for index in (1, 17, 33):
        leak = float(terms.leaks[index])
        impact = assess(Interval(leak, leak, leak), leak, terms.system)
        assert lesson.loss(index) == (impact.loss.laminar.value, impact.loss.molecular.value)
        for half, loss in zip(lesson.half(index), lesson.loss(index), strict=True):
            assert half * loss == pytest.approx(terms.charge / 2)
    assert lesson.loss(0) == (0.0, 0.0)
    assert lesson.half(0) == (math.inf, math.inf)


def test_losses_bracket_the_textbook_ratio(lesson):
    # Laminar (Poiseuille) over molecular flow: (p + p_atm) / p_atm * (eta_air / eta) / sqrt(M_air / M), with R-134a at
    # 24 degC: 646 kPa, vapour 11.7 uPa s, air 18.4 uPa s (handbook figures, from memory). Dense vapour passes a laminar
    # leak more easily than that: saturated it has 31.4 kg/m³ (tables) where an ideal gas has 26.7, which is 18 % at its
    # end of the path and half of that along it.
    laminar, molecular = lesson.loss(10)
    expected = (646 + 101.3) / 101.3 * (18.4 / 11.7) / math.sqrt(28.96 / 102.03)
    assert 1.06 < laminar / molecular / expected < 1.18


def test_the_pair_disagrees_with_the_rule_and_the_analysis_says_so(lesson):
    damp, leaking = lesson.pair.damp, lesson.pair.leaking
    assert damp.made.leak_rate == 0
    assert damp.analysis.verdict.criterion.met is False
    assert damp.analysis.verdict.cause is Cause.OUTGASSING
    assert leaking.made.leak_rate > 10 * PER_MINUTE
    assert leaking.analysis.verdict.criterion.met is True
    assert leaking.analysis.verdict.cause in (Cause.LEAK, Cause.LEAK_AND_OUTGASSING)
    assert leaking.analysis.verdict.result is Result.FAIL
    for shown in (damp, leaking):
        assert shown.analysis.holds[-1].fit.leak.low <= shown.made.leak_rate <= shown.analysis.holds[-1].fit.leak.high
        again = analyze(up_to_length(shown.made, SMALL.hold), SMALL.system, SMALL.rule())
        assert again.verdict.cause is shown.analysis.verdict.cause


def test_no_pair_where_moisture_cannot_break_the_rule():
    from decay.lesson.holds import find_pair

    # An inch of mercury is more than saturated water vapour can make at 24 degC.
    dial = load_criterion("older-car-dial")
    terms = Terms(criterion=dial, hold=dial.hold, gauge=gauge_like(MICRON, MICRON, 1.0, dial.hold, dial))
    assert find_pair(terms).damp is None


def test_the_same_leak_is_one_throughput_in_every_volume():
    day = Day(damp=100 * MICRON, damp_time=600.0, surface=0.0)
    for volume in (None, 1e-3, 9e-3):
        job = SMALL.job_on(day, 10 * PER_MINUTE, 600.0, "one", volume)
        assert job.leaks[0].rate * job.isolated_volume == pytest.approx(10 * PER_MINUTE * 3e-3)


def shown_by(figure):
    """Return what a figure shows: each panel's title, texts, lines and patches."""
    return [(ax.get_title(loc="left"), ax.get_xlim(), ax.get_ylim(),
             [(text.get_text(), *text.get_position()) for text in ax.findobj(Text)],
             [line.get_xydata().tolist() for line in ax.lines],
             [patch.get_path().vertices.tolist() for patch in ax.patches],
             [path.vertices.tolist() for one in ax.collections for path in one.get_paths()])
            for ax in figure.axes]


def test_the_same_seed_gives_the_same_bytes_and_another_seed_another_season(lesson, few_sizes):
    terms = dataclasses.replace(SMALL, runs=1, proof_runs=1)
    # That the pair is the same wherever it is found is held for the command, by test_same_out.
    one, two = teach(terms, pair=lesson.pair), teach(dataclasses.replace(terms), pair=lesson.pair)
    assert dumps(lesson_document(terms, one.pair, one)) == dumps(lesson_document(terms, two.pair, two))
    assert second_page(one) == second_page(two)
    # That the same lines and words are the same bytes in a file is held for every command by test_same_out.
    assert shown_by(draw_lesson(one)) == shown_by(draw_lesson(two))
    assert dataclasses.replace(SMALL, seed=2).job(0, 0.0, 600.0) != SMALL.job(0, 0.0, 600.0)


def test_the_page_says_that_it_is_synthetic_and_what_it_rests_on(lesson):
    text = second_page(lesson)
    for words in ("Synthetic: 4 invented jobs, nothing was measured.", "95 % error of that counting", "could show is",
                  "common practice, no source", "no free water", "never says where it leaks"):
        assert words in " ".join(text.split())
    assert "µ" not in second_page(lesson, ascii_only=True)
    assert max(map(len, text.splitlines())) <= 88


def test_times_share_their_unit_only_where_they_have_one(lesson):
    assert wording.durations(*lesson.half(33)).count("h to") == 1
    assert wording.durations(*lesson.half(28)).count("days") == 1


def test_the_picture_has_its_panels(lesson):
    figure = draw_lesson(lesson)
    titles = " ".join(ax.get_title(loc="left") for ax in figure.axes)
    for words in ("what the logs of such 10 min holds prove", "Other lengths", "other volume"):
        assert words in titles
    main = figure.axes[1]
    assert main.get_xscale() == "log"
    rule = next(line for line in main.lines if line.get_linewidth() == 2.6)
    assert np.array_equal(rule.get_ydata(), lesson.rules[0].passes[1:] / SMALL.runs)
    texts = " ".join(text.get_text() for text in main.texts)
    assert "half the charge gone" in texts
    assert "g/year if laminar" in texts


def test_the_first_page_needs_no_statistics(lesson):
    text = " ".join(first_page(SMALL, lesson.pair).split())
    for words in ("A. Rule: FAIL. Truth: tight.", "B. Rule: PASS. Truth: it leaks.", "Synthetic",
                  "nothing was measured",
                  "common practice, no source", "one above", "is ruled out", "never says where a system leaks"):
        assert words in text
    assert " % (" not in text
    assert max(map(len, first_page(SMALL, lesson.pair, width=60).splitlines())) <= 60
    assert first_page(SMALL, lesson.pair, ascii_only=True).isascii()


def test_each_hold_shows_what_the_rule_saw_and_where_it_leads(lesson):
    line = SMALL.criterion.passes
    for shown, is_over in ((lesson.pair.damp, True), (lesson.pair.leaking, False)):
        truth = shown.held_on.holds[-1]
        assert truth.end - truth.start == pytest.approx(3 * SMALL.hold)
        assert (shown.analysis.holds[-1].fit.end_pressure > line) is is_over
    ends = {name: getattr(lesson.pair, name).held_on.pressure[-1] for name in ("damp", "leaking")}
    assert ends["leaking"] > line          # what passed goes through the line
    assert ends["damp"] < 1.1 * line       # what failed has levelled off


def test_the_first_picture_shows_both_holds_on_one_scale(lesson):
    figure = draw_pair(SMALL, lesson.pair)
    damp, leaking = figure.axes
    assert damp.get_ylim() == leaking.get_ylim()
    assert [ax.get_title(loc="left") for ax in figure.axes] == ["A. Rule: FAIL. Truth: tight.",
                                                                "B. Rule: PASS. Truth: it leaks."]
    assert all(any("the rule's line" in text.get_text() for text in ax.texts) for ax in figure.axes)


def test_pages_to_print_ask_first_and_are_grey(lesson):
    pages = list(handout(SMALL, lesson.pair, lesson))
    assert len(pages) == 5 + 3
    assert len(list(handout(SMALL, lesson.pair))) == 5
    asked = " ".join(text.get_text() for text in [*pages[0].texts, *(t for ax in pages[0].axes for t in ax.texts)])
    told = list(told_pair(SMALL, lesson.pair))
    assert "Which of these two systems leaks?" in asked
    assert not any(words.truth in asked or words.proof in asked for words in told)
    for page_ in pages:
        drawn = io.BytesIO()
        page_.savefig(drawn, format="rgba", dpi=40)
        red, green, blue, _ = np.frombuffer(drawn.getvalue(), dtype=np.uint8).astype(int).reshape(-1, 4).T
        assert np.abs(red - green).max() <= 1
        assert np.abs(red - blue).max() <= 1
        assert red.min() < 60


def test_each_system_is_held_once_more_and_warm(lesson):
    for shown, leak, grows in ((lesson.pair.damp, 0.0, True), (lesson.pair.leaking, None, False)):
        second, truth = shown.second, shown.made.leak_rate if leak is None else leak
        for analysis in (second.again, second.warm):
            assert analysis.basis.leak.low <= truth <= analysis.basis.leak.high
            assert len(analysis.holds) == 2
        assert not second.warm.warm.failed
        # Water leaving walls grows by 1.9 to 3.4 for 15 K (Arrhenius by hand, 33 to 60 kJ/mol at 297 K), a leak not.
        assert (1.9 < second.warm.warm.growth < 3.4) is grows
    text = " ".join(first_page(SMALL, lesson.pair).split())
    for words in ("times as fast, as gas from inside does: no leak above", "never a flame",
                  "as fast as before, as a leak does: a leak of"):
        assert words in text
    found = lesson_document(SMALL, lesson.pair)["pair"]
    assert found["damp"]["second_hold"]["warm"]["growth"] > found["leaking"]["second_hold"]["warm"]["growth"]


@pytest.mark.parametrize("change", [{"charge": 0.0}, {"hold": 1.0}, {"runs": 2, "proof_runs": 3}, {"damp": -1.0},
                                    {"gauge_accuracy": 1.0}, {"refrigerant": "R0"},
                                    {"volume": Interval(0.0, 0.0, 0.0)}])
def test_terms_that_make_no_sense_are_refused(change):
    with pytest.raises(RangeError):
        dataclasses.replace(Terms(), **change)


@pytest.mark.usefixtures("few_sizes", "answered_once", "drawn_blank")
def test_the_command_writes_text_and_a_picture_and_replaces_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "lesson.png").write_bytes(b"mine")
    words = ["lesson", "--volume", "6.5 L", "--hold", "15 min", "--charge", "1.2 kg"]  # the example of the help
    help_text = CliRunner().invoke(decay, ["lesson", "--help"]).stdout
    assert 'decay lesson --volume "6.5 L" --hold "15 min" --charge "1.2 kg"' in help_text
    done = CliRunner().invoke(decay, [*words, "--shares", "--runs", "1", "--out", "pages.pdf"])
    assert done.exit_code == 0, done.output
    assert done.stdout.startswith("LESSON: one rule, two holds")
    assert "HOW OFTEN: Customary field line" in done.stdout
    assert (tmp_path / "lesson.png").read_bytes() == b"mine"
    for name in ("lesson-2.png", "lesson-2-shares.png"):
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")
    assert len(re.findall(rb"/Type /Page\b(?!s)", (tmp_path / "pages.pdf").read_bytes())) == 8
    again = CliRunner().invoke(decay, [*words, "--no-plot", "--out", "pages.pdf"])
    assert again.exit_code == 2
    assert "--out: pages.pdf exists" in again.stderr


def test_the_first_page_comes_alone_without_counting(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(decay, ["lesson", "--no-plot", "--json"])
    found = json.loads(done.stdout)
    assert found["leaks"] is found["rule_by_hold"] is found["rests_on"] is None
    assert found["pair"]["leaking"]["true_leak_micron_per_min"] > 10


@pytest.mark.usefixtures("few_sizes", "answered_once")
def test_the_command_answers_in_json(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    words = ["lesson", "--shares", "--runs", "1", "--json", "--no-plot", "--volume", "6.5 L", "--hold", "15 min",
             "--refrigerant", "R290", "--charge", "150 g"]
    done = CliRunner().invoke(decay, words)
    assert done.exit_code == 0, done.output
    found = json.loads(done.stdout)
    assert found["synthetic"] is True
    assert found["terms"]["refrigerant"] == "R-290"
    assert len(found["leaks"]) == len(found["rule_by_hold"][0]["passes"])
    assert found["leaks"][0]["half_charge_days"] == {"laminar": None, "molecular": None}
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("words", [["--refrigerant", "R0"], ["--charge", "0 g"], ["--plot", "a.txt"],
                                   ["--interval", "10 min"], ["--criterion", "nonesuch"],
                                   ["--plot", "a.png", "--no-plot"], ["--out", "pages.png"]])
def test_the_command_refuses_what_makes_no_sense(words):
    done = CliRunner().invoke(decay, ["lesson", *words, "--runs", "1"])
    assert done.exit_code == 2, done.output
    assert not done.stdout
