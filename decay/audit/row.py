"""The row of a table that an audit keeps of each hold, in the units that its column names say."""

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
    there is an end without a bound. What each field says stands in `decay.audit.columns`, for the table's readers too.
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
