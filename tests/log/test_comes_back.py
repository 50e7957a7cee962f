"""Any table of readings, written in any dialect, comes back equal or is refused; a plain one is never refused."""

import datetime as dt
import io

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from decay.errors import LogError
from decay.log import PressureLog, ReadOptions, read_log
from decay.quantities import PRESSURE_UNITS, STANDARD_ATMOSPHERE

CALM = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
FORMS = ["%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%SZ", "%d.%m.%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", "%d-%b-%Y %H:%M:%S",
         "%H:%M:%S", "%Y%m%dT%H%M%S", "%Y-%m-%d %H:%M:%S.%f"]  # fmt: skip
BEFORE = ["", "Made-up log\n", "# made up\n# nothing was measured\n\n", "Device;3\nSerial;12 A\n"]
# What may leave a row out of a whole table, and is said.
MAY_GO = {"sentinel-missing", "reading-wrong"}


@st.composite
def dialects(draw):
    mark = draw(st.sampled_from([",", ";", "\t", "|", " "]))
    return {
        "mark": mark, "form": draw(st.sampled_from(FORMS)), "unit": draw(st.sampled_from(sorted(PRESSURE_UNITS))),
        "comma": mark != "," and draw(st.booleans()), "quoted": mark != " " and draw(st.booleans()),
        "end": draw(st.sampled_from(["\n", "\r\n", "\r"])), "decimals": draw(st.integers(0, 4)),
        "encoding": draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])),
        "before": draw(st.sampled_from(BEFORE)), "trailing": mark != " " and draw(st.booleans()),
        "every": draw(st.integers(1, 120)), "place": draw(st.sampled_from(["header", "unit line", "column"])),
    }  # fmt: skip


def written(values: list[float], how: dict) -> tuple[bytes, np.ndarray, np.ndarray]:
    """Return the file, and the times and pressures that it states."""
    cells = [f"{value:.{how['decimals']}f}" for value in values]
    stated = np.array([float(cell) for cell in cells]) * PRESSURE_UNITS[how["unit"]]
    moments = [dt.datetime(2026, 3, 14, 9) + dt.timedelta(seconds=how["every"] * i) for i in range(len(values))]
    table = [["Time", "Absolute_pressure"]]
    if how["place"] == "header":
        table[0][1] += f"_[{how['unit']}]"
    if how["place"] == "column":
        table[0].append("Unit")
    if how["place"] == "unit line":
        table.append(["-", how["unit"]])
    for moment, cell in zip(moments, cells, strict=True):
        time = moment.strftime(how["form"])
        time = time.replace(" ", "T", 1).replace(" ", "") if how["mark"] == " " else time
        row = [time, cell.replace(".", ",") if how["comma"] else cell]
        table.append([*row, how["unit"]] if how["place"] == "column" else row)
    lines = [how["mark"].join(f'"{c}"' if how["quoted"] else c for c in row) + how["mark"] * how["trailing"]
             for row in table]
    text = how["before"] + "\n".join(lines) + "\n"
    return text.replace("\n", how["end"]).encode(how["encoding"]), how["every"] * np.arange(len(values)), stated


def equal(log: PressureLog, times: np.ndarray, pressures: np.ndarray) -> None:
    if len(log.time) < len(times):
        assert {note.code for note in log.notes if note.rows} <= MAY_GO
        kept = np.isin(times, np.round(log.time, 6))
        times, pressures = times[kept], pressures[kept]
    np.testing.assert_allclose(log.time, times, atol=1e-5)
    np.testing.assert_allclose(log.pressure, pressures, rtol=1e-9)


def under_vacuum(values: list[float], unit: str) -> list[float]:
    """Return values that stay below 1.1 atmospheres in their unit: above, nothing is a vacuum reading."""
    factor = min(1.0, 1.1 * STANDARD_ATMOSPHERE / PRESSURE_UNITS[unit] / max(values))
    return [value * factor for value in values]


@CALM
@given(st.lists(st.floats(0.5, 900_000), min_size=8, max_size=40), dialects())
def test_any_table(values, how):
    values = under_vacuum(values, how["unit"])
    data, times, pressures = written(values, how)
    assume(len(set(pressures.tolist())) > 1)
    try:
        log = read_log(io.BytesIO(data))
    except LogError:
        return
    equal(log, times, pressures)


@CALM
@given(st.lists(st.floats(20, 700), min_size=8, max_size=40), dialects())
def test_a_plain_table_is_never_refused(values, how):
    """Falling, then rising readings in micron: nothing of it may be refused, or the test above proves nothing."""
    turn = len(values) // 2
    values = sorted(values[:turn], reverse=True) + sorted(values[turn:])
    how = {**how, "unit": "micron", "decimals": min(how["decimals"], 2)}
    data, times, pressures = written(values, how)
    equal(read_log(io.BytesIO(data)), times, pressures)


@CALM
@given(st.lists(st.floats(20, 700), min_size=8, max_size=40), dialects())
def test_options_read_what_the_content_cannot_tell(values, how):
    """With the dialect given by hand no table may be refused either."""
    values = under_vacuum(values, how["unit"])
    data, times, pressures = written(values, how)
    options = ReadOptions(delimiter=how["mark"], decimal="," if how["comma"] else ".", unit=how["unit"],
                          encoding=how["encoding"], gauge="2", header=True)
    equal(read_log(io.BytesIO(data), options), times, pressures)
