"""An audit as one page for a browser and for paper: it needs no network, and what a file is called stays text."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Iterator
from html import escape
from importlib.resources import files
from pathlib import Path
from urllib.parse import quote

from decay import wording
from decay.audit.drawings import bar, hold_drawing, jobs_drawing
from decay.audit.manual import row_titles
from decay.audit.summary import GroupSummary, Summary, deciding_row
from decay.audit.trend import Trend
from decay.errors import DecayError
from decay.files import drafted
from decay.log.pressure_log import PressureLog
from decay.quantities import MICRON
from decay.report.document_numbers import Json
from decay.wording import duration, number
from decay.wording.lines import clean

# The browser itself keeps the page from asking for anything: no network, no script but its own.
POLICY = ("default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; base-uri 'none'; "
          "form-action 'none'")
KINDS = ("pass", "inconclusive", "fail", "unreadable")
HEADS = (("job", ""), ("group", ""), ("technician", ""), ("date", ""), ("result", ""), ("reason", ""),
         ("leak", "by-number"), ("hold [min]", "number"))
ALL = '<label>{}<select data-column="{}"><option value="">all</option></select></label>'

Reader = Callable[[str], PressureLog]


def write_page(path: Path, lines: Path, summary: Summary, reader: Reader, *, replace: bool) -> Path:
    """Write the page of an audit, whole or not at all.

    Parameters
    ----------
    path : Path
        The page.
    lines : Path
        The finished JSON Lines file, whose rows it shows.
    summary : Summary
        What the audit shows.
    reader : callable
        From a path to its log, for the drawings of the worst jobs.
    replace : bool
        Whether a file that is there is replaced.

    Raises
    ------
    OSError
        If it cannot be written, or exists and ``replace`` is false.
    """
    with drafted(path, replace=replace) as draft, draft.open("x", encoding="utf-8") as page:
        for part in _page(path.parent, _logs(lines), summary, reader):
            page.write(part)
    return path


def _logs(lines: Path) -> Iterator[Json]:
    """Yield the deciding row of each log."""
    records: list[Json] = []
    with lines.open("rb") as file:
        for line in file:
            record = json.loads(line)
            if record["record"] != "hold":
                continue
            if records and records[0]["path"] != record["path"]:
                yield deciding_row(records)
                records = []
            records.append(record)
    if records:
        yield deciding_row(records)


def _page(folder: Path, logs: Iterable[Json], summary: Summary, reader: Reader) -> Iterator[str]:
    parts = files("decay.audit") / "page_parts"
    yield ('<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
           f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
           '<meta name="viewport" content="width=device-width, initial-scale=1"><title>Audit of vacuum holds</title>'
           f"<style>\n{(parts / 'page.css').read_text(encoding='utf-8')}</style></head><body>\n")
    yield from _head(summary)
    yield from _groups(summary)
    yield from _worst(folder, summary, reader)
    yield from _trends(summary)
    yield from _findings(summary)
    unreadable: list[Json] = []
    yield from _table(folder, logs, unreadable)
    yield from _unreadable(unreadable)
    yield f"<script>\n{(parts / 'page.js').read_text(encoding='utf-8')}</script></body></html>\n"


def _text(value: object) -> str:
    """Return text as it may stand in the page: nothing in it can be a tag, and nothing can turn a line round."""
    return "" if value is None else escape(clean(str(value)))


def _head(summary: Summary) -> Iterator[str]:
    counts = {kind: sum(_count(group, kind) for group in summary.groups) for kind in KINDS}
    told = ", ".join(f"{counts[kind]} {kind}" for kind in KINDS)
    holds = sum(group.holds for group in summary.groups)
    yield (f"<h1>{summary.logs} logs: {told}</h1>\n"
           f'<p class="small">{holds} holds. A hold never says where a system leaks, and never tests it under its '
           f"working pressure. Leaks are rises in {wording.rate_unit()} with their 95 % interval.</p>\n")


def _count(group: GroupSummary, kind: str) -> int:
    return {"pass": group.passes, "inconclusive": group.inconclusives, "fail": group.fails,
            "unreadable": group.unreadables}[kind]


def _groups(summary: Summary) -> Iterator[str]:
    yield "<h2>Results by group</h2>\n"
    key = "".join(f'<i class="{kind}"></i>{kind}' for kind in KINDS)
    yield f'<p class="key">{key}</p>\n<table><thead><tr><th>group</th><th class="number">logs</th><th></th>'
    yield '<th class="number">holds</th><th class="number">with leak</th><th class="number">median hold</th>'
    yield "</tr></thead><tbody>\n"
    for group in summary.by_need:
        held = "" if group.median_hold != group.median_hold else duration(group.median_hold)
        yield (f'<tr><td>{_text(group.group)}</td><td class="number">{group.logs}</td>'
               f"<td>{bar([(kind, _count(group, kind)) for kind in KINDS])}</td>"
               f'<td class="number">{group.holds}</td><td class="number">{group.leaks}</td>'
               f'<td class="number">{held}</td></tr>\n')
    yield "</tbody></table>\n"


def link(folder: Path, path: str) -> str:
    """Return the address of a log as seen from the page's folder; nothing in its name can make it another kind."""
    try:
        relative = os.path.relpath(path, folder)
    except ValueError:  # another drive
        return Path(path).absolute().as_uri()
    return "./" + quote(Path(relative).as_posix())


def _linked(folder: Path, record: Json) -> str:
    return f'<a href="{link(folder, record["path"])}">{_text(record["job"])}</a>'


def _worst(folder: Path, summary: Summary, reader: Reader) -> Iterator[str]:
    if not summary.worst:
        return
    yield "<h2>The worst jobs</h2>\n"
    for record in summary.worst:
        who = ", ".join(_text(record[name]) for name in ("group", "technician", "date") if record[name])
        result = _text(record["result"])
        yield (f'<div class="worst"><div>{_drawing(record, reader)}</div><div><h3>{_linked(folder, record)} '
               f'<span class="result {result}">{result}</span></h3><p class="small">{who}</p>'
               f'<p>{_text(record["reason"])}</p><p>Leak: {_text(record["leak"])}</p></div></div>\n')


def _drawing(record: Json, reader: Reader) -> str:
    if record["hold_start_s"] is None:
        return ""
    try:
        return hold_drawing(reader(record["path"]), record["hold_start_s"], record["hold_end_s"])
    except DecayError:  # gone or changed since it was judged
        return ""


def _trends(summary: Summary) -> Iterator[str]:
    shown = [group for group in summary.by_need if group.time_to_target is not None or group.lowest is not None]
    if not shown:
        return
    yield ('<h2>Over time, by group</h2>\n<p class="small">Groups of eight jobs and more. Worse is a rise by more than '
           "a quarter from the first third of the jobs to the last, and by more than chance (Mann and Kendall, "
           'one-sided, below 0.01).</p>\n<div class="trends">\n')
    scale = MICRON / wording.size()
    for group in shown:
        order = group.ordered_by == "clock"
        lowest = group.lowest_pressures * scale, group.lowest, f"lowest pressure, {wording.unit()}"
        for values, found, name in ((group.times_to_target / 60.0, group.time_to_target, "min to the target"), lowest):
            if found is not None:
                drawing = jobs_drawing(values, name, is_in_order=order)
                yield (f"<figure>{drawing}<figcaption><b>{_text(group.group)}</b>: {_trend_in_words(found, name)}"
                       "</figcaption></figure>\n")
    yield "</div>\n"
    if summary.together:
        yield "<ul>" + "".join(f"<li>{_text(text)} [{code}]</li>" for _, code, text in summary.together) + "</ul>\n"


def _trend_in_words(found: Trend, name: str) -> str:
    scale = 60.0 if name.startswith("min") else wording.size() / MICRON
    worse = "worse" if found.is_worse else "not worse"
    return (f"{name}: {number(found.early / scale)} in the first third of {found.jobs} jobs, "
            f"{number(found.late / scale)} in the last; chance {number(found.chance, 1)}: {worse}")


def _findings(summary: Summary) -> Iterator[str]:
    if not summary.findings:
        return
    known = row_titles()
    yield '<h2>Findings of practice</h2>\n<table><thead><tr><th class="number">holds or groups</th><th>finding</th>'
    yield "<th>code</th></tr></thead><tbody>\n"
    for code, count in summary.findings.items():
        yield f'<tr><td class="number">{count}</td><td>{_text(known[code])}</td><td>{code}</td></tr>\n'
    yield '</tbody></table>\n<p class="small">decay explain CODE says what each looks for and when it is wrong.</p>\n'


def _table(folder: Path, logs: Iterable[Json], unreadable: list[Json]) -> Iterator[str]:
    yield '<h2>All jobs</h2>\n<div class="filters">'
    yield ALL.format("technician", 2) + ALL.format("group", 1) + ALL.format("result", 4)
    yield '<label>from<input type="date" data-column="3"></label>'
    yield '<label>to<input type="date" data-column="3" data-end="1"></label>'
    yield '<label>anywhere<input type="search" data-column="all"></label><span id="count"></span></div>\n'
    heads = "".join(f'<th scope="col" class="{kind}"><button type="button">{name}</button></th>'
                    for name, kind in HEADS)
    yield f'<table id="jobs"><thead><tr>{heads}</tr></thead><tbody>\n'
    for record in logs:
        if record["error"] is not None:
            unreadable.append({"path": record["path"], "error": record["error"]})
        yield _row(folder, record)
    yield "</tbody></table>\n"


def _row(folder: Path, record: Json) -> str:
    result = "unreadable" if record["error"] is not None else record["result"]
    reason = record["error"].splitlines()[0] if record["error"] is not None else record["reason"]
    held = record["result_hold_min"]
    minutes, by = ("", "") if held is None else (number(held), str(held))
    return (f"<tr><td>{_linked(folder, record)}</td><td>{_text(record['group'])}</td>"
            f'<td>{_text(record["technician"])}</td><td class="date">{_text(record["date"])}</td>'
            f'<td class="result {result}">{result}</td><td>{_text(reason)}</td>{_leak_cell(record)}'
            f'<td class="number" data-value="{by}">{minutes}</td></tr>\n')


def _leak_cell(record: Json) -> str:
    """Return the cell of the leak, sorted by a leak that is seen, before it by one that is not ruled out."""
    value, high = record["result_leak_micron_per_min"], record["result_leak_high_micron_per_min"]
    seen = record["result_leak_seen"]
    if seen is None:
        return f'<td data-value="">{_text(record["leak"])}</td>'
    by = value if seen else -1.0 / max(high, 1e-9) if high is not None else 0.0
    return f'<td data-value="{by}">{_text(record["leak"])}</td>'


def _unreadable(unreadable: list[Json]) -> Iterator[str]:
    if not unreadable:
        return
    yield "<h2>Unreadable files</h2>\n<ul>\n"
    for record in unreadable:
        yield f"<li>{_text(' '.join(record['error'].split()))}</li>\n"
    yield "</ul>\n"
