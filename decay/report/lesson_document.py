"""The JSON document of a lesson."""

from __future__ import annotations

from decay.lesson.holds import Pair, Shown
from decay.lesson.lesson import Lesson
from decay.lesson.passing import KINDS, Proof, RuleCurve, share
from decay.lesson.terms import Terms
from decay.quantities import MICRON
from decay.report.document import document
from decay.report.document_numbers import Json, interval, number
from decay.report.lesson_text import rests_on
from decay.wording import DAY, GRAM_PER_YEAR, MICRON_PER_MINUTE

SCHEMA_VERSION = 1


def lesson_document(terms: Terms, pair: Pair, lesson: Lesson | None = None) -> Json:
    """Return the JSON document of a lesson.

    Parameters
    ----------
    terms : Terms
        What it is about.
    pair : Pair
        The two holds.
    lesson : Lesson, optional
        The shares, where they were counted.

    Returns
    -------
    dict
        Strict JSON; numbers in the unit that their key names.
    """
    t = terms
    return {
        "schema_version": SCHEMA_VERSION,
        "synthetic": True,
        "terms": {
            "volume_l": interval(t.volume, 1e-3),
            "criterion": {"name": t.criterion.name, "title": t.criterion.title, "source": t.criterion.source,
                          "standing": t.criterion.standing},
            "hold_s": number(t.hold),
            "refrigerant": t.system.refrigerant,
            "charge_g": number(t.charge * 1e3),
            "ambient_k": number(t.ambient),
            "gauge_step_micron": number(t.gauge.steps[0][1] / MICRON),
            "gauge_noise_micron": number(t.gauge.noise / MICRON),
            "gauge_interval_s": number(t.gauge.interval),
            "gauge_accuracy": number(t.gauge_accuracy),
            "damp_micron": number(t.damp / MICRON),
            "runs": t.runs,
            "analysed_runs": t.proof_runs,
            "seed": t.seed,
        },
        "pair": {"damp": _shown_document(pair.damp), "leaking": _shown_document(pair.leaking)},
        **_shares(lesson),
    }


def _shares(lesson: Lesson | None) -> Json:
    if lesson is None:
        return dict.fromkeys(("leaks", "rule_by_hold", "rule_by_volume", "proof_by_hold", "rests_on"))
    return {
        "leaks": [_leak(lesson, index) for index in range(len(lesson.terms.leaks))],
        "rule_by_hold": [_curve(curve) for curve in lesson.rules],
        "rule_by_volume": [_curve(curve) for curve in lesson.volumes],
        "proof_by_hold": [_proof(proof) for proof in lesson.proofs],
        "rests_on": list(rests_on(lesson)),
    }


def _leak(lesson: Lesson, index: int) -> Json:
    loss, half = lesson.loss(index), lesson.half(index)
    return {
        "rate_micron_per_min": number(float(lesson.terms.leaks[index]) / MICRON_PER_MINUTE),
        "loss_g_per_year": {law: number(x / GRAM_PER_YEAR) for law, x in zip(_LAWS, loss, strict=True)},
        "half_charge_days": {law: number(x / DAY) for law, x in zip(_LAWS, half, strict=True)},
    }


_LAWS = ("laminar", "molecular")


def _curve(curve: RuleCurve) -> Json:
    return {
        "volume_l": number(curve.volume * 1e3),
        "hold_s": number(curve.hold),
        "passes": [interval(curve.interval(index)) for index in range(len(curve.passes))],
    }


def _proof(proof: Proof) -> Json:
    return {
        "hold_s": number(proof.hold),
        "leak_indices": proof.indices.tolist(),
        "smallest_detectable_micron_per_min": [number(float(x) / MICRON_PER_MINUTE) for x in proof.smallest_shown],
        **{name: [interval(share(int(n), proof.runs)) for n in getattr(proof, name)] for name in KINDS},
    }


def _shown_document(shown: Shown | None) -> Json | None:
    if shown is None:
        return None
    return {
        "true_leak_micron_per_min": number(shown.made.leak_rate / MICRON_PER_MINUTE),
        "jobs_tried": shown.tried,
        "analysis": document(shown.analysis),
    }
