"""Two blocks of the summary: the rig held alone, and the pull against pump and hose."""

from __future__ import annotations

from collections.abc import Iterable

from decay import wording
from decay.analysis import Analysis
from decay.fit.gas_load import BandSpeed, GasLoad
from decay.fit.rig import RigShare
from decay.interval import Interval
from decay.wording.lines import Block, Entry

LITRE_PER_SECOND = 1e-3


def evidence(analysis: Analysis) -> Iterable[Block]:
    """Yield what rig and pump add, where they were told.

    Parameters
    ----------
    analysis : Analysis
        The answer about one log.

    Yields
    ------
    Block
        In reading order.
    """
    if analysis.rig is not None:
        yield Block("The rig alone", list(_rig(analysis.rig)))
    if analysis.load is not None:
        yield Block("The pull against the pump", list(_load(analysis.load)))


def _rig(rig: RigShare) -> Iterable[Entry]:
    test = rig.test
    yield Entry("file", "standard input" if test.source == "-" else test.source)
    yield Entry("hold", f"{wording.duration(test.fit.duration)} from {wording.clock(test.fit.start)}")
    yield Entry("steady rise", wording.rate_interval(test.leak))
    if test.ultimate is not None:
        yield Entry("lowest", wording.pressure(test.ultimate))
    if test.volume is not None:
        yield Entry("volume", wording.with_interval(test.volume, 1e-3, "L"))
    if test.throughput is not None:
        yield Entry("throughput", wording.with_interval(test.throughput, 1.0, "Pa·m³/s"))
    if rig.is_bounded_only:
        yield Entry("share", f"at most {wording.bound(rig.share.high)} of the system's rise: a volume is missing")
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
        text += f", {wording.with_interval(band.seen, LITRE_PER_SECOND, 'L/s')} seen"
    return f"{text}; took {wording.duration(band.time)}"


def _litres(speed: float) -> str:
    return f"{wording.number(speed / LITRE_PER_SECOND, 2)} L/s"


def _flow(throughput: Interval) -> str:
    return wording.with_interval(throughput, 1.0, "Pa·m³/s")
