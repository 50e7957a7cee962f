"""The row that an audit keeps of each hold, and the table's columns: which come first, and what each one says."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields

from decay.audit.collect import Target, job_name
from decay.judge.finding import Result
from decay.report.document_numbers import Json

EXIT_CODES = {Result.PASS: 0, Result.FAIL: 1, Result.INCONCLUSIVE: 3}
"""The exit code that analysing one log alone would end in."""
UNREADABLE = 4
INTERNAL = 70


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One hold of one log; or a log without a hold, or one that could not be read, most of its fields ``None``.

    A field whose name ends in ``_low`` or ``_high`` is an end of the 95 % interval of the field before it; ``None``
    there is an end without a bound. What each field says stands in `decay.audit.row`, for the table's readers too.
    """

    path: str
    job: str
    size_bytes: int | None
    modified_us: int | None
    exit_code: int
    error: str | None = None
    is_to_retry: bool = False
    told: str | None = None
    date: str | None = None
    result: str | None = None
    result_cause: str | None = None
    reason_code: str | None = None
    reason: str | None = None
    leak: str | None = None
    result_leak_micron_per_min: float | None = None
    result_leak_low_micron_per_min: float | None = None
    result_leak_high_micron_per_min: float | None = None
    result_leak_seen: bool | None = None
    result_detection_limit_micron_per_min: float | None = None
    result_odds_of_leak: float | None = None
    result_loss_low_g_per_year: float | None = None
    result_loss_high_g_per_year: float | None = None
    result_hold_min: float | None = None
    gauge: str | None = None
    unit: str | None = None
    rows: int | None = None
    rows_used: int | None = None
    sampling_s: float | None = None
    log_started: str | None = None
    holds: int | None = None
    hold: int | None = None
    is_decisive: bool | None = None
    hold_started: str | None = None
    hold_start_s: float | None = None
    hold_end_s: float | None = None
    hold_length_s: float | None = None
    target_micron: float | None = None
    target_reached: bool | None = None
    time_to_target_s: float | None = None
    lowest_micron: float | None = None
    isolated_at_micron: float | None = None
    end_micron: float | None = None
    criterion: str | None = None
    practice: str | None = None
    practice_detail: str | None = None
    proof: str | None = None
    cause: str | None = None
    allowed_micron_per_min: float | None = None
    allowed: str | None = None
    leak_micron_per_min: float | None = None
    leak_low_micron_per_min: float | None = None
    leak_high_micron_per_min: float | None = None
    leak_pa_m3_per_s: float | None = None
    leak_low_pa_m3_per_s: float | None = None
    leak_high_pa_m3_per_s: float | None = None
    loss_laminar_g_per_year: float | None = None
    loss_laminar_low_g_per_year: float | None = None
    loss_laminar_high_g_per_year: float | None = None
    loss_molecular_g_per_year: float | None = None
    loss_molecular_low_g_per_year: float | None = None
    loss_molecular_high_g_per_year: float | None = None
    outgassing_micron: float | None = None
    outgassing_low_micron: float | None = None
    outgassing_high_micron: float | None = None
    decision_threshold_micron_per_min: float | None = None
    detection_limit_micron_per_min: float | None = None
    detection_limit_laminar_g_per_year: float | None = None
    detection_limit_molecular_g_per_year: float | None = None
    findings: tuple[tuple[str, str], ...] = ()  # code and text of each finding of practice

    def record(self) -> Json:
        """Return the row as it stands in a line of JSON."""
        made = asdict(self)
        made["findings"] = [{"code": code, "text": text} for code, text in self.findings]
        return made


COLUMNS: tuple[str, ...] = tuple(field.name for field in fields(Row))
"""Names of a row's fields, in order."""


def told_text(target: Target) -> str | None:
    """Return what the job list says of a log, as it stands in its row."""
    return "; ".join(f"{name} {text}" for name, text in target.told) or None


def failed(target: Target, code: int, error: str, *, is_to_retry: bool = False) -> Row:
    """Return the row of a log that could not be read.

    Parameters
    ----------
    target : Target
        The file.
    code : int
        Exit code that this log alone would end in. [-]
    error : str
        What went wrong.
    is_to_retry : bool
        Whether it may be readable another time.
    """
    return Row(path=target.path, job=job_name(target.path), size_bytes=target.size, modified_us=target.modified,
               exit_code=code, error=error, is_to_retry=is_to_retry, told=told_text(target))


@dataclass(frozen=True, slots=True)
class TableColumn:
    """One column."""

    name: str  # as it stands in the first line of the table, and in each row of the JSON Lines file
    meaning: str  # what it says, its unit where the name does not tell it


def _interval(name: str, unit: str, meaning: str) -> tuple[TableColumn, ...]:
    return (TableColumn(f"{name}_{unit}", meaning), TableColumn(f"{name}_low_{unit}", "lower end of its 95 % interval"),
            TableColumn(f"{name}_high_{unit}", "upper end of its 95 % interval; empty is open"))


FIRST: tuple[TableColumn, ...] = (
    TableColumn("job", "the file's name without folder and endings"),
    TableColumn("group", "what --group makes of the path: a rig, a technician, a site"),
    TableColumn("technician", "who did the job, by the job list"),
    TableColumn("date", "day on which the log starts, where it has a date"),
    TableColumn("result", "pass, fail or inconclusive; empty where the log cannot be read"),
    TableColumn("reason", "the first reason of the result"),
    TableColumn("leak", "what is known of the leak, in words"),
    *_interval("result_leak", "micron_per_min", "steady rise that the result rests on, all holds of the log together"),
    TableColumn("result_leak_seen", "true where that rise counts as a leak that is seen"),
    TableColumn("result_hold_min", "length of the hold that the result rests on [min]"),
    TableColumn("path", "the file as it was named, with forward slashes"),
    TableColumn("error", "why the file cannot be read"),
)
"""What a reader needs: the table has these, one row a log."""

OTHERS: tuple[TableColumn, ...] = (
    TableColumn("size_bytes", "size of the file"),
    TableColumn("modified_us", "when it was last written, microseconds since 1970"),
    TableColumn("exit_code",
                "what analyze would end in: 0 pass, 1 fail, 3 inconclusive, 4 unreadable, 70 internal error"),
    TableColumn("is_to_retry", "true where the file may be readable another time"),
    TableColumn("told", "what the job list says of this log"),
    TableColumn("result_cause", "cause that the result rests on"),
    TableColumn("reason_code", "code of the first reason; decay explain CODE"),
    TableColumn("result_detection_limit_micron_per_min", "smallest leak that the same holds show in 95 % of cases"),
    TableColumn("result_odds_of_leak", "odds of a leak where the hold leaves it open; they decide nothing"),
    TableColumn("result_loss_low_g_per_year", "least refrigerant that such a leak loses, over both flow regimes"),
    TableColumn("result_loss_high_g_per_year", "most refrigerant that such a leak loses, over both flow regimes"),
    TableColumn("gauge", "column of the file that was read"),
    TableColumn("unit", "its unit"),
    TableColumn("rows", "data rows of the file"),
    TableColumn("rows_used", "rows that the analysis used"),
    TableColumn("sampling_s", "time between readings"),
    TableColumn("log_started", "date and time of the first row, as the file gives them"),
    TableColumn("holds", "holds in the log"),
    TableColumn("hold", "which of them this row is, from 1"),
    TableColumn("is_decisive", "true where the result rests on this hold"),
    TableColumn("hold_started", "date and time at which the valve closed"),
    TableColumn("hold_start_s", "the same since the first row"),
    TableColumn("hold_end_s", "end of the hold since the first row"),
    TableColumn("hold_length_s", "length of the hold"),
    TableColumn("target_micron", "pressure that the criterion asks for before isolation"),
    TableColumn("target_reached", "true where the pull before the hold reached it"),
    TableColumn("time_to_target_s", "from the start of that pull to its first two readings in a row at the target"),
    TableColumn("lowest_micron", "lowest pressure of that pull"),
    TableColumn("isolated_at_micron", "pressure at the start of the hold"),
    TableColumn("end_micron", "pressure at its end"),
    TableColumn("criterion", "criterion of practice"),
    TableColumn("practice", "met, not met or not answered"),
    TableColumn("practice_detail", "what decided"),
    TableColumn("proof", "leak, no leak seen or unresolved, for this hold by itself"),
    TableColumn("cause", "what the rise of this hold is made of"),
    TableColumn("allowed_micron_per_min", "leak that matters (--allow), as a rise"),
    TableColumn("allowed", "exceeded, excluded, not excluded or not comparable"),
    *_interval("leak", "micron_per_min", "steady rise of this hold by itself"),
    *_interval("leak", "pa_m3_per_s", "the same as gas flow"),
    *_interval("loss_laminar", "g_per_year", "refrigerant that it loses in laminar flow"),
    *_interval("loss_molecular", "g_per_year", "refrigerant that it loses in molecular flow"),
    *_interval("outgassing", "micron", "part of the rise that levels off"),
    TableColumn("decision_threshold_micron_per_min", "smallest rise that counts as seen in this hold"),
    TableColumn("detection_limit_micron_per_min", "smallest leak that shows in 95 % of such holds"),
    TableColumn("detection_limit_laminar_g_per_year", "the same as loss in laminar flow"),
    TableColumn("detection_limit_molecular_g_per_year", "the same as loss in molecular flow"),
    TableColumn("finding_codes", "codes of the findings of practice; decay explain CODE"),
    TableColumn("finding_texts", "the findings in words"),
)
"""What --wide adds, with one row a hold."""

NARROW: tuple[str, ...] = tuple(column.name for column in FIRST)
WIDE: tuple[str, ...] = (*NARROW, *(column.name for column in OTHERS))


def dictionary() -> list[tuple[str, list[TableColumn]]]:
    """Return what each column says, under two headings."""
    return [("In every table, one row a log", list(FIRST)),
            ("With --wide, one row a hold", list(OTHERS))]
