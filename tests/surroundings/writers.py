"""Every command that writes files, in a form that runs fast, with the files it writes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
LEAK = str(SAMPLES / "leaking_slowly.csv")
DAMP = str(SAMPLES / "leak_with_damp.csv")
DRY = str(SAMPLES / "tight_but_damp.csv")


@dataclass(frozen=True)
class Writer:
    """A command line, and the names of what it writes in the working directory."""

    words: tuple[str, ...]
    files: tuple[str, ...]
    code: int = 0
    """Exit code where nothing stands in the way."""

    def __str__(self) -> str:
        return f"{self.words[0]} {' '.join(self.files)}"

    @property
    def has_picture(self) -> bool:
        """Whether it writes a picture, which comes after the answer."""
        return self.files[-1].endswith((".png", ".svg", ".pdf"))


WRITERS = (
    Writer(("analyze", LEAK, "--plot", "a.png"), ("a.png",), 1),
    Writer(("compare", DAMP, DRY, "--plot", "c.svg"), ("c.svg",), 0),
    Writer(("plan", "--volume", "6.5 L", "--plot", "p.png"), ("p.png",)),
    Writer(("lesson", "--runs", "1", "--hold", "10 min", "--interval", "10 s", "--plot", "l.png"), ("l.png",)),
    Writer(("simulate", "--leak", "5 micron/min", "--hold", "5 min", "--out", "s.csv"), ("s.csv", "s.toml")),
    Writer(("simulate", "--leak", "5 micron/min", "--hold", "5 min", "--out", "s.csv.gz"), ("s.csv.gz", "s.toml")),
    Writer(("audit", LEAK, "--out", "u", "--jobs", "1", "--no-plot"), ("u.csv", "u.jsonl"), 1),
    Writer(("audit", LEAK, "--out", "u", "--jobs", "1"), ("u.csv", "u.jsonl", "u.png"), 1),
)
