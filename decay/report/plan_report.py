"""The plan of a job in words and as a JSON document: the pull, the warmth, the hold that tells, what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterable

from decay import wording
from decay.constants import MICRON, ZERO_CELSIUS
from decay.impact.assess import Impact
from decay.planning.hold_lengths import LONGEST, HoldCourse
from decay.planning.make import Intent, Plan
from decay.report.document_numbers import Json, by_law, json_interval, json_number, next_test
from decay.several.next_test import AIM, TestKind
from decay.several.next_test_words import WARMING, deciding, in_short, mid_sentence, name_of, what_to_do
from decay.system import AllowKind
from decay.wording import GRAM_PER_YEAR, MICRON_PER_MINUTE
from decay.wording.lines import Block, Entry, clean, finished, set_blocks, to_ascii, wrapped

CAUTIONS = (
    "Recover the refrigerant first, with certified people and machines; never pull a vacuum on a system under "
    "pressure.",
    "Dry nitrogen only through a regulator with relief, never above the low side's limit; never oxygen or compressed "
    "air. Flammable refrigerants need spark-free pumps and ventilation.",
    WARMING,
    "Never run or insulation-test a compressor in a vacuum. The equipment maker's instructions, local codes and "
    "licensed practice come first.",
)


def plan_text(plan: Plan, *, ascii_only: bool = False, color: bool = False, verbose: bool = False,
              width: int = 88) -> str:
    """Return the plan in words; ``verbose`` adds the slope formula and the course of both curves."""
    width = max(width, 40)
    blocks = [
        Block("The pull", list(_pull(plan))),
        Block("Warm enough?", list(_warmth(plan))),
        Block("The hold", list(_hold(plan))),
        Block(f'The customary hold: "{plan.intent.criterion.title}"', list(_customary(plan))),
        Block("If that hold leaves a leak open", list(_left_open(plan))),
        Block("Sweeps", list(_sweeps(plan))),
    ]
    if verbose:
        blocks.append(Block("Hold lengths, and the smallest leak that shows", list(_lengths(plan))))
    blocks.append(Block("What this rests on", [Entry("-", text) for text in plan_rests_on(plan)]))
    blocks.append(Block("Keep in mind", [Entry("-", text) for text in CAUTIONS]))
    # Before the lines are set: plain ASCII is longer.
    written = (lambda text: to_ascii(clean(text))) if ascii_only else clean
    blocks = [Block(written(block.title), [Entry(written(entry.label), written(entry.text)) for entry in block.entries])
              for block in blocks]
    head = wrapped(written(plan_headline(plan)), width)
    lines = [*head, "", *set_blocks(blocks, width)]
    return finished(lines[:-1], color="1" if color else "", bold={*head, *(block.title for block in blocks)})


def plan_headline(plan: Plan) -> str:
    """Return the plan in one line: pull and hold."""
    pull = f"pull to {wording.pressure(plan.target)}"
    if plan.pull is not None:
        pull += " cannot get there" if math.isinf(plan.pull.to_target) else (
            f" in {wording.duration(plan.pull.to_target)} or more")
    if plan.matters is None:
        return f"PLAN: {pull}; how long to hold depends on the leak that matters: add --allow"
    return (f"PLAN: {pull}; hold {_length(plan.damp.needed)} to show a leak of "
            f"{wording.rate(plan.matters)} in a slightly damp system")


def _length(needed: float | None) -> str:
    if needed is None:
        return "unknown"
    return f"more than {wording.duration(LONGEST)}" if math.isinf(needed) else wording.duration(needed)


def _pull(plan: Plan) -> Iterable[Entry]:
    target = wording.pressure(plan.target)
    if plan.pull is None:
        missing = "the pump (--pump \"6 cfm\")" if plan.intent.equipment is None else 'the volume (--volume "3.2 L")'
        yield Entry("-", f"To {target}. Without {missing} its time is not known.")
    elif math.isinf(plan.pull.to_target):
        ultimate = 0.0 if plan.intent.equipment is None else plan.intent.equipment.ultimate
        yield Entry("-", f"This pump does not reach {target}: its ultimate pressure is {wording.pressure(ultimate)}.")
    else:
        pulled = plan.pull
        yield Entry("dry system", f"at least {wording.duration(pulled.to_target)} to {target}: outgassing, oil and "
                    "valve cores slow the end")
        if math.isfinite(pulled.hose_conductance):
            yield Entry("hoses", f"{wording.number(1e3 * pulled.hose_conductance, 2)} L/s at {target}, "
                        f"{wording.number(100 * pulled.speed_at_target, 2)} % of the pump's speed; with the pump "
                        f"right at the system {wording.duration(pulled.without_hoses)}")
    if plan.water is not None:
        bounds = plan.water
        grams = wording.number(1e3 * bounds.mass)
        yield Entry(f"{grams} g water", f"at least {wording.duration(bounds.by_pump)} more for the pump, at "
                    f"{wording.pressure(bounds.plateau)} (saturation at this temperature)")
        heated = "" if bounds.by_heat is None else (
            f"; at the stated heating at least {wording.duration(bounds.by_heat)}")
        frozen = f"{100 * bounds.frozen_share:.0f} %"
        yield Entry("its heat", f"{wording.number(bounds.heat / 1e3)} kJ, {wording.number(bounds.power, 2)} W keep it "
                    f"warm at that rate{heated}. With less it cools; with none {frozen} of it freezes: "
                    "warm the wet spot, and break the vacuum with dry nitrogen when the pull stalls")
        yield Entry("gas ballast", "open while vapour comes, or it stays in the pump's oil (common practice, no "
                    "source)")


def _warmth(plan: Plan) -> Iterable[Entry]:
    warm = plan.warmth
    if warm is None:
        yield Entry("-", 'Not known without the temperature (--ambient "24 degC").')
        return
    at = _celsius(warm.ambient)
    yield Entry("yes" if warm.is_warm_enough else "NO",
                f"{at}: free water boils below {wording.pressure(warm.saturation)}; at {wording.pressure(plan.target)} "
                f"ice stands at {_celsius(warm.coldest_spot)}, so no wet spot colder than that dries")
    if warm.asked is not None:
        kept = "met" if warm.ambient > warm.asked else "NOT met"
        yield Entry("criterion", f"asks for more than {_celsius(warm.asked)}: {kept}")
    if warm.is_ice_likely:
        yield Entry("ice", "below 15.6 °C (60 °F) expect free water to freeze in the pull, where it holds the target "
                    "and hides (US Army TM 10-8145-222-23): warm the system first")


def _hold(plan: Plan) -> Iterable[Entry]:
    if plan.matters is None:
        why = "no leak that matters was stated" if plan.intent.system.allow is None else (
            "the leak that matters cannot be turned into a rate of rise: that takes volume, refrigerant and "
            "temperature")
        yield Entry("-", f'Its length is not known: {why}. Add one, like --allow "2 micron/min" or --allow "40 g/yr" '
                    'with --volume, --refrigerant and --ambient. The customary hold is judged below all the same.')
        return
    allow = plan.intent.system.allow
    text = wording.rate(plan.matters)
    if allow is not None and allow.kind is not AllowKind.RISE:
        text = f"{allow.text}: {text} in this volume, by the flow regime that shows least"
    yield Entry("must show", text)
    for course in (plan.dry, plan.damp):
        yield Entry(course.name, _needed(course, plan.matters))


def _needed(course: HoldCourse, matters: float) -> str:
    pools = course.conditions.levelling
    of = "no outgassing" if not pools else (
        f"{wording.pressure(pools[0].rise)} level off with a time constant of "
        f"{wording.duration(pools[0].time_constant)}")
    if course.needed is not None and math.isfinite(course.needed):
        if course.needed <= float(course.duration[0]):
            return (f"hold at least {wording.duration(course.needed)} once rig and system have equalised ({of}): a "
                    "shorter hold cannot distinguish a rise from the gauge's wander")
        return f"hold {wording.duration(course.needed)} once rig and system have equalised ({of})"
    text = f"no hold up to {wording.duration(LONGEST)} shows it ({of})"
    if course.floor > 0.5 * matters:
        text += (f": an unnoticed drift of 1 K in an hour looks like {wording.rate(course.floor)}. Log the "
                 "temperature, dry further, or test under dry nitrogen with a finer method")
    return text


def _customary(plan: Plan) -> Iterable[Entry]:
    criterion = plan.intent.criterion
    for course, meaning in ((plan.dry, plan.dry_meaning), (plan.damp, plan.damp_meaning)):
        told = course.told_by(course.customary)
        yield Entry(f"if {course.name}", f"{wording.duration(course.customary)} show leaks from "
                    f"{wording.rate(told)}{_loss(meaning, plan)} up")
    if plan.line_rate is not None:
        yield Entry("its line", f"passes a steady {wording.rate(plan.line_rate)}{_loss(plan.line_meaning, plan)}")
    source = ", ".join(part for part in (criterion.source, criterion.edition) if part)
    yield Entry("source", f"{source or '-'} (status: {criterion.standing})")


def _left_open(plan: Plan) -> Iterable[Entry]:
    found = plan.left_open
    if found is None:
        yield Entry("-", "It will not, for want of a second test: it names the leak beside slow outgassing too.")
        return
    leak, held = wording.rate(found.leak), wording.duration(found.length)
    yield Entry("why", f"a source that gives off as fast as a leak of {leak} and fades slowly looks like it: {held} "
                "cannot tell them apart")
    tests = deciding(found.tests)
    if not tests:
        yield Entry("note", f"no further hold settles this: an unnoticed drift of 1 K in an hour looks like "
                    f"{wording.rate(plan.damp.floor)}")
    if tests and (tests[0].chance or 0.0) < AIM:
        yield Entry("note", "nothing within four hours settles this well")
    for test in tests:
        chance = wording.chance(test.chance or 0.0)
        yield Entry(name_of(test), f"{mid_sentence(what_to_do(test))}: names such a leak in {chance} of cases")
    where = "; ".join(mid_sentence(what_to_do(test)) for test in found.tests if test.chance is None)
    yield Entry("where it leaks", f"{where}; neither shows whether it does")


def second_test_in_words(plan: Plan) -> str:
    """Return what settles a leak that the planned hold leaves open, in one sentence; nothing where none is advised."""
    tests = () if plan.left_open is None else deciding(plan.left_open.tests)
    if plan.left_open is None or not tests:
        return ""
    caution = "; never a flame" if tests[0].kind is TestKind.WARM else ""
    return f"If it leaves a leak of {wording.rate(plan.left_open.leak)} open: {in_short(tests[0])}{caution}."


def _loss(meaning: Impact | None, plan: Plan) -> str:
    if meaning is None or meaning.detectable_loss is None:
        return ""
    return f" ({wording.between(*meaning.detectable_loss)} of {plan.intent.system.refrigerant})"


def _sweeps(plan: Plan) -> Iterable[Entry]:
    asked = plan.sweeps.asked
    words = "none: it asks for one pull" if asked == 0 else f"{asked}, between {asked + 1} pulls to the target"
    yield Entry("criterion", words)
    yield Entry("what each does", f"from {wording.pressure(plan.target)} up to atmosphere a sweep thins the vapour "
                f"{wording.number(1 / plan.sweeps.dilution, 2)}-fold and carries heat in; what sits in oil and "
                "rubber comes out with time and warmth, not with more sweeps. Sweep again where a pull "
                "stalls near saturation or a hold levels off too high")


def _lengths(plan: Plan) -> Iterable[Entry]:
    for length in (300.0, 600.0, 1200.0, 1800.0, 3600.0, 7200.0, 4 * 3600.0, 8 * 3600.0, 24 * 3600.0):
        told = [wording.rate(course.told_by(length)) for course in (plan.dry, plan.damp)
                if length >= float(course.duration[0]) * 0.999]
        if len(told) == 2:
            yield Entry(wording.duration(length), f"dry {told[0]}, damp {told[1]}")
    if plan.by_formula is not None:
        yield Entry("slope formula", f"{wording.duration(plan.by_formula)} if dry, by a straight line's error alone")


def plan_rests_on(plan: Plan) -> list[str]:
    """Return what the plan rests on, one sentence each: what was assumed and how the numbers are made."""
    gauge = plan.intent.gauge
    damp = plan.intent.damp
    return [
        *plan.assumed,
        f"Gauge: noise {wording.pressure(gauge.noise)}, step {wording.pressure(gauge.step)}, "
        f"a reading every {wording.duration(gauge.interval)}. The same noise at all pressures.",
        f"Damp: {wording.pressure(damp.rise)} that level off with a time constant of "
        f"{wording.duration(damp.time_constant)}.",
        "A leak counts as shown where the program's own analysis of simulated holds finds it in 95 % of them, and "
        "rules it out in 95 % of those without it. Free water is ruled out beforehand; the temperature drifts by "
        "less than 1 K in an hour.",
        *_slow_source(plan),
        "The pull is that of a dry, tight system, with Knudsen's conductance for the hoses.",
        "A hold never says where it leaks, and never tests the system under its working pressure.",
    ]


def _slow_source(plan: Plan) -> Iterable[str]:
    """Yield what the tests after an open hold rest on."""
    if plan.left_open is None:
        return
    slow = plan.left_open.slow
    yield (f"The tests after an open hold: the damp system with a source of {wording.pressure(slow.rise)} "
           f"that levels off with {wording.duration(slow.time_constant)} beside the leak. Once the hold is made, "
           "analyze names the test that suits it best.")


def _celsius(temperature: float) -> str:
    return f"{wording.with_decimals(temperature - ZERO_CELSIUS, 1)} °C"


PLAN_VERSION = 1


def plan_document(plan: Plan) -> Json:
    """Return the plan as a document; a time that never comes is null, with ``is_reachable`` or ``is_told`` false."""
    return {
        "schema_version": PLAN_VERSION,
        "job": _job_document(plan.intent),
        "pull": None if plan.pull is None else {
            "target_micron": json_number(plan.target, MICRON),
            "is_reachable": math.isfinite(plan.pull.to_target),
            "dry_s": json_number(plan.pull.to_target),
            "dry_without_hoses_s": json_number(plan.pull.without_hoses),
            "hose_conductance_l_per_s": json_number(plan.pull.hose_conductance * 1e3),
            "speed_left_at_target": json_number(plan.pull.speed_at_target),
        },
        "water": None if plan.water is None else {
            "mass_g": json_number(plan.water.mass * 1e3),
            "plateau_micron": json_number(plan.water.plateau, MICRON),
            "least_by_pump_s": json_number(plan.water.by_pump),
            "least_by_heat_s": json_number(plan.water.by_heat),
            "heat_j": json_number(plan.water.heat),
            "power_w": json_number(plan.water.power),
            "frozen_share_without_heat": json_number(plan.water.frozen_share),
        },
        "warmth": None if plan.warmth is None else {
            "is_warm_enough": plan.warmth.is_warm_enough,
            "is_ice_likely": plan.warmth.is_ice_likely,
            "saturation_micron": json_number(plan.warmth.saturation, MICRON),
            "coldest_spot_k": json_number(plan.warmth.coldest_spot),
            "criterion_asks_above_k": json_number(plan.warmth.asked),
        },
        "hold": {
            "must_tell_micron_per_min": json_number(plan.matters, MICRON_PER_MINUTE),
            "dry": _course_document(plan.dry, plan.dry_meaning),
            "damp": _course_document(plan.damp, plan.damp_meaning),
            "dry_by_slope_formula_s": json_number(plan.by_formula),
        },
        "criterion_line": None if plan.line_rate is None else {
            "lets_pass_micron_per_min": json_number(plan.line_rate, MICRON_PER_MINUTE),
            "lets_pass_g_per_year": by_law(None if plan.line_meaning is None else plan.line_meaning.detectable_loss,
                                           GRAM_PER_YEAR),
        },
        "sweeps": {"asked": plan.sweeps.asked, "left_in_vapour_space_after_each": json_number(plan.sweeps.dilution)},
        "if_left_open": None if plan.left_open is None else {
            "leak_micron_per_min": json_number(plan.left_open.leak, MICRON_PER_MINUTE),
            "hold_s": json_number(plan.left_open.length),
            "slow_source": {"rise_micron": json_number(plan.left_open.slow.rise, MICRON),
                            "time_constant_s": json_number(plan.left_open.slow.time_constant)},
            "tests": [next_test(test) for test in plan.left_open.tests],
        },
        "rests_on": plan_rests_on(plan),
        "cautions": list(CAUTIONS),
    }


def _job_document(intent: Intent) -> Json:
    system, pump = intent.system, intent.equipment
    return {
        "volume_l": json_interval(system.volume, 1e-3),
        "refrigerant": system.refrigerant,
        "charge_g": json_number(system.charge, 1e-3),
        "ambient_k": json_number(system.ambient),
        "allow": None if system.allow is None else system.allow.text,
        "criterion": intent.criterion.name,
        "pump_l_per_s": None if pump is None else json_number(pump.speed * 1e3),
        "pump_ultimate_micron": None if pump is None else json_number(pump.ultimate, MICRON),
        "hoses": [{"bore_mm": json_number(hose.bore * 1e3), "length_m": json_number(hose.length)}
                  for hose in (() if pump is None else pump.hoses)],
        "gauge": {"noise_micron": json_number(intent.gauge.noise, MICRON),
                  "step_micron": json_number(intent.gauge.step, MICRON),
                  "interval_s": json_number(intent.gauge.interval)},
        "damp": {"rise_micron": json_number(intent.damp.rise, MICRON),
                 "time_constant_s": json_number(intent.damp.time_constant)},
    }


def _course_document(course: HoldCourse, meaning: Impact) -> Json:
    return {
        "is_told": None if course.needed is None else math.isfinite(course.needed),
        "needed_s": json_number(course.needed),
        "drift_feigns_micron_per_min": json_number(course.floor, MICRON_PER_MINUTE),
        "customary": {
            "length_s": json_number(course.customary),
            "tells_micron_per_min": json_number(course.told_by(course.customary), MICRON_PER_MINUTE),
            "tells_g_per_year": by_law(meaning.detectable_loss, GRAM_PER_YEAR),
        },
        "lengths_s": [json_number(float(t)) for t in course.duration],
        "tells_micron_per_min": [json_number(float(rate), MICRON_PER_MINUTE) for rate in course.told],
    }
