"""What an audit as a whole shows: counts by group, findings by code, trends, and the numbers of its picture."""

from __future__ import annotations

import math
from array import array
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from decay.arrays import FloatArray
from decay.audit.manual import row_titles
from decay.audit.row import EXIT_CODES, INTERNAL, UNREADABLE
from decay.audit.trend import TITLES, Jobs, Trend, findings, trend
from decay.judge.finding import Result
from decay.report.document_numbers import Json, json_number

MOST_ERRORS = 5
"""Unreadable logs that the summary names; the rows name all of them. [-]"""
MOST_WORST = 10
"""Jobs that the summary names as the worst. [-]"""
SEVERITY = (0, 3, 1, UNREADABLE, INTERNAL)
"""Exit codes from harmless to worst: pass, inconclusive, fail, unreadable, internal error."""


@dataclass(slots=True)
class Series:
    """Numbers of every hold, for the picture: each ``nan`` where it is unknown."""

    length: array[float] = field(default_factory=lambda: array("d"))  # length of the hold [s]
    # Steady rise, its ends, and the detection limit; an open end is ``inf`` [micron/min]
    rate: array[float] = field(default_factory=lambda: array("d"))
    low: array[float] = field(default_factory=lambda: array("d"))
    high: array[float] = field(default_factory=lambda: array("d"))
    limit: array[float] = field(default_factory=lambda: array("d"))
    is_leak: array[int] = field(default_factory=lambda: array("b"))  # 1 where the hold shows a leak [-]

    def add(self, record: Json) -> None:
        """Take in one hold."""
        is_fitted = record["proof"] is not None
        open_end = math.inf if is_fitted else math.nan
        self.length.append(_or(record["hold_length_s"], math.nan))
        self.rate.append(_or(record["leak_micron_per_min"], math.nan))
        self.low.append(_or(record["leak_low_micron_per_min"], math.nan))
        self.high.append(_or(record["leak_high_micron_per_min"], open_end))
        self.limit.append(_or(record["detection_limit_micron_per_min"], open_end))
        self.is_leak.append(record["proof"] == "leak")


WORST = ("path", "job", "group", "technician", "date", "result", "reason_code", "reason", "leak", "result_leak_seen",
         "result_leak_micron_per_min", "result_leak_low_micron_per_min", "result_leak_high_micron_per_min",
         "result_hold_min")
"""What the summary says of each of the worst jobs."""


def badness(record: Json) -> tuple[float, ...]:
    """Return how bad a row is, the worst lowest: its result, then a leak seen by its size, then one not ruled out."""
    rank = {Result.FAIL.value: 0.0, Result.INCONCLUSIVE.value: 1.0}.get(str(record["result"]), 2.0)
    seen = _or(record["result_leak_micron_per_min"], 0.0) if record["result_leak_seen"] else 0.0
    high = record["result_leak_high_micron_per_min"]
    # An open end is worse than any; a log without a hold tells nothing and comes last.
    open_end = math.inf if record["result_leak_seen"] is not None else 0.0
    return rank, -seen, -_or(high, open_end)


def deciding_row(records: list[Json]) -> Json:
    """Return the row of the hold that a log's result rests on; its first row where it has none."""
    return next((record for record in records if record["is_decisive"]), records[0])


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else float(value)


@dataclass(frozen=True, slots=True)
class GroupSummary:
    """One group of logs."""

    group: str  # its name
    # Logs, and how they ended [-]
    logs: int
    passes: int
    fails: int
    inconclusives: int
    unreadables: int
    # Holds, and those that show a leak [-]
    holds: int
    leaks: int
    median_hold: float  # median length of a hold [s]
    ordered_by: str  # ``"clock"`` where the jobs are in the order of the logs' clocks, else ``"path"``
    # Over the jobs in that order [s, micron]
    time_to_target: Trend | None
    lowest: Trend | None
    # The same job by job, for the picture, shape (logs,) [s, micron]
    times_to_target: FloatArray
    lowest_pressures: FloatArray

    def record(self) -> Json:
        """Return it as it stands in JSON."""
        return {
            "group": self.group,
            "logs": self.logs,
            "pass": self.passes,
            "fail": self.fails,
            "inconclusive": self.inconclusives,
            "unreadable": self.unreadables,
            "holds": self.holds,
            "holds_with_leak": self.leaks,
            "median_hold_s": json_number(self.median_hold),
            "ordered_by": self.ordered_by,
            "time_to_target_s": _trend(self.time_to_target),
            "lowest_micron": _trend(self.lowest),
        }


def _trend(found: Trend | None) -> Json | None:
    if found is None:
        return None
    return {"jobs": found.jobs, "early": json_number(found.early), "late": json_number(found.late),
            "chance": json_number(found.chance), "is_worse": found.is_worse}


@dataclass(frozen=True, slots=True)
class Summary:
    """The whole audit."""

    groups: tuple[GroupSummary, ...]  # in the order of their names
    findings: dict[str, int]  # holds, or groups, on which each code was found, most frequent first [-]
    # What the jobs of a group show together: place of its last log, code and text
    together: tuple[tuple[int, str, str], ...]
    # The first few logs that could not be read, each with the first line of its reason
    errors: tuple[tuple[str, str], ...]
    # The rows of the worst jobs, the worst first: those that fail before those that are inconclusive, the larger leak
    # before the smaller
    worst: tuple[Json, ...]
    series: Series  # numbers of every hold
    exit_code: int  # the worst of all logs [-]

    @property
    def by_need(self) -> tuple[GroupSummary, ...]:
        """The groups, that with the largest share of failed logs first, then of inconclusive and unreadable ones."""
        return tuple(sorted(self.groups, key=lambda group: (
            -group.fails / group.logs, -(group.inconclusives + group.unreadables) / group.logs, group.group)))

    @property
    def logs(self) -> int:
        """Number of logs."""
        return sum(group.logs for group in self.groups)

    def document(self) -> Json:
        """Return the summary as a JSON document."""
        return {
            "schema_version": 2,
            "logs": self.logs,
            "exit_code": self.exit_code,
            "groups": [group.record() for group in self.groups],
            "findings": [{"code": code, "title": row_titles()[code], "count": count}
                         for code, count in self.findings.items()],
            "trends": [{"code": code, "text": text} for _, code, text in self.together],
            "worst": [{name: record[name] for name in WORST} for record in self.worst],
            "unreadable": [{"path": path, "error": error} for path, error in self.errors],
        }


class _Group:
    """One group while it is being counted."""

    def __init__(self) -> None:
        self.codes: Counter[int] = Counter()
        self.holds = 0
        self.leaks = 0
        self.lengths = array("d")
        self.jobs = Jobs()


class Tally:
    """Counts an audit log by log."""

    def __init__(self) -> None:
        self._groups: dict[str, _Group] = {}
        self._findings: Counter[str] = Counter()
        self._errors: list[tuple[str, str]] = []
        self._worst: list[Json] = []
        self._series = Series()

    def add(self, place: int, group: str, records: list[Json], technician: str | None = None) -> None:
        """Take in the rows of one log; ``place`` is that of its file in the order of paths."""
        about = self._groups.setdefault(group, _Group())
        code = records[0]["exit_code"]
        about.codes[code] += 1
        if records[0]["error"] is not None:
            if len(self._errors) < MOST_ERRORS:
                self._errors.append((records[0]["path"], records[0]["error"].splitlines()[0]))
            return
        about.jobs.add(records[0], place)
        if code in (EXIT_CODES[Result.FAIL], EXIT_CODES[Result.INCONCLUSIVE]):
            self._worst.append({**deciding_row(records), "group": group, "technician": technician})
            if len(self._worst) > 2 * MOST_WORST:
                self._keep_worst()
        for record in records:
            # What an earlier run found on the whole group is found anew.
            self._findings.update({f["code"] for f in record["findings"]} - TITLES.keys())
            if record["hold"] is None:
                continue
            about.holds += 1
            about.leaks += record["proof"] == "leak"
            about.lengths.append(record["hold_length_s"])
            self._series.add(record)

    def _keep_worst(self) -> None:
        self._worst = sorted(self._worst, key=lambda record: (badness(record), record["path"]))[:MOST_WORST]

    def summary(self) -> Summary:
        """Return what was counted."""
        groups: list[GroupSummary] = []
        together: list[tuple[int, str, str]] = []
        for name in sorted(self._groups):
            about = self._groups[name]
            ordered_by, order = about.jobs.order
            index = np.asarray(order, dtype=np.int64)
            times = np.asarray(about.jobs.time_to_target)[index]
            lowest = np.asarray(about.jobs.lowest)[index]
            both = trend(times), trend(lowest)
            if len(index):
                last = about.jobs.place[int(index[-1])]
                together += [(last, code, text) for code, text in findings(name, *both)]
            groups.append(GroupSummary(
                group=name, logs=about.codes.total(), passes=about.codes[0], fails=about.codes[1],
                inconclusives=about.codes[3], unreadables=about.codes[UNREADABLE] + about.codes[INTERNAL],
                holds=about.holds, leaks=about.leaks,
                median_hold=float(np.median(about.lengths)) if about.lengths else math.nan,
                ordered_by=ordered_by, time_to_target=both[0], lowest=both[1], times_to_target=times,
                lowest_pressures=lowest,
            ))
        counted = self._findings + Counter(code for _, code, _ in together)
        ranked = dict(sorted(counted.items(), key=lambda item: (-item[1], item[0])))
        codes = {code for about in self._groups.values() for code in about.codes}
        worst = max(codes, key=SEVERITY.index, default=0)
        self._keep_worst()
        return Summary(tuple(groups), ranked, tuple(together), tuple(self._errors), tuple(self._worst), self._series,
                       worst)
