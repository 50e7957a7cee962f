"""Findings about the pull before the hold, by itself and held against the pump."""

from __future__ import annotations

from decay import wording
from decay.constants import LITRE
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer
from decay.pull.gas_load import WATER_ASKED, BandSpeed
from decay.quantities import MICRON

# A tail that would fall by this share with the next step of pumping has not settled.
STILL_FALLING = 0.1


def pull_stood_at_water(case: Case) -> Answer:
    """
    What it looks for
        A pull that stood at the saturation pressure of water at the ambient temperature, or of ice.
    Why it matters
        A pump cannot get below that pressure while liquid is left; its cold spot may freeze, and ice then gives off
        vapour so slowly that the gauge looks dry.
    When it is wrong
        Pump, hose or gauge can stop at the same pressure for their own reasons; so can refrigerant boiling from oil.
    Example log
        A pull that stays between 17,000 and 18,500 micron for fifteen minutes at 20 °C, then falls on.
    What to do
        Dry: warm the system, open the low points, sweep with dry nitrogen, change the pump oil.
    References
        IAPWS R7-97 and R14-08 for saturation pressures; freezing at 611.657 Pa (4,588 micron).
    """
    pulls = [pull for pull in case.pumpdowns if pull.water_suspected]
    findings = []
    for pull in pulls:
        plateau = next((p for p in pull.plateaus if p.is_water), None)
        where = f" at {wording.pressure(plateau.pressure)} ({plateau.meaning})" if plateau is not None else ""
        span = (plateau.start, plateau.end) if plateau is not None else (pull.start, pull.end)
        findings.append(Finding("E01", Level.CAVEAT, f"Free water is suspected: the pull stood{where}.", {}, span))
    return tuple(findings)


def pull_stalled(case: Case) -> Answer:
    """
    What it looks for
        A pull that stood at a pressure that is not water's.
    Why it matters
        It shows the limit of pump, oil, hose or gauge, or a leak that the pump only just keeps up with.
    When it is wrong
        A gauge that is slow, or a technician who throttled the valve, makes a stall as well.
    Example log
        A pull that stays at 900 micron for ten minutes with a hot pump and milky oil.
    What to do
        Change the pump oil, blank off the pump to see its own limit, use shorter and wider hoses, remove valve cores.
    References
        Common practice, no source.
    """
    pull = case.pull
    if pull is None:
        return () if case.fit is not None else None
    stalls = [p for p in pull.plateaus if not p.is_water]
    return tuple(
        Finding(
            "E02",
            Level.NOTE,
            f"The pull stood at {wording.pressure(stall.pressure)} for {wording.duration(stall.end - stall.start)} "
            f"({stall.meaning}).",
            {"plateau_micron": stall.pressure / MICRON},
            (stall.start, stall.end),
        )
        for stall in stalls
    )


def isolated_too_early(case: Case) -> Answer:
    """
    What it looks for
        A pull whose tail was still falling by more than a tenth a step when the valve was closed.
    Why it matters
        What the pump would have taken in the next minutes comes out in the hold instead and hides the leak.
    When it is wrong
        The tail of the pull is a power law only roughly; its extrapolation is no promise.
    Example log
        A pull that falls from 600 to 480 micron in its last five minutes and is isolated there.
    What to do
        Pull on until the gauge hardly moves, then isolate.
    References
        Outgassing falls about as 1/t for unbaked metal (order of magnitude, general vacuum practice).
    """
    pull = case.pull
    if pull is None:
        return () if case.fit is not None else None
    if not pull.longer_pull:
        return ()
    extra, expected = pull.longer_pull[0]
    if expected > (1 - STILL_FALLING) * pull.end_pressure:
        return ()
    summary = (
        f"Isolated while the pressure was still falling: {wording.duration(extra)} more would have brought it to "
        f"about {wording.pressure_number(expected, 2)} {wording.unit()}."
    )
    return (Finding("E03", Level.CAVEAT, summary, {"expected_micron": expected / MICRON}, (pull.start, pull.end)),)


def longer_pull(case: Case) -> Answer:
    """
    What it looks for
        What the tail of the pull says a longer one would have reached, where the hold still gave off gas or the
        target was not reached.
    Why it matters
        It shows whether time alone will do, or whether the pump, the hoses or water stand in the way.
    When it is wrong
        It carries the tail on as it was; a leak, or a pump at its limit, stops it sooner.
    Example log
        A pull at 520 micron, falling: 30 minutes more would have brought about 410.
    What to do
        Pull for longer, or mend what limits the pull.
    References
        The tail is taken as p - p_ultimate proportional to t^-n.
    """
    pull = case.pull
    if pull is None:
        return () if case.fit is not None else None
    if not pull.longer_pull or case.outcome.met is True:
        return ()
    if len(pull.longer_pull) == 1 and isolated_too_early(case):
        return ()  # E03 has said it
    extra, expected = pull.longer_pull[-1]
    reached = f"{wording.pressure_number(expected, 2)} {wording.unit()}"
    summary = f"A pull {wording.duration(extra)} longer would have reached about {reached}."
    return (Finding("E04", Level.NOTE, summary, {"expected_micron": expected / MICRON}, (pull.start, pull.end)),)


def no_pull_logged(case: Case) -> Answer:
    """
    What it looks for
        A hold without a pull before it in the log.
    Why it matters
        The pull shows whether water stood in the system and how long it was under vacuum; without it slow outgassing
        is harder to distinguish from a leak.
    When it is wrong
        Never: it states what is not in the log.
    Example log
        A log that begins at the closed valve.
    What to do
        Start the log before the pump.
    References
        None.
    """
    if case.fit is None:
        return None
    if case.pull is not None:
        return ()
    summary = "The log shows no pull before the hold: free water and slow outgassing are harder to rule out."
    return (Finding("E05", Level.CAVEAT, summary, {}, (case.fit.start, case.fit.end)),)


# A hose that costs less than this is not worth a word.
_WORTH_SAYING = 60.0
# Gas at the gauge slower than this share of what pump and hose leave: something else stands in the way.
_FAR_BELOW = 1.0 / 3.0
# Below this pressure gas off the walls slows a pull as much as any hose does.
_WALLS_BELOW = 130.0  # Pa, about 1,000 micron: common practice, no source


def _speed(s: float) -> str:
    return f"{wording.number(s / LITRE, 2)} L/s"


def throttled(case: Case) -> Answer:
    """
    What it looks for
        How much of the pump's rated speed the hose lets through, pressure by pressure, and the minutes of this pull
        that this cost; and a fall well above 1,000 micron that is far slower still than pump and hose explain.
    Why it matters
        At a thousand micron a thin hose passes a few hundredths of what the pump could take; a larger pump changes
        nothing then, a wider and shorter hose does.
    When it is wrong
        The hose's part comes from its geometry as a smooth tube full of air, without valve cores, bends or fittings;
        the speed seen comes from the volume as stated. Gas off the walls slows the low bands as well, which is why they
        are not used to accuse the hose; bands in which the pull stood are not, either. Volume,
        pump speed and hose must be given.
    Example log
        3 L through 1.5 m of 6 mm bore on a 6 cfm pump: most of the fall below 1,000 micron goes at under a tenth of the
        rated speed.
    What to do
        Remove the valve cores with a core tool, use short wide hoses, and pull from both sides.
    References
        Knudsen, Annalen der Physik 28 (1909) 75, for tubes in every regime; 1/S = 1/S_pump + 1/C.
    """
    load = case.load
    if load is None:
        return ()
    found = []
    lost = load.lost_to_hose
    if lost is not None and lost >= _WORTH_SAYING:
        narrow = load.bands[-1]
        summary = (
            f"The hose throttles the pull: it cost about {wording.duration(lost)}, by its geometry. Of the rated "
            f"{_speed(load.rated)} it leaves {_speed(narrow.expected)} between {wording.pressure(narrow.high)} and "
            f"{wording.pressure(narrow.low)}."
        )
        found.append(Finding("E06", Level.CAVEAT, summary, {"lost_to_hose_s": lost}))
    slow = [
        band
        for band in load.bands
        if band.seen is not None
        and band.low >= _WALLS_BELOW
        and band.seen.high < _FAR_BELOW * band.expected
        and not _stood_in(case, band)
    ]
    if sum(b.lost or 0.0 for b in slow) >= _WORTH_SAYING:
        band = max(slow, key=lambda b: b.lost or 0.0)
        named = "pump and hose" if band.line is not None else "the pump"
        summary = (
            f"Between {wording.pressure(band.high)} and {wording.pressure(band.low)} the gauge saw "
            f"{_speed(band.seen.value if band.seen is not None else 0.0)} where {named} should give "
            f"{_speed(band.expected)}: valve cores, a narrower passage, worn pump or oil, or a volume that is larger "
            f"than stated. That cost {wording.duration(sum(b.lost or 0.0 for b in slow))}."
        )
        evidence = {"expected_m3_per_s": band.expected, "lost_s": sum(b.lost or 0.0 for b in slow)}
        found.append(Finding("E06", Level.CAVEAT, summary, evidence))
    return tuple(found)


def _stood_in(case: Case, band: BandSpeed) -> bool:
    """Tell whether the pull stood in a band: then water or the pump's limit held it there, and no hose."""
    plateaus = case.pull.plateaus if case.pull is not None else ()
    if case.pull is not None and case.pull.water_suspected:
        return True
    return any(0.9 * band.low <= plateau.pressure <= 1.1 * band.high for plateau in plateaus)


def loads_disagree(case: Case) -> Answer:
    """
    What it looks for
        The gas that the pump took at the end of the pull, speed times pressure, against the gas that the first rise of
        the hold shows, volume times rate. In a steady state they are the same gas. Named beyond a factor of three.
    Why it matters
        Where they disagree the gauge and the pump did not see the same volume, or the volume is wrong; then the hold
        says little about the system.
    When it is wrong
        Speed at the gauge is known to a factor of two at best; vapour is pumped and read differently from air; without
        the rig's ultimate pressure (--rig-log) only too much gas in the hold can be noticed, not too little.
    Example log
        A pull at 50 micron through a hose that passes 0.02 L/s there takes 1 micron L/s; a hold that begins with
        60 micron/min in 10 L gives off 10.
    What to do
        Put the gauge at the far side of the system, open every valve and remove the cores, check the stated volume.
    References
        Mass balance: V dp/dt = Q - S (p - p_ultimate). The factor of three is common practice, no source.
    """
    load = case.load
    if load is None or load.given is None:
        return ()
    evidence = {
        "pulled_pa_m3_per_s": load.pulled.value,
        "pulled_high_pa_m3_per_s": load.pulled.high,
        "given_pa_m3_per_s": load.given.value,
    }
    given, most = (wording.number(q, 2) for q in (load.given.value, load.pulled.high))
    if load.gives_more_than_pulled:
        summary = (
            f"The hold began with a gas load of {given} Pa·m³/s, but at the end of the pull pump and hose can have "
            f"taken at most {most}: the gauge sat near the pump and read lower than the system was, the system was "
            "shut off or behind a closed core during the pull, or the volume is smaller than stated."
        )
        return (Finding("E07", Level.CAVEAT, summary, evidence),)
    if load.gives_less_than_pulled:
        summary = (
            f"At the end of the pull the pump took {wording.number(load.pulled.value, 2)} Pa·m³/s above its ultimate "
            f"pressure, but the hold began with {given} only: the leak is on the pump's side of the valve, the gauge "
            "was shut off from part of the system in the hold, or the volume is larger than stated."
        )
        return (Finding("E07", Level.CAVEAT, summary, evidence),)
    return ()


def water_leaving(case: Case) -> Answer:
    """
    What it looks for
        A pull that stood at water's vapour pressure, with the pump's speed given: the temperature that belongs to that
        pressure, the most water that can have left meanwhile, and the shortest time in which ten grams leave.
    Why it matters
        Water leaves as vapour, and vapour is bulky: time and warmth remove it, not a deeper gauge reading. Without heat
        from outside it cools itself and freezes.
    When it is wrong
        The speed is the most that pump and hose leave of pure vapour at the highest pressure of the stretch; a tube or
        an oil film on the way, or ice, makes it much slower. Something else may have made the pull stand (see E01).
    Example log
        A pull that stands at 4,600 micron, 0 °C, with a pump of 2.8 L/s: at most 14 mg/s leave.
    What to do
        Warm the system evenly (never an open flame), sweep with dry nitrogen, keep the gas ballast open, change oil.
    References
        IAPWS R7-97 and R14-08; n = p V/(R T); latent heat from the slope of the vapour pressure.
    """
    load = case.load
    if load is None:
        return ()
    found = []
    for w in load.water:
        summary = (
            f"Where the pull stood ({wording.pressure(w.pressure)}, water at {wording.celsius(w.temperature)}) no more "
            f"than {wording.number(1e3 * w.during, 2)} g of water can have left. "
            f"{wording.number(1e3 * WATER_ASKED, 2)} g more take {wording.duration(w.time)} or longer "
            f"and {wording.number(w.power, 2)} W of warmth; without it "
            f"{wording.number(100 * w.freezing, 2)} % of what is left freezes."
        )
        evidence = {
            "temperature_k": w.temperature,
            "rate_kg_per_s": w.rate,
            "left_kg": w.during,
            "time_for_10_g_s": w.time,
            "power_w": w.power,
        }
        found.append(Finding("E08", Level.NOTE, summary, evidence))
    return tuple(found)
