"""The whole summary of one analysis: answers, every finding, then log, phases, pulls, holds and rig by number."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from decay import wording
from decay.constants import LITRE
from decay.fit.results import HoldFit, JointFit, PumpdownFit
from decay.interval import Interval
from decay.judge.answer import Judged
from decay.judge.finding import Finding, Level
from decay.phases.phase import Kind
from decay.pull.gas_load import BandSpeed, GasLoad
from decay.report.answers import opening, source_name
from decay.report.impact_report import impact_entries
from decay.report.short_summary import CAUTION, STYLES
from decay.several.rig import RigShare
from decay.wording.lines import NARROWEST, Block, Entry, finished, set_blocks


def summary(
    analysis: Judged,
    *,
    ascii_only: bool = False,
    color: bool = False,
    verbose: bool = False,
    width: int = 80,
) -> str:
    """Return everything that is known about one log; the last line repeats the result.

    ``verbose`` adds the tests of the model, its assumptions and every note about the file.
    """
    width = max(width, NARROWEST)
    blocks = [*_findings(analysis), Block("Leak", list(_leak(analysis))), *detail(analysis, verbose=verbose)]
    blocks = [block for block in blocks if block.entries]
    lines = [*opening(analysis, width), "", *set_blocks(blocks, width)]
    lines.append(f"VERDICT: {analysis.verdict.result.value.upper()}")
    style = STYLES[analysis.verdict.result] if color else ""
    return finished(lines, ascii_only=ascii_only, color=style, coloured=(0, -1), bold={b.title for b in blocks})


def _findings(analysis: Judged) -> Iterable[Block]:
    """Yield every finding once: why, what to do, what to mind, what is worth knowing."""
    verdict = analysis.verdict
    steps = [finding for finding in verdict.next_steps if finding.code[0] != CAUTION]
    cautions = [finding for finding in verdict.next_steps if finding.code[0] == CAUTION]
    yield Block("Why", _bullets(verdict.reasons))
    yield Block("Next", [Entry(f"{n}.", _worded(f)) for n, f in enumerate(steps, start=1)])
    yield Block("Cautions", _bullets(cautions))
    yield Block("Keep in mind", _bullets([f for f in verdict.caveats if f.level > Level.NOTE]))
    yield Block("Worth knowing", _bullets([f for f in verdict.caveats if f.level <= Level.NOTE]))


def _bullets(findings: Sequence[Finding]) -> list[Entry]:
    return [Entry("-", _worded(finding)) for finding in findings]


def _worded(finding: Finding) -> str:
    return f"{finding.summary} [{finding.code}]"


def _leak(analysis: Judged) -> Iterable[Entry]:
    """Yield the leak that the verdict rests on, with its interval, meaning and limit."""
    basis = analysis.basis
    if basis.leak is None or basis.detection_limit is None or basis.impact is None:
        return
    estimate = f"{wording.rate_interval(basis.leak)}, {wording.number(100 * basis.leak.level)} % interval in brackets"
    if basis.leak.low <= 0:
        estimate += "; may be zero"
    if basis.is_joint and analysis.joint is not None:
        used = analysis.joint.holds_used
        here = f"hold{'s' if len(used) > 1 else ''} {', '.join(str(hold + 1) for hold in used)}"
        away = [f"hold {hold + 1} of {source}" for source, hold in analysis.joint.elsewhere]
        estimate += f"; from {' and '.join([here, *away])}"
    yield Entry("steady rise", f"{estimate}; without the rig's share" if basis.is_without_rig else estimate)
    impact = basis.impact
    if impact.loss is not None:
        yield Entry(
            f"as {analysis.system.refrigerant or 'refrigerant'}",
            f"{wording.loss_range(*impact.loss.laws)}, over the interval and from molecular to laminar "
            "flow",
        )
    if math.isinf(basis.detection_limit):
        yield Entry("smallest", "this hold could show no leak of any size")
        return
    unseen = [wording.bound(basis.detection_limit)]
    if impact.detectable_throughput is not None:
        unseen.append(f"{wording.up(impact.detectable_throughput)} Pa·m³/s")
    if impact.detectable_loss is not None:
        unseen.append(wording.between(*impact.detectable_loss))
    bracketed = f" ({'; '.join(unseen[1:])})" if unseen[1:] else ""
    yield Entry("smallest", f"{unseen[0]}{bracketed} is the smallest leak this hold could show{_beyond(analysis)}")


def _beyond(analysis: Judged) -> str:
    """Say what the interval's end adds to the limit."""
    basis = analysis.basis
    if basis.leak is None or basis.is_leak_seen or basis.leak.low > 0 or basis.detection_limit is None:
        return ""
    high = wording.rate_high(basis.leak)
    if basis.leak.high > basis.detection_limit:
        return f"; up to {high} a leak is not distinguishable from slow outgassing"
    is_same = wording.bound(basis.leak.high) == wording.bound(basis.detection_limit)
    return "" if is_same else f"; these readings rule out a leak above {high}"


NOTES_SHOWN = 8
READING = "L"
"""Family of the findings about how the file was read."""


def detail(analysis: Judged, *, verbose: bool = False) -> Iterable[Block]:
    """Yield the blocks of the summary's second half."""
    yield Block("Log", list(_log(analysis, verbose)))
    yield Block("Phases", list(_phases(analysis)))
    for number, pull in enumerate(analysis.pumpdowns, start=1):
        yield Block(f"Pumpdown {number}", list(_pumpdown(pull)))
    for index in range(len(analysis.holds)):
        mark = " (the verdict rests on it)" if index == analysis.decisive and len(analysis.holds) > 1 else ""
        yield Block(f"Hold {index + 1}{mark}", list(_hold(analysis, index, verbose)))
    if analysis.joint is not None:
        yield Block("Holds together", list(_joint(analysis.joint)))
    yield from evidence(analysis)


def _log(analysis: Judged, verbose: bool) -> Iterable[Entry]:
    log, verdict = analysis.log, analysis.verdict
    yield Entry("file", source_name(log.source))
    if log.started:
        yield Entry("starts", log.started)
    sampling = "" if math.isnan(log.sampling) else f", a reading every {wording.duration(log.sampling)}"
    yield Entry("readings", f"{len(log.time):,} of {log.rows:,} rows used, {wording.duration(log.duration)}{sampling}")
    yield Entry("gauge", f"{log.gauge}, in {log.unit}")
    if log.other_gauges:
        yield Entry("other gauges", ", ".join(log.other_gauges))
    if log.is_over_range.any():
        yield Entry("over range", f"{int(log.is_over_range.sum()):,} readings")
    # What a finding says of the reading is not said again.
    said = {f.summary.partition(": ")[2] for f in (*verdict.reasons, *verdict.caveats) if f.code[0] == READING}
    notes = [note for note in log.notes if note.text not in said]
    taking_out = [note for note in notes if note.rows]
    rest = [note for note in notes if not note.rows]
    shown = [*taking_out, *rest] if verbose else [*taking_out, *rest][: max(NOTES_SHOWN, len(taking_out))]
    for note in shown:
        where = "" if note.line is None else f"line {note.line}: "
        rows = f" ({note.rows:,} row{'s' if note.rows != 1 else ''} not used)" if note.rows else ""
        yield Entry("note", f"{where}{note.text}{rows} [{note.code}]")
    if len(notes) > len(shown):
        yield Entry("note", f"{len(notes) - len(shown)} more with --verbose")


def _phases(analysis: Judged) -> Iterable[Entry]:
    held: dict[float, HoldFit] = {report.fit.start: report.fit for report in analysis.holds}
    for phase in analysis.phases:
        # A hold's ends are those of its fit, which sets wrong readings aside.
        told = held.get(phase.start, phase) if phase.kind is Kind.HOLD else phase
        ends = tuple(wording.pressure(end) for end in (told.start_pressure, told.end_pressure))
        # A remark says it of both ends where the whole phase is over range.
        went = [] if phase.remark and ends[0] == ends[1] == wording.pressure(math.nan) else [" to ".join(ends)]
        when = f"{wording.clock(phase.start)} to {wording.clock(phase.end)}"
        yield Entry(phase.kind.value, f"{', '.join([when, *went])}{f'; {phase.remark}' if phase.remark else ''}")


def _pumpdown(pull: PumpdownFit) -> Iterable[Entry]:
    yield Entry("time", f"{wording.clock(pull.start)} to {wording.clock(pull.end)}")
    yield Entry("lowest", f"{wording.pressure(pull.lowest)}; {wording.pressure(pull.end_pressure)} at its end")
    if pull.time_constant is not None:
        yield Entry("fast fall", f"time constant {wording.with_interval(pull.time_constant, 1.0, 's')}")
    if pull.knee is not None:
        yield Entry("knee", f"{wording.clock(pull.knee[0])} at {wording.pressure(pull.knee[1])}")
    for band in pull.bands:
        yield Entry(
            "band",
            f"{wording.pressure(band.high)} to {wording.pressure(band.low)}: "
            f"time constant {wording.with_interval(band.time_constant, 1.0, 's')}",
        )
    for plateau in pull.plateaus:
        yield Entry(
            "plateau",
            f"{wording.clock(plateau.start)} to {wording.clock(plateau.end)} at "
            f"{wording.pressure(plateau.pressure)}: {plateau.meaning}",
        )
    if pull.tail_exponent is not None:
        value, low, high = wording.span(pull.tail_exponent)
        yield Entry("tail", f"falls as one over time to the power {value} ({low} to {high})")
    if pull.longer_pull:
        longer = ", ".join(f"{_about(found)} after {wording.duration(extra)}" for extra, found in pull.longer_pull)
        yield Entry("longer pull", f"would have brought about {longer} more")
    if pull.water_suspected:
        yield Entry("water", "the pull stood where water or ice would make it stand")


def _hold(analysis: Judged, index: int, verbose: bool) -> Iterable[Entry]:
    report = analysis.holds[index]
    fit = report.fit
    yield Entry("time", f"{wording.clock(fit.start)} to {wording.clock(fit.end)}, {wording.duration(fit.duration)}")
    yield Entry(
        "pressure",
        f"{wording.pressure(fit.start_pressure)} to {wording.pressure(fit.end_pressure)}, "
        f"a {'fall' if fit.rise < 0.0 else 'rise'} of {wording.pressure(abs(fit.rise))}",
    )
    yield Entry("cause", report.cause.value.replace("_", " "))
    yield Entry("steady rise", wording.rate_interval(fit.leak))
    short = wording.rate_interval(fit.short)
    yield Entry("fast only", f"{short} if no outgassing is slower than the hold")
    yield Entry("levels off", _outgassing(fit))
    yield Entry(
        "limits",
        f"a steady rise counts as seen from {wording.rate(fit.decision_threshold)}; "
        f"a leak shows in 95 % of such holds from {wording.bound(fit.detection_limit)} "
        f"and is distinguishable from slow outgassing from {wording.bound(fit.naming_limit)}",
    )
    yield from impact_entries(analysis, report)
    yield Entry(
        "readings",
        f"{fit.readings:,} in the fit, from {wording.duration(fit.fit_from - fit.start)} after the valve closed; "
        f"noise {_about(fit.noise)}, step {wording.pressure(fit.step)}",
    )
    if fit.hose_drop is not None:
        drop = wording.pressure(fit.hose_drop)
        yield Entry("hose", f"{drop} drop along it at first, as where gas comes in beside the gauge")
    yield from _water(fit)
    if not fit.tests.adequate:
        yield Entry("model", "does not describe this hold; its interval was widened")
    if verbose:
        yield from _model(fit)


def _about(p: float) -> str:
    """Return a pressure [Pa] that is known to two digits."""
    return f"{wording.pressure_number(p, 2)} {wording.unit()}"


def _outgassing(fit: HoldFit) -> str:
    text = wording.pressure_interval(fit.outgassing)
    if fit.outgassing_time_constant is not None:
        text += f", time constant {wording.duration(fit.outgassing_time_constant)}"
    if fit.plateau is not None:
        text += f", towards {wording.pressure(fit.plateau)} without a leak"
    return text


def _water(fit: HoldFit) -> Iterable[Entry]:
    if fit.water is None:
        return
    ceiling = wording.pressure_interval(fit.water.saturation)
    if fit.water.is_crossed:
        meaning = "the rise went beyond it: not water alone"
    elif fit.water.is_possible:
        meaning = "by its shape alone this hold could be free water; the pull before it decides"
    else:
        meaning = "free water alone does not explain this hold"
    yield Entry("water", f"saturated at {ceiling}; {meaning}")


def _model(fit: HoldFit) -> Iterable[Entry]:
    tests = fit.tests
    yield Entry(
        "tests",
        f"misfit {wording.number(tests.misfit)} per degree of freedom, "
        f"correlation {wording.number(tests.correlation, 2)}, runs p = {wording.number(tests.runs_p, 2)}, "
        f"upward bend p = {wording.number(tests.bend_p, 2)} "
        f"({wording.pressure(tests.bend)} at the end), threshold widened {wording.number(tests.inflation)} times",
    )
    if fit.description is not None:
        curve = fit.description
        yield Entry(
            "line and curve",
            f"{wording.rate_interval(curve.rate)} plus "
            f"{wording.pressure_interval(curve.amplitude)} with time constant "
            f"{wording.with_interval(curve.time_constant, 1.0, 's')}, levelling off at "
            f"{wording.pressure(curve.plateau)}: a description, not evidence",
        )
    yield Entry("slowest source", f"{wording.number(fit.kappa)} holds long; a slower one would look like a leak")
    for assumption in fit.assumptions:
        yield Entry("rests on", assumption)


def _joint(joint: JointFit) -> Iterable[Entry]:
    yield Entry("steady rise", wording.rate_interval(joint.leak))
    names = [f"hold {index + 1} of {source}" for source, index in joint.elsewhere]
    names += [f"hold {index + 1}" for index in joint.holds_used]
    if not joint.is_homogeneous:  # else each hold's own numbers stand with it
        for name, alone in zip(names, joint.each, strict=True):
            yield Entry(f"{name} alone", wording.rate_interval(alone))
    yield Entry(
        "limits",
        f"a steady rise counts as seen from {wording.rate(joint.decision_threshold)}; "
        f"a leak shows in 95 % of such jobs from {wording.bound(joint.detection_limit)}",
    )
    agreement = "one leak explains all holds" if joint.is_homogeneous else "one leak cannot explain all holds"
    test = "" if joint.opened is not None else f" (p = {wording.number(joint.homogeneity_p, 2)})"
    yield Entry("agreement", f"{agreement}{test}")
    yield from (Entry("note", remark) for remark in joint.remarks)


def evidence(analysis: Judged) -> Iterable[Block]:
    """Yield what rig and pump add, where they were told."""
    if analysis.rig is not None:
        yield Block("The rig alone", list(_rig(analysis.rig)))
    if analysis.load is not None:
        yield Block("The pull against the pump", list(_load(analysis.load)))


def _rig(rig: RigShare) -> Iterable[Entry]:
    test = rig.test
    yield Entry("file", source_name(test.source))
    yield Entry("hold", f"{wording.duration(test.fit.duration)} from {wording.clock(test.fit.start)}")
    yield Entry("steady rise", wording.rate_interval(test.leak))
    if test.ultimate is not None:
        yield Entry("lowest", wording.pressure(test.ultimate))
    if test.volume is not None:
        yield Entry("volume", wording.with_interval(test.volume, LITRE, "L"))
    if test.throughput is not None:
        yield Entry("throughput", wording.with_interval(test.throughput, 1.0, "Pa·m³/s"))
    if rig.is_bounded_only:
        yield Entry("share", f"at most {wording.rate_high(rig.share)} of the system's rise: a volume is missing")
    else:
        yield Entry("share", f"{wording.rate_interval(rig.share)} of the system's rise")
    yield Entry("left", f"{wording.rate_interval(rig.leak)} for the system itself")


def _load(load: GasLoad) -> Iterable[Entry]:
    yield Entry("rated speed", f"{_litres(load.rated)}; {_litres(load.end_speed)} at the end of the pull")
    for band in load.bands:
        yield Entry("band", _band(band))
    if load.lost_to_hose is not None:
        yield Entry("hose", f"cost {wording.duration(load.lost_to_hose)}, by its geometry")
    if load.ultimate is None:
        pulled = f"at most {wording.number(load.pulled.high, 2)} Pa·m³/s (the pump's own limit is not known)"
    else:
        pulled = _flow(load.pulled)
    yield Entry("gas pulled", f"{pulled} at the end of the pull")
    if load.given is not None:
        yield Entry("gas given", f"{_flow(load.given)} as the hold began")


def _band(band: BandSpeed) -> str:
    text = f"{wording.pressure(band.high)} to {wording.pressure(band.low)}: {_litres(band.expected)} expected"
    if band.seen is not None:
        text += f", {wording.with_interval(band.seen, LITRE, 'L/s')} seen"
    return f"{text}; took {wording.duration(band.time)}"


def _litres(speed: float) -> str:
    return f"{wording.number(speed / LITRE, 2)} L/s"


def _flow(throughput: Interval) -> str:
    return wording.with_interval(throughput, 1.0, "Pa·m³/s")
