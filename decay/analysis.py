"""The whole answer about one job: what `analyze` returns and the reports render."""

from __future__ import annotations

import html
from dataclasses import dataclass
from typing import Any

from decay.fit.results import JointFit, PumpdownFit
from decay.interval import Interval
from decay.judge.answer import Basis, HoldReport, Verdict
from decay.log.pressure_log import PressureLog
from decay.phases.phase import Phase
from decay.pull.gas_load import GasLoad
from decay.several.rig import RigShare
from decay.several.warm import WarmFit
from decay.system import System


@dataclass(frozen=True, slots=True, repr=False)
class Analysis:
    """Everything known about one log.

    Parameters
    ----------
    log : PressureLog
        The readings.
    system : System
        What the user told us.
    phases : tuple of Phase
        In order of time, without gaps.
    pumpdowns : tuple of PumpdownFit
        One a pull.
    holds : tuple of HoldReport
        One a usable hold.
    joint : JointFit or None
        Where several holds share one leak.
    decisive : int or None
        Index of the hold that the verdict rests on (the last usable one).
    verdict : Verdict
        The answer.
    basis : Basis
        The leak, its limit, meaning and cause that the verdict rests on.
    rig : RigShare or None
        What of the leak is the rig's, where the rig was held alone.
    load : GasLoad or None
        The pull before the hold that decides, against pump and hose, where they were told.
    warm : WarmFit or None
        A cold and a warm hold together, where there are two.
    """

    log: PressureLog
    system: System
    phases: tuple[Phase, ...]
    pumpdowns: tuple[PumpdownFit, ...]
    holds: tuple[HoldReport, ...]
    joint: JointFit | None
    decisive: int | None
    verdict: Verdict
    basis: Basis
    rig: RigShare | None = None
    load: GasLoad | None = None
    warm: WarmFit | None = None

    @property
    def leak(self) -> Interval | None:
        """The leak that the verdict rests on; ``None`` where no hold was found. [Pa/s]"""
        return self.basis.leak

    def summary(self, *, detail: bool = False, width: int = 80) -> str:
        """Return the answer in words: the short summary, or with ``detail`` everything that is known."""
        from decay.report.detail import summary
        from decay.report.short_summary import short_summary

        return summary(self, width=width) if detail else short_summary(self, width=width)

    def plot(self) -> Any:
        """Return the picture as a matplotlib figure, made without pyplot."""
        from decay.report.plot import draw

        return draw(self)

    def to_dict(self) -> dict[str, Any]:
        """Return the JSON document: numbers in the units that their keys name, ``None`` for what is unknown."""
        from decay.report.document import document

        return document(self)

    def to_frame(self) -> Any:
        """Return the readings as a pandas DataFrame: time [s], pressure [micron], over range, and the phase of each."""
        from decay.log.frame import frame_of

        names = [next((p.kind.value for p in self.phases if p.start <= t <= p.end), "") for t in self.log.time]
        return frame_of(self.log, phase=names)

    def __repr__(self) -> str:
        from decay.report.answers import headline, hold_in_words

        return f"<Analysis of {self.log.source!r}: {headline(self)} ({hold_in_words(self)})>"

    def _repr_html_(self) -> str:
        from decay.report.short_summary import HEADINGS

        lines = [html.escape(line) for line in self.summary(width=100).splitlines()]
        strong = {0, len(lines) - 1, *(i for i, line in enumerate(lines) if line in HEADINGS)}
        text = "\n".join(f"<b>{line}</b>" if i in strong else line for i, line in enumerate(lines))
        return f'<pre style="line-height: 1.35">{text}</pre>'
