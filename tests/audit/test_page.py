"""The page of an audit, in a real browser where there is one: it sorts, filters and prints, and names stay text."""

from __future__ import annotations

import csv
import html
import json
import re
import shutil
import subprocess
from pathlib import Path
from urllib.parse import unquote

import numpy as np
import pytest
from click.testing import CliRunner

from decay.audit.drawings import jobs_drawing
from decay.audit.page import link
from decay_cli.main import decay
from tests.audit.logs import readings, write

BROWSER = next((found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))),
               None)
FLAGS = ("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
         "--disable-background-networking", "--disable-component-update", "--enable-logging=stderr")
HOSTILE = ("<img src=x onerror=alert(1)>", "javascript:alert(2)", "a&b\"'<script>", "turn\u202eround")


@pytest.fixture(scope="module")
def audited(tmp_path_factory):
    """Return the folder of an audit with its page: three rigs, hostile names, a heading that is a tag."""
    folder = tmp_path_factory.mktemp("audit")
    logs = folder / "logs"
    for number in range(9):
        write(logs / f"rig {number % 3}" / f"{number:02d}.csv", *readings(leak=20.0 * (number % 2), seed=number),
              started=f"2026-03-{number + 1:02d}T08:00:00")
    for number, name in enumerate(HOSTILE):
        write(logs / "hostile" / f"{name}.csv", *readings(leak=30.0 + number, seed=number))
    bad = "time,<b onclick=alert(3)>pressure [micron]</b>\n1,x\n"
    (logs / "hostile" / "heading.csv").write_text(bad, encoding="utf-8")
    lines = ["log,technician,volume", "rig 0/*,Ann,3 L", "rig 1/*,<i>Ben</i>,4 L", "gone/*,Cleo,"]
    (logs / "decay-jobs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    out = str(folder / "audit")
    done = CliRunner().invoke(decay, ["audit", str(logs), "--out", out, "--no-plot", "--jobs", "1", "--report",
                                      f"{out}.html", "--criterion", "field-line"])
    assert done.exit_code == 4, done.output
    (folder / "said.txt").write_text(done.stdout, encoding="utf-8")
    (folder / "remarks.txt").write_text(done.stderr, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def page(audited):
    return (audited / "audit.html").read_text(encoding="utf-8")


def rows(page):
    """Return the cells of the table of all jobs, as text; those that are hidden left out."""
    table = re.search(r'<table id="jobs">.*?</table>', page, re.DOTALL)[0]
    found = []
    for row in re.findall(r"<tr([^>]*)>(<td.*?)</tr>", table, re.DOTALL):
        if "hidden" not in row[0]:
            cells = re.findall(r"<td[^>]*>(.*?)</td>", row[1], re.DOTALL)
            found.append([html.unescape(re.sub(r"<[^>]+>", "", cell)) for cell in cells])
    return found


def test_the_page_asks_for_nothing_from_elsewhere(page):
    assert "default-src 'none'" in page
    assert not re.findall(r'(?:src|href)="(?!\./)[^"]*"', page)
    assert "@import" not in page
    assert "url(" not in page
    assert not re.search(r"https?://", page)


def test_names_and_headings_stay_text(page):
    assert page.count("<script>") == 1
    assert not re.search(r"<(img|i|b) [^>]*\bon\w+=", page)
    assert "<i>Ben" not in page
    assert "\u202e" not in page
    jobs = {row[0] for row in rows(page)}
    assert {name for name in HOSTILE if "\u202e" not in name} <= jobs


@pytest.mark.parametrize("name", [*HOSTILE, "a b/c#d?e.csv", "..%2f"])
def test_a_link_is_a_relative_address_and_leads_to_the_file(name, tmp_path):
    made = link(tmp_path / "out", str(tmp_path / "logs" / name))
    assert made.startswith("./../logs/")
    assert not set(made) & set("<>\"'#?: ")
    assert unquote(made) == f"./../logs/{name}"


def test_text_table_and_page_agree_in_every_number(audited, page):
    records = [json.loads(line) for line in (audited / "audit.jsonl").read_text(encoding="ascii").splitlines()]
    logs = [record for record in records if record["record"] == "hold" and record["hold"] in (None, 1)]
    said = (audited / "said.txt").read_text(encoding="utf-8")
    counts = {kind: sum(record["result"] == kind for record in logs) for kind in ("pass", "inconclusive", "fail")}
    told = ", ".join(f"{n} {kind}" for kind, n in {**counts, "unreadable": 1}.items())
    assert f"<h1>{len(logs)} logs: {told}</h1>" in page
    total = re.search(r"^all +(\d+) +(\d+) +(\d+) +(\d+) +(\d+)", said, re.MULTILINE)
    assert [int(x) for x in total.groups()] == [len(logs), counts["pass"], counts["fail"], counts["inconclusive"], 1]
    with open(audited / "audit.csv", encoding="utf-8", newline="") as table:
        cells = {line["job"].lstrip("'"): line for line in csv.DictReader(table)}
    assert len(cells) == len(logs)
    by_job = {row[0]: row for row in rows(page)}
    flat = " ".join(said.split())
    for record in logs:
        if record["error"] is not None or "\u202e" in record["job"]:
            continue
        row = by_job[record["job"]]
        assert row[4] == record["result"]
        assert row[5] == record["reason"]
        assert row[6] == record["leak"]
        assert cells[record["job"]]["leak"] == record["leak"]
        assert cells[record["job"]]["reason"] == record["reason"]
        if record["result"] == "fail":
            assert f"FAIL, {record['reason']}." in flat
            assert (f"Leak: {record['leak']}." in flat) == (record["leak"] not in record["reason"])
            assert f"Leak: {html.escape(record['leak'])}</p>" in page


def test_the_job_list_is_used_and_what_it_misses_is_said(audited, page):
    remarks = (audited / "remarks.txt").read_text(encoding="utf-8")
    assert "about 6 of 14 logs" in remarks
    assert "gone/*" in remarks
    assert "Not in the job list:" in remarks
    assert "logs/hostile/heading.csv" in remarks
    who = {row[1]: row[2] for row in rows(page)}
    assert (who["rig 0"], who["rig 1"], who["rig 2"]) == ("Ann", "<i>Ben</i>", "")


def test_the_worst_are_drawn_and_the_unreadable_named(page):
    assert page.count('<div class="worst">') == 8
    assert page.count('<svg role="img"') >= 8
    assert "Unreadable files" in page


def test_no_line_joins_jobs_that_do_not_follow_each_other():
    values = np.array([1.0, 2.0, np.nan, 3.0, 4.0, np.nan, 5.0])
    drawn = jobs_drawing(values, "x", is_in_order=True)
    path = re.search(r'<path d="(M[^"]*L[^"]*)" fill="none" stroke="#777"/>', drawn)
    assert path[1].count("M") == 2
    assert path[1].count("L") == 2
    assert jobs_drawing(values, "x", is_in_order=False).count("<path") == 1  # the axes alone


def browse(folder, page, *arguments, script=""):
    """Run the browser on a page, which does what ``script`` says once it stands, and return its output."""
    path = folder / "tried.html"
    path.write_text(page.replace("</body>", f"<script>{script}</script></body>"), encoding="utf-8")
    done = subprocess.run([BROWSER, *FLAGS, f"--user-data-dir={folder / 'profile'}", *arguments, path.as_uri()],
                          capture_output=True, text=True, timeout=120, check=False, cwd=folder)
    said = [line for line in done.stderr.splitlines() if ":CONSOLE" in line]
    assert not said, said
    return done.stdout


pytestmark_browser = pytest.mark.skipif(BROWSER is None, reason="no Chromium here")


SORT = 'document.querySelectorAll("#jobs th button")[6].click();'
FILTERS = {
    'f[0].value = "=Ann";': {"00", "03", "06"}, 'f[2].value = "=unreadable";': {"heading"},
    'f[3].value = "2026-03-08";': {"07", "08"}, 'f[4].value = "2026-03-02";': {"00", "01"},
    'f[5].value = "RIG 2";': {"02", "05", "08"},
}  # fmt: skip


@pytest.fixture(scope="module")
def seen(page, tmp_path_factory):
    """Return the page as a browser has it untouched, sorted once and twice, and by each filter: one start for all."""
    steps = ["", SORT, SORT, *(f"""for (const one of f) one.value = ""; {filter}
        for (const one of f) one.dispatchEvent(new Event("input"));""" for filter in FILTERS)]
    script = """const f = document.querySelectorAll(".filters [data-column]"), pages = [];""" + "".join(
        f"{{ {step} pages.push(document.documentElement.outerHTML); }}\n" for step in steps)
    told = "document.title = JSON.stringify(pages.map(encodeURIComponent));"
    said = browse(tmp_path_factory.mktemp("browser"), page, "--dump-dom", script=script + told)
    return [unquote(text) for text in json.loads(html.unescape(re.search(r"<title>(.*?)</title>", said)[1]))]


@pytestmark_browser
def test_a_browser_sorts_both_ways_and_counts(page, seen):
    once, twice = seen[1:3]

    def leaks(said):
        return [float(x) for x in re.findall(r'<td data-value="([\d.e+-]+)">', said)]

    assert len(rows(once)) == len(rows(twice)) == len(rows(page)) == 14
    assert rows(once)[-1][6] == rows(twice)[-1][6] == ""  # what is unknown stands last
    assert len(leaks(once)) == 13
    assert leaks(once) == sorted(leaks(once)) != leaks(page)
    assert leaks(twice) == sorted(leaks(once), reverse=True)


@pytestmark_browser
def test_a_browser_filters(seen):
    for said, kept in zip(seen[3:], FILTERS.values(), strict=True):
        assert {row[0] for row in rows(said)} == kept
        assert f"{len(kept)} of 14 jobs" in said


@pytestmark_browser
def test_a_browser_runs_nothing_that_a_name_says(seen):
    assert len(seen) == 3 + len(FILTERS)  # a script of the page's own runs
    assert not any(re.search(r"<img|<i>Ben", said) for said in seen)


@pytestmark_browser
def test_a_browser_prints(page, tmp_path):
    browse(tmp_path, page, "--print-to-pdf=page.pdf", "--no-pdf-header-footer")
    assert Path(tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")
