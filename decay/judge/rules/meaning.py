"""Findings about what the leak means: refrigerant lost, which uncertainty rules, and what could not be said."""

from __future__ import annotations

import math

from decay import wording
from decay.impact.assess import OF_THROUGHPUT, Doubt
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer


def _of(case: Case) -> str:
    """Return of which leak the meaning is told, where it is not the deciding hold's own."""
    if case.rig is not None:
        return ", without the rig's share"
    return ", by all holds together" if case.is_joint else ""


def refrigerant_loss(case: Case) -> Answer:
    """
    What it looks for
        The leak carried over to the standing pressure of the charge, where volume, refrigerant and temperature are
        known.
    Why it matters
        Micron a minute mean nothing to a customer; grams a year and the day the charge is gone do.
    When it is wrong
        Seals that leak one way only, oil in the path, vibration, heat and working pressure are not in it.
    Example log
        50 micron/min in 3 litres with R-134a: tens of grams a day if the flow is laminar.
    What to do
        Compare it with the charge, and with what the law where you work allows.
    References
        Laminar flow goes as the difference of squared pressures over viscosity; molecular flow as the difference of
        pressures over the root of the molar mass.
    """
    impact = case.impact
    if impact is None:
        return None
    if impact.loss is None:
        return ()
    loss = impact.loss
    summary = (
        f"Loss of refrigerant{_of(case)}: {wording.loss_interval(loss.molecular)} if the flow is molecular, "
        f"{wording.loss_interval(loss.laminar)} if it is laminar."
    )
    if impact.until_empty is not None and case.is_leak_seen:
        soonest, latest = impact.until_empty.least, impact.until_empty.most
        when = wording.durations(soonest, latest)
        if case.system.volume is not None and case.system.volume.low <= 0:
            when = f"{wording.duration(soonest)} at the soonest: the volume is a bound"
        elif math.isinf(latest):
            when = f"{wording.duration(soonest)} at the soonest"
        summary += f" The charge would be gone in {when}."
    evidence = {
        "laminar_g_per_year": loss.laminar.value / wording.GRAM_PER_YEAR,
        "molecular_g_per_year": loss.molecular.value / wording.GRAM_PER_YEAR,
    }
    return (Finding("I01", Level.NOTE, summary, evidence),)


_DOMINANT = {
    Doubt.FIT: "the hold itself (its length, noise and outgassing): hold for longer or dry further",
    Doubt.VOLUME: "the volume: measure it",
    Doubt.GAUGE: "the gauge's gain: have it checked",
    Doubt.TEMPERATURE: "the temperature: log it",
    Doubt.FLOW: "the flow regime, which no hold shows",
}


def dominant_uncertainty(case: Case) -> Answer:
    """
    What it looks for
        Which of the uncertainties (fit, volume, gauge, temperature, flow regime) makes the interval as wide as it is.
    Why it matters
        Work on any other one does not narrow it.
    When it is wrong
        A gauge whose accuracy was not stated is assumed exact.
    Example log
        A clean one-hour hold with a volume known to a third: the volume rules.
    What to do
        Improve the one that rules.
    References
        JCGM 100 (GUM) on combining uncertainties.
    """
    impact = case.impact
    if impact is None:
        return None
    if impact.throughput is None or impact.dominant is None:
        return ()
    summary = f"The largest uncertainty is {_DOMINANT[impact.dominant]}."
    # The law of flow and the temperature of the charge widen the loss, and not the throughput.
    others = [(size, name) for name, size in impact.spreads if name in OF_THROUGHPUT]
    if impact.loss is not None and impact.dominant not in OF_THROUGHPUT and others:
        summary = (
            f"The largest uncertainty of the loss is {_DOMINANT[impact.dominant]}; that of the throughput is "
            f"{_DOMINANT[max(others)[1]]}."
        )
    evidence = {f"{name.replace(' ', '_')}_log_half_width": size for name, size in impact.spreads}
    return (Finding("I02", Level.NOTE, summary, evidence),)


def law_of_flow(case: Case) -> Answer:
    """
    What it looks for
        A loss of refrigerant, which is always given as a bracket between laminar and molecular flow.
    Why it matters
        The same hold can mean losses that differ more than tenfold. Nothing in a vacuum hold shows which law applies
        to the path under pressure.
    When it is wrong
        Large leaks are laminar or even choked, tiny ones molecular; many lie between the two.
    Example log
        Any with a volume and a refrigerant.
    What to do
        Decide on the larger of the two numbers.
    References
        General vacuum practice puts molecular flow below about 1e-6 mbar L/s and laminar above about 1e-4, with wide
        exceptions.
    """
    if case.impact is None:
        return None
    if case.impact.loss is None:
        return ()
    summary = (
        "No hold shows the flow regime: the true loss lies between molecular and laminar flow. Seals that leak one "
        "way only, oil in the path, vibration and temperature are not included."
    )
    return (Finding("I03", Level.CAVEAT, summary),)


def not_said(case: Case) -> Answer:
    """
    What it looks for
        Parts of the meaning that could not be computed.
    Why it matters
        What is not known is named, and never put as zero.
    When it is wrong
        Never: it states what is missing.
    Example log
        A refrigerant above its critical temperature.
    What to do
        State what is missing, or take the answer as it is.
    References
        None.
    """
    if case.impact is None:
        return None
    # That the volume is missing is a caveat of its own (K09).
    is_said = case.system.volume is None
    remarks = [remark for remark in case.impact.remarks if not (is_said and "--volume" in remark)]
    return tuple(Finding("I04", Level.NOTE, remark) for remark in remarks)


def allowed_not_comparable(case: Case) -> Answer:
    """
    What it looks for
        An allowed leak that could not be turned into a rate of rise, because volume, refrigerant or temperature is
        not known.
    Why it matters
        The question that was asked cannot be answered, so there is no pass.
    When it is wrong
        Never: it states what is missing.
    Example log
        --allow "5 g/yr" without --volume.
    What to do
        State --volume, and for grams a year also --refrigerant and --ambient; or state --allow in micron/min.
    References
        None.
    """
    if case.hold is None:
        return None
    if case.system.allow is None or case.allowed is not None:
        return ()
    missing = [
        option
        for option, value in (
            ("--volume", case.system.volume),
            ("--refrigerant", case.system.refrigerant),
            ("--ambient", case.ambient),
        )
        if value is None
    ]
    summary = (
        f"The allowed leak ({case.system.allow.text}) cannot be compared with this hold: "
        f"{'add ' + ', '.join(missing) if missing else 'it cannot be converted to a rate of rise'}."
    )
    brief = f"the allowed {case.system.allow.text} cannot be compared"
    return (Finding("I05", Level.BLOCKS, summary, headline=brief),)
