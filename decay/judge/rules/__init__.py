"""Every rule in one explicit tuple, and the three things done with it: examine a case, list the codes, explain one."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from decay.errors import RangeError
from decay.judge.case import Case
from decay.judge.finding import Finding
from decay.judge.rules import (
    criterion,
    guard,
    leak,
    left_open,
    limits,
    log_reading,
    meaning,
    model,
    next_steps,
    phases,
    pull,
    rise,
    safety,
    several_holds,
)
from decay.judge.rules.rule import Role, Rule, finding_for_unanswered, unanswered

_REASON, _CAVEAT, _NEXT = Role.REASON, Role.CAVEAT, Role.NEXT_STEP

RULES: tuple[Rule, ...] = (
    Rule("P17", "Nothing marks the closing", _REASON, guard.nothing_marks_closing, is_required=True),
    Rule("P01", "No usable hold", _REASON, phases.no_usable_hold, is_required=True),
    Rule("C01", "Criterion met", _REASON, criterion.criterion_met, is_required=True),
    Rule("C02", "Criterion not met", _REASON, criterion.criterion_not_met, is_required=True),
    Rule("C03", "Target not reached", _REASON, criterion.target_not_reached, is_required=True),
    Rule("C04", "Hold too short for the criterion", _REASON, criterion.hold_too_short, is_required=True),
    Rule("C05", "Criterion not answered", _REASON, criterion.criterion_not_answered, is_required=True),
    Rule("C06", "Teaching-only criterion", _REASON, criterion.teaching_only),
    Rule("H25", "Gross leak", _REASON, guard.gross_leak, is_required=True),
    Rule("P12", "The log contradicts the hold", _REASON, guard.log_contradicts, is_required=True),
    Rule("P15", "Gauge on the pump's side", _REASON, guard.gauge_on_pump_side, is_required=True),
    Rule("P13", "Log ends above the line", _REASON, guard.ends_above_line, is_required=True),
    Rule("P07", "Gauge at zero", _REASON, phases.gauge_at_zero, is_required=True),
    Rule("J07", "Warm hold not used", _REASON, several_holds.warm_refused),
    Rule("J05", "Cold and warm hold together", _REASON, several_holds.warm_result),
    Rule("J06", "Growth with temperature", _REASON, several_holds.growth),
    Rule("H01", "Leak seen", _REASON, leak.leak_seen, is_required=True),
    Rule("H02", "Leak larger than allowed", _REASON, leak.leak_above_allowed, is_required=True),
    Rule("H03", "Leak larger than allowed not ruled out", _REASON, leak.allowed_not_excluded, is_required=True),
    Rule("H04", "No leak seen", _REASON, leak.no_leak_seen, is_required=True),
    Rule("H05", "Leak larger than allowed ruled out", _REASON, leak.allowed_excluded),
    Rule("H06", "Rise levels off", _REASON, rise.rise_levels_off),
    Rule("H07", "Rise negligible", _REASON, rise.rise_negligible),
    Rule("H08", "Leak or slow outgassing: unresolved", _REASON, rise.slow_source_or_leak, is_required=True),
    Rule("H20", "Odds of a leak", _REASON, left_open.odds),
    Rule("H09", "Free water explains the rise", _REASON, rise.free_water, is_required=True),
    Rule("H10", "Free water not ruled out", _REASON, rise.water_not_excluded, is_required=True),
    Rule("H11", "Rise beyond what water can reach", _REASON, rise.beyond_water),
    Rule("H12", "Accelerating rise", _REASON, model.rise_accelerates, is_required=True),
    Rule("H13", "Pressure falls", _REASON, model.pressure_falls, is_required=True),
    Rule("H14", "Model does not describe the hold", _REASON, model.model_does_not_describe, is_required=True),
    Rule("H15", "Leak on the gauge's side suspected", _REASON, rise.gauges_side_suspected),
    Rule("H16", "Vapour behind a hose", _REASON, rise.vapour_stood_behind_a_hose),
    Rule("H17", "Inflow fades as the system fills", _REASON, rise.inflow_fades),
    Rule("J01", "Holds together", _REASON, several_holds.joint_result),
    Rule("J02", "Holds disagree", _REASON, several_holds.holds_contradict),
    Rule("R02", "The rig leaks as much", _REASON, several_holds.rig_leaks_as_much),
    Rule("R01", "The rig alone", _REASON, several_holds.rig_alone),
    Rule("I05", "Allowed leak cannot be compared", _REASON, meaning.allowed_not_comparable),
    # Caveats: this hold and this decision first, then the test's limits, then guesses in reading; last what is always
    # true.
    Rule("P02", "Hold not judged", _CAVEAT, phases.hold_not_fitted),
    Rule("P03", "Readings missing in the hold", _CAVEAT, phases.readings_missing),
    Rule("P04", "Over range in the hold", _CAVEAT, phases.over_range_in_hold),
    Rule("P14", "Gauge at the bottom of its range", _CAVEAT, guard.gauge_at_bottom),
    Rule("P16", "Gauges disagree", _CAVEAT, guard.gauges_disagree),
    Rule("P18", "Gauge jumps in the hold", _CAVEAT, guard.gauge_jumps, is_required=True),
    Rule("P08", "Readings that never change", _CAVEAT, phases.never_changes),
    Rule("P19", "Closing to be confirmed", _CAVEAT, guard.closing_not_shown),
    Rule("P05", "Which hold decides", _CAVEAT, phases.which_hold_decides),
    Rule("P06", "Remark on the hold", _CAVEAT, phases.hold_disturbed),
    Rule("E01", "Pull stood where water stands", _CAVEAT, pull.pull_stood_at_water),
    Rule("E02", "Stalled pull", _CAVEAT, pull.pull_stalled),
    Rule("E03", "Isolated before the tail had settled", _CAVEAT, pull.isolated_too_early),
    Rule("E04", "What a longer pull would have brought", _CAVEAT, pull.longer_pull),
    Rule("E05", "No pull in the log", _CAVEAT, pull.no_pull_logged),
    Rule("E07", "Gas loads of pull and hold disagree", _CAVEAT, pull.loads_disagree),
    Rule("E06", "Throttled pull", _CAVEAT, pull.throttled),
    Rule("E08", "Water that has to leave", _CAVEAT, pull.water_leaving),
    Rule("J03", "What each hold adds", _CAVEAT, several_holds.each_adds),
    Rule("J04", "Hold left aside", _CAVEAT, several_holds.holds_aside),
    Rule("I01", "Refrigerant loss", _CAVEAT, meaning.refrigerant_loss),
    Rule("I02", "Largest uncertainty", _CAVEAT, meaning.dominant_uncertainty),
    Rule("I03", "Flow regime", _CAVEAT, meaning.law_of_flow),
    Rule("I04", "What could not be calculated", _CAVEAT, meaning.not_said),
    Rule("C07", "Temperature that the criterion asks for", _CAVEAT, criterion.ambient_asked),
    Rule("C08", "Status of the criterion", _CAVEAT, criterion.standing),
    Rule("C09", "Which stand judges, and the others", _CAVEAT, criterion.other_stands),
    Rule("K03", "Single hold", _CAVEAT, limits.single_hold),
    Rule("K04", "First seconds left out", _CAVEAT, limits.equalisation_left_out),
    Rule("K05", "Gauge step", _CAVEAT, limits.gauge_step),
    Rule("K06", "Other gases on the gauge", _CAVEAT, limits.vapour_reading),
    Rule("K07", "Temperature not known", _CAVEAT, limits.temperature_not_told),
    Rule("K11", "Temperature drifted", _CAVEAT, limits.temperature_drifted),
    Rule("K08", "Cold: mind ice", _CAVEAT, limits.cold),
    Rule("K09", "Volume not known", _CAVEAT, limits.volume_not_told),
    Rule("K10", "Assumptions", _CAVEAT, limits.assumptions),
    Rule("L01", "Unit guessed", _CAVEAT, log_reading.unit_guessed),
    Rule("L02", "Gauge chosen", _CAVEAT, log_reading.gauge_chosen),
    Rule("L03", "Times mended", _CAVEAT, log_reading.clock_mended),
    Rule("L04", "Rows left out", _CAVEAT, log_reading.rows_left_out),
    Rule("L05", "Over-range words guessed", _CAVEAT, log_reading.words_guessed),
    Rule("L08", "Closing stated by the log", _CAVEAT, log_reading.valve_stated),
    Rule("L09", "Wrong readings left out", _CAVEAT, log_reading.wrong_readings),
    Rule("K01", "What the test never says", _CAVEAT, limits.never_says),
    Rule("K02", "Rig included", _CAVEAT, limits.rig_included),
    Rule("N13", "The test that would settle it", _NEXT, left_open.best_test),
    Rule("N14", "Other tests that may settle it", _NEXT, left_open.other_tests),
    Rule("N15", "Caution: warming", _NEXT, left_open.warming_caution),
    Rule("N12", "Check the gauge", _NEXT, next_steps.check_gauge),
    Rule("N04", "Test the rig alone", _NEXT, next_steps.blank_off_rig),
    Rule("N03", "Isolate sections", _NEXT, next_steps.isolate_sections),
    Rule("N05", "Locate the leak", _NEXT, next_steps.locate),
    Rule("N07", "Pull deeper", _NEXT, next_steps.pull_deeper),
    Rule("N01", "Dry further", _NEXT, next_steps.dry_further),
    Rule("N08", "Hold again undisturbed", _NEXT, next_steps.hold_still),
    Rule("N10", "Log a hold", _NEXT, next_steps.log_a_hold),
    Rule("N02", "Hold again for longer", _NEXT, next_steps.hold_again),
    Rule("N06", "Log the pull", _NEXT, next_steps.log_the_pull),
    Rule("N11", "Before charging", _NEXT, next_steps.before_charging),
    Rule("N09", "Say more about the job", _NEXT, next_steps.tell_more),
    Rule("S01", "Caution: pressure", _NEXT, safety.pressure_caution),
    Rule("S02", "Caution: vacuum", _NEXT, safety.vacuum_caution),
    Rule("S03", "Caution: flammable refrigerant", _NEXT, safety.flammable_caution),
    Rule("V01", "Required question not answered", _REASON, unanswered),
)
"""All rules, in the order in which their findings are shown."""


@dataclass(frozen=True, slots=True)
class Examined:
    """What the rules said."""

    # Their findings by place
    reasons: tuple[Finding, ...]
    caveats: tuple[Finding, ...]
    next_steps: tuple[Finding, ...]
    unanswered: tuple[Finding, ...]  # empty, or one that names the required rules that could not answer


def examine(case: Case, rules: tuple[Rule, ...] = RULES) -> Examined:
    """Put every rule to the case, and return the findings by place and the required rules without an answer."""
    found: dict[Role, list[Finding]] = {place: [] for place in Role}
    silent: list[Rule] = []
    for rule in rules:
        answer = rule.examine(case)
        if answer is not None:
            found[rule.place].extend(answer)
        elif rule.is_required:
            silent.append(rule)
    return Examined(
        reasons=tuple(found[Role.REASON]),
        caveats=tuple(found[Role.CAVEAT]),
        next_steps=tuple(found[Role.NEXT_STEP]),
        # What asks for a fit has nothing to ask where the log is judged without one.
        unanswered=(finding_for_unanswered({rule.code: rule.title for rule in silent}),)
        if silent and case.gross is None and case.if_closed is None
        else (),
    )


def finding_codes() -> tuple[str, ...]:
    """Return every code, sorted."""
    return tuple(sorted(rule.code for rule in RULES))


def finding_titles() -> dict[str, str]:
    """Return the title of every code, sorted by code."""
    return {rule.code: rule.title for rule in sorted(RULES, key=lambda rule: rule.code)}


def explain(code: str) -> str:
    """Return the manual page of a code.

    Parameters
    ----------
    code : str
        The code of a finding, in either case.

    Returns
    -------
    str
        Title, what it looks for, why it matters, when it is wrong, an example, what to do, references.

    Raises
    ------
    RangeError
        If there is no such code; the text names the nearest ones.
    """
    wanted = code.strip().upper()
    for rule in RULES:
        if rule.code == wanted:
            return rule.page
    near = difflib.get_close_matches(wanted, finding_codes(), n=4, cutoff=0.4)
    nearest = f"Nearest: {', '.join(near)}. " if near else ""
    raise RangeError(f'there is no finding "{code}".\n       {nearest}`decay explain` lists all of them.')
