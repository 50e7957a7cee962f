"""JSON, web pages, records and tables on their side hold the same readings as the plain table."""

import json

import numpy as np
import pytest
from writing import MICRONS, codes, read_text, rows, table

from decay.errors import LogError

NAMES = ("time", "pressure [micron]")
ROWS = rows()
RECORDS = [{"time": t, "pressure [micron]": int(v)} for t, v in ROWS]
NESTED = [{"time": t, "gauge": {"pressure [micron]": int(v)}, "note": None} for t, v in ROWS]
SHAPES = {
    "lines of JSON": "\n".join(map(json.dumps, RECORDS)), "nested": json.dumps(NESTED),
    "a list of records": json.dumps(RECORDS, indent=1), "wrapped": json.dumps({"device": "gauge 1", "log": RECORDS}),
    "columns": json.dumps({name: [row[i] for row in ROWS] for i, name in enumerate(NAMES)}),
    "a list of rows": json.dumps([NAMES, *ROWS]),
    "a page": "<html><h1>Log</h1><table class=x><tr><th>time<th>pressure [micron]" + "".join(
        f"<tr><td>{t}</td><td><b>{v}</b></td></tr>" for t, v in ROWS) + "</table></html>",
    "elements": "<?xml version='1.0'?><log>" + "".join(
        f"<row><time>{t}</time><micron>{v}</micron></row>" for t, v in ROWS) + "</log>",
    "attributes": "<log>\n" + "\n".join(f'<row time="{t}" micron="{v}"/>' for t, v in ROWS) + "\n</log>",
    "names and values": "\n".join(f"time={t}, micron={v}" for t, v in ROWS),
    "quoted values": "\n".join(f'time="{t}" micron="{v}"' for t, v in ROWS),
    "records": "\n\n".join(f"time: {t}\nmicron: {v}" for t, v in ROWS),
    "YAML": "\n".join(f"- time: {t}\n  micron: {v}" for t, v in ROWS),
    "rows in brackets": "\n".join(f"INSERT INTO log VALUES ('{t}', '{v} micron');" for t, v in ROWS),
    "times in brackets": "\n".join(f"[{t}] {v} micron" for t, v in ROWS),
    "on its side": "\n".join(";".join((name, *(row[i] for row in ROWS))) for i, name in enumerate(NAMES)),
    "lines in quotes": "\n".join(f'"{line}"' for line in table(ROWS, NAMES).splitlines()),
}


@pytest.mark.parametrize("shape", SHAPES)
def test_the_same_readings(tmp_path, shape):
    log = read_text(tmp_path, SHAPES[shape])
    np.testing.assert_allclose(log.time, 10.0 * np.arange(len(MICRONS)))
    np.testing.assert_allclose(log.pressure, 0.1333223684 * np.array(MICRONS), rtol=1e-6)
    assert ("shape-read" in codes(log)) or shape in {"records", "YAML"}


@pytest.mark.parametrize("text", ["{", "[1, 2, 3]", '{"a": [], "b": []}', "<table><tr><td>1", "a=1\nb=2", "[" * 5000,
                                  '[{"a": ' + "9" * 5000 + "}]", "<log></log>", json.dumps([[1]] * 9), "(1)\n(2)"])
def test_what_holds_no_readings_is_refused(tmp_path, text):
    with pytest.raises(LogError):
        read_text(tmp_path, text)
