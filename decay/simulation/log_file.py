"""Writes an invented log, and its truth beside it, whole or not at all."""

from __future__ import annotations

import gzip
import io
import os
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from decay.errors import RangeError
from decay.files import drafted
from decay.quantities import MICRON, PRESSURE_UNITS
from decay.simulation.gauge_model import decimals
from decay.simulation.log_shape import SHAPES, TIME_NAMES, LogShape, time_fields
from decay.simulation.simulated_run import SimulatedRun

STARTED = datetime(2026, 3, 14, 8, 30)
NOTICE = "synthetic: made by a model of an evacuation, nothing was measured"


def write_log(
    run: SimulatedRun,
    path: str | os.PathLike[str],
    shape: str | LogShape = "comma",
    *,
    unit: str | None = None,
    started: datetime = STARTED,
    expected: Mapping[str, object] | None = None,
    force: bool = False,
) -> tuple[Path, Path]:
    """Write the readings of a run as a log, and its truth as ``<stem>.toml`` beside it.

    Parameters
    ----------
    run : SimulatedRun
        What to write.
    path : str or path-like
        The log; compressed if its name ends in ``.gz``.
    shape : str or LogShape
        A name from `SHAPES`, or a shape of one's own.
    unit : str, optional
        Unit of the pressures; the shape's or the gauge's own if left out.
    started : datetime
        Date and time of the first reading, where the shape has them.
    expected : mapping, optional
        What an analysis should say of it, for the table ``expected`` of the truth.
    force : bool
        Whether existing files are replaced.

    Returns
    -------
    tuple of Path
        The log and the truth.

    Raises
    ------
    FileExistsError
        If one of the two exists and ``force`` is false; then neither is written.
    RangeError
        If the shape or the unit is unknown, or the log's name ends in ``.toml``.
    """
    log = Path(path)
    truth = truth_path(log)
    if truth == log:
        raise RangeError(f"{log} is where the truth goes; give the log another ending, like .csv")
    if not force:
        for file in (log, truth):
            if file.exists():
                raise FileExistsError(f"{file} exists and is not overwritten")
    text, coding = log_text(run, shape, unit=unit, started=started)
    data = text.encode(coding)
    if log.suffix == ".gz":
        data = _compressed(data)
    is_truth_placed = False
    try:
        # Both are written before either is moved, so that a full disk leaves an older pair as it was.
        with drafted(log, replace=force) as log_draft:
            log_draft.write_bytes(data)
            with drafted(truth, replace=force) as truth_draft:
                truth_draft.write_bytes(truth_text(run, log.name, expected).encode())
            is_truth_placed = True
    except BaseException:
        if is_truth_placed and not force:
            truth.unlink(missing_ok=True)
        raise
    return log, truth


def truth_path(log: Path) -> Path:
    """Return where the truth of a log stands.

    Parameters
    ----------
    log : Path
        The log, compressed or not.

    Returns
    -------
    Path
        Its stem with the ending ``.toml``, in the same folder.

    Examples
    --------
    >>> truth_path(Path("bay/damp.csv.gz")).as_posix()
    'bay/damp.toml'
    """
    bare = log.with_suffix("") if log.suffix == ".gz" else log
    return bare.with_suffix(".toml")


def log_text(
    run: SimulatedRun, shape: str | LogShape, *, unit: str | None = None, started: datetime = STARTED
) -> tuple[str, str]:
    """Return the text of a log, and its encoding.

    Parameters
    ----------
    run : SimulatedRun
        What to write.
    shape : str or LogShape
        A name from `SHAPES`, or a shape of one's own.
    unit : str, optional
        Unit of the pressures; the shape's or the gauge's own if left out.
    started : datetime
        Date and time of the first reading.

    Returns
    -------
    tuple of str
        Text and encoding.

    Raises
    ------
    RangeError
        If the shape or the unit is unknown.
    """
    if isinstance(shape, str):
        if shape not in SHAPES:
            raise RangeError(f"{shape!r} is not a shape of log; choose one of {', '.join(SHAPES)}")
        shape = SHAPES[shape]
    unit = unit or shape.unit or run.job.gauge.unit
    if unit not in PRESSURE_UNITS:
        raise RangeError(f"{unit!r} is not a unit of pressure; choose one of {', '.join(PRESSURE_UNITS)}")
    readings = run.readings
    times = time_fields(shape.time_form, (readings.time - readings.time[0]).tolist(), started, shape.decimal)
    pressures = _pressure_fields(run, unit, shape.decimal)
    # Without names a comment of as many fields as the rows have would be read as the names.
    lines = [f"# {NOTICE if shape.header else NOTICE.replace(',', ' and')}"]
    if shape.preamble:
        lines += [f"job: {run.job.name or 'unnamed'}", f"readings: {len(times)}", ""]
    if shape.header:
        names = [*TIME_NAMES.get(shape.time_form, ("time",)), "pressure" if shape.unit_column else f"pressure [{unit}]"]
        lines.append(_line([*names, "unit"] if shape.unit_column else names, shape))
    tail = (unit,) if shape.unit_column else ()
    lines += [_line((*time, pressure, *tail), shape) for time, pressure in zip(times, pressures, strict=True)]
    return shape.newline.join(lines) + shape.newline, shape.encoding


def truth_text(run: SimulatedRun, log_name: str, expected: Mapping[str, object] | None) -> str:
    """Return the truth of a run as TOML: times in seconds from the first reading, pressures in micron."""
    per_minute = 60.0 / MICRON
    lines = [
        f"# Truth of {log_name}.",
        f'origin = "{NOTICE}"',
        "synthetic = true",
        f"job = {_toml(run.job.name)}",
        f"seed = {run.job.seed}",
        "",
        "[truth]",
        f"leak_rate_micron_per_min = {run.leak_rate * per_minute:.6g}",
        f"isolated_volume_l = {run.isolated_volume * 1e3:.6g}",
        f"free_water_at_start_g = {sum(w.mass for w in run.job.waters) * 1e3:.6g}",
    ]
    for s in run.stretches:
        lines += ["", "[[truth.steps]]", f'kind = "{s.kind}"', f"start_s = {s.start:.3f}", f"end_s = {s.end:.3f}",
                  f"start_micron = {s.start_pressure / MICRON:.6g}", f"end_micron = {s.end_pressure / MICRON:.6g}"]
    for h in run.holds:
        lines += ["", "[[truth.holds]]", f"start_s = {h.start:.3f}", f"end_s = {h.end:.3f}",
                  f"leak_rate_micron_per_min = {h.leak_rate * per_minute:.6g}",
                  f"outgassing_rise_micron = {h.outgassing_rise / MICRON:.6g}",
                  f"water_left_g = {h.water_mass * 1e3:.6g}"]
    if expected:
        lines += ["", "[expected]", *(f"{key} = {_toml(value)}" for key, value in expected.items())]
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " else f"\\u{ord(c):04x}" for c in text) + '"'


def _line(fields: tuple[str, ...] | list[str], shape: LogShape) -> str:
    if shape.quoted:
        return shape.delimiter.join(f'"{field}"' for field in fields)
    return shape.delimiter.join(fields)


def _pressure_fields(run: SimulatedRun, unit: str, decimal: str) -> list[str]:
    """Return the written pressures: the gauge's own digits, or one more in another unit than its own."""
    size, gauge = PRESSURE_UNITS[unit], run.job.gauge
    finer = 1.0 if unit == gauge.unit else 10.0
    places: dict[float, int] = {}
    fields = []
    readings = run.readings
    for value, step, over in zip(
        readings.pressure.tolist(), readings.step.tolist(), readings.is_over_range.tolist(), strict=True
    ):
        if over:
            fields.append(gauge.over_range)
            continue
        if step not in places:
            places[step] = decimals(step / finer, size)
        fields.append(f"{value / size:.{places[step]}f}".replace(".", decimal))
    return fields


def _compressed(data: bytes) -> bytes:
    """Return ``data`` as gzip with no name and no date in it, so that the same run gives the same bytes."""
    buffer = io.BytesIO()
    with gzip.GzipFile(filename="", mode="wb", fileobj=buffer, mtime=0) as file:
        file.write(data)
    return buffer.getvalue()
