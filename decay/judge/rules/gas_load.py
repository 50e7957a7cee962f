"""Findings from the pull against pump and hose: throttling, gas loads that disagree, water that has to leave."""

from __future__ import annotations

from decay import wording
from decay.fit.gas_load import WATER_ASKED, BandSpeed
from decay.judge.case import Case
from decay.judge.finding import Finding, Level
from decay.judge.rules.rule import Answer

# A hose that costs less than this is not worth a word.
_WORTH_SAYING = 60.0
# Gas at the gauge slower than this share of what pump and hose leave: something else stands in the way.
_FAR_BELOW = 1.0 / 3.0
# Below this pressure gas off the walls slows a pull as much as any hose does.
_WALLS_BELOW = 130.0  # Pa, about 1,000 micron: common practice, no source
LITRE_PER_SECOND = 1e-3


def _speed(s: float) -> str:
    return f"{wording.number(s / LITRE_PER_SECOND, 2)} L/s"


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
        pump speed and hose must be told.
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
        A pull that stood at water's vapour pressure, with the pump's speed told: the temperature that belongs to that
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
