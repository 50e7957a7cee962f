"""The whole answer about one job as `analyze` returns it: in words, as a picture, as a document, as a frame."""

from __future__ import annotations

import html
from typing import Any

from decay.judge.answer import Judged


class Analysis(Judged):
    """Everything known about one log, as a notebook has it: it shows itself. Its fields are those of `Judged`."""

    __slots__ = ()

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
