"""The start of the command: help over a bare interpreter, one log against the bare import of what it rests on."""

from __future__ import annotations

import tempfile
from pathlib import Path

from .invented_logs import evacuation, write_csv
from .measuring import Row, at_most, processes_in_turns, seconds

ROWS = 3600
HELP = 0.15
"""Goal for the help over a bare interpreter. [s]"""
# On equal terms: with the threshold of the garbage collector that the command sets.
NUMBERS = "import gc; gc.set_threshold(100_000); import pandas, scipy.optimize"
# What draws a picture without a window.
PICTURES = f"{NUMBERS}, matplotlib.figure, matplotlib.backends.backend_agg"


def rows(rounds: int) -> list[Row]:
    """Measure whole processes."""
    with tempfile.TemporaryDirectory() as folder:
        log = str(write_csv(Path(folder) / "hour.csv", evacuation(ROWS)))
        picture = str(Path(folder) / "hour.png")
        decay = ("-m", "decay_cli.main")
        found = processes_in_turns(
            rounds,
            Path(folder) / "compiled",
            bare=("-c", "pass"),
            numbers=("-c", NUMBERS),
            pictures=("-c", PICTURES),
            help=(*decay, "--help"),
            plain=(*decay, "analyze", log, "--no-plot"),
            drawn=(*decay, "analyze", log, "--plot", picture, "--force"),
        )
        if not Path(picture).exists():
            raise RuntimeError("`decay analyze --plot` wrote no picture: what was measured is not what was meant")
    over = found["help"] - found["bare"]
    return [
        Row("decay --help over a bare interpreter", seconds(found["help"]), f"{seconds(found['bare'])} python",
            f"+{seconds(over)}", f"under {seconds(HELP)}", over < HELP),
        at_most("decay analyze --no-plot, 1 h at 1 Hz", found["plain"], found["numbers"], 1.0,
                than="import pandas, scipy.optimize"),
        at_most("decay analyze with its picture, 1 h at 1 Hz", found["drawn"], found["pictures"], 1.4,
                than="the same and matplotlib"),
    ]
