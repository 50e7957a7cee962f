"""Whole logs in many dialects, from which damaged ones are made."""

from __future__ import annotations

import datetime as dt
import gzip
import math
import random

START = dt.datetime(2026, 3, 14, 9, 0, 0)


def microns(rng: random.Random, count: int) -> list[float]:
    """Return made-up readings: a fall, then a slow rise."""
    turn = count // 3
    return [300 + 750_000 * math.exp(-i * 12 / turn) + max(i - turn, 0) * 2.5 + rng.gauss(0, 0.8) for i in range(count)]


def whole_logs(seed: int = 0) -> list[bytes]:
    """Return undamaged logs: each dialect, time form and unit that the reader should know."""
    rng = random.Random(seed)
    logs: list[bytes] = []
    forms = ["%Y-%m-%d %H:%M:%S", "%d/%m/%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", "%d.%m.%Y %H:%M", "%H:%M:%S",
             "%d-%b-%Y %H:%M:%S", "%Y-%m-%dT%H:%M:%S+02:00", "%Y%m%dT%H%M%S", "elapsed", "epoch", "minutes"]
    for number, form in enumerate(forms):
        for mark in (",", ";", "\t", "|", " "):
            count = rng.choice((12, 30, 60))
            values = microns(rng, count)
            unit, size = rng.choice((("micron", 1.0), ("Pa", 7.5), ("mbar", 750.06), ("Torr", 1000.0)))
            comma = mark != "," and rng.random() < 0.4
            lines = []
            for i, value in enumerate(values):
                moment = START + dt.timedelta(seconds=7 * i)
                time = {"elapsed": f"{7 * i}", "epoch": f"{1773478800 + 7 * i}", "minutes": f"{7 * i / 60:.3f}"}.get(
                    form) or moment.strftime(form)
                cell = f"{value / size:.{rng.choice((1, 3)) if number % 2 else 2}f}"
                if i < 2 and number % 3 == 0:
                    cell = rng.choice(("OL", "HI", "---", ">19000", "999999"))
                if mark == " ":
                    time = time.replace(" ", "T")
                cells = [time, cell.replace(".", ",") if comma else cell]
                if number % 4 == 1:
                    cells.append(f"{21.5 + 0.1 * (i % 5):.1f}")
                if number % 4 == 2:
                    cells.append(unit)
                lines.append(mark.join(cells))
            third = {1: ["Temp_(C)"], 2: ["Unit"]}.get(number % 4, [])
            head = ["Time", f"Pressure_({unit})", *third]
            before = ["# made up", "Serial: 12"] if number % 5 == 0 else []
            text = "\n".join([*before, mark.join(head), *lines, ""])
            text = text.replace("\n", rng.choice(("\n", "\r\n", "\r")))
            logs.append(text.encode(rng.choice(("utf-8", "utf-8", "utf-16", "cp1252"))))
    logs.append(gzip.compress(logs[0]))
    return logs
