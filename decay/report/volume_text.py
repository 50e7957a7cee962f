"""The answer of `decay volume`: how large, how known, and what to paste into the next command; text and document."""

from __future__ import annotations

from decay import wording
from decay.impact.known_volume import KnownVolume
from decay.interval import Interval
from decay.report.document_numbers import Json, interval, number
from decay.wording.charset import clean, to_ascii
from decay.wording.lines import Block, Entry

SCHEMA_VERSION = 1
LITRE = 1e-3


def volume_text(known: KnownVolume, *, ascii_only: bool = False, width: int = 88) -> str:
    """Return a volume in words.

    Parameters
    ----------
    known : KnownVolume
        The volume.
    ascii_only : bool
        Plain ASCII.
    width : int
        Longest line. [characters]

    Returns
    -------
    str
        Several lines, ending in a line feed.
    """
    width = max(width, 40)
    blocks = []
    if known.pieces:
        blocks.append(Block("Counted", [Entry("-", f"{_litres(size)}  {name}") for name, size in known.pieces]))
    rig = {True: "counted", False: "none to count", None: "not known, and not counted"}[known.is_rig_counted]
    how = [
        Entry("how known", f"{known.origin}: {known.basis}"),
        Entry("rig", rig),
        Entry("paste", known.option),
    ]
    blocks.append(Block("This volume", how))
    if known.remarks:
        blocks.append(Block("Mind", [Entry("-", text) for text in known.remarks]))
    lines = [_headline(known), ""]
    for block in blocks:
        lines += [*block.lines(width), ""]
    lines = [clean(line) for line in lines[:-1]]
    return "\n".join(to_ascii(line) if ascii_only else line for line in lines) + "\n"


def volume_document(known: KnownVolume) -> Json:
    """Return a volume as a document.

    Parameters
    ----------
    known : KnownVolume
        The volume.

    Returns
    -------
    dict
        Strict JSON; a bound is never given as a volume.
    """
    return {
        "schema_version": SCHEMA_VERSION,
        "origin": known.origin,
        "volume_l": interval(known.volume, LITRE),
        "upper_bound_l": None if known.bound is None else number(known.bound / LITRE),
        "pieces": [{"name": name, "volume_l": interval(size, LITRE)} for name, size in known.pieces],
        "is_rig_counted": known.is_rig_counted,
        "basis": known.basis,
        "option": known.option,
        "remarks": list(known.remarks),
    }


def _headline(known: KnownVolume) -> str:
    if known.volume is None:
        return f"At most {known.bound_in_litres} L, an upper bound from the pull"
    return f"{_litres(known.volume)}, {known.origin}"


def _litres(volume: Interval) -> str:
    return wording.with_interval(volume, LITRE, "L")
