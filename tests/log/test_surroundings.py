"""What is read does not depend on the locale, the time zone or the order of hashing."""

import json
import os
import subprocess
import sys

import pytest
from writing import rows, table

READ = """
import json, locale, sys, time
try:
    locale.setlocale(locale.LC_ALL, "")
except locale.Error:
    pass
from decay.log import read_log
out = []
for path in sys.argv[1:]:
    log = read_log(path)
    out.append([log.started, log.time.tolist(), log.pressure.tolist(), log.step.tolist(), log.gauge, log.unit,
                [[n.code, n.text, n.line, n.rows] for n in log.notes]])
print(json.dumps(out))
"""
PLACES = [{"TZ": "UTC", "LC_ALL": "C", "PYTHONHASHSEED": "1"}, {"TZ": "Asia/Kathmandu", "LC_ALL": "de_DE.UTF-8"},
          {"TZ": "America/New_York", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "2"},
          {"TZ": "<+1345>-13:45", "LC_ALL": "tr_TR.UTF-8", "PYTHONUTF8": "0"}]  # fmt: skip


@pytest.fixture
def logs(tmp_path):
    moments = [str(1773478800 + 10 * i) for i in range(22)]
    named = [f"14-Mar-2026 09:{i:02d}:00" for i in range(22)]
    zoned = [f"2026-03-14T09:{i:02d}:00+05:30" for i in range(22)]
    halves = [f"03/14/2026 {11 + i // 60}:{i % 60:02d} AM" for i in range(22)]
    paths = []
    for name, times in {"epoch": moments, "named": named, "zoned": zoned, "halves": halves}.items():
        path = tmp_path / f"{name}.csv"
        path.write_text(table([(t, v) for t, (_, v) in zip(times, rows(), strict=True)], ("Time", "Vacuum (µmHg)")),
                        encoding="cp1252")
        paths.append(path)
    return paths


def test_same_everywhere(logs):
    found = []
    for place in PLACES:
        done = subprocess.run([sys.executable, "-c", READ, *map(str, logs)], env={**os.environ, **place}, check=True,
                              capture_output=True, text=True, timeout=60)
        found.append(done.stdout)
    assert len(set(found)) == 1
    starts = [log[0] for log in json.loads(found[0])]
    assert starts == ["2026-03-14T09:00:00+00:00", "2026-03-14T09:00:00", "2026-03-14T09:00:00+05:30",
                      "2026-03-14T11:00:00"]
