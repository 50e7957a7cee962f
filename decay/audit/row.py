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
    there is an end without a bound.

    Parameters
    ----------
    path, job : str
        The file, and its name without folder and endings.
    size_bytes, modified_us : int or None
        By which the file is known again.
    exit_code : int
        What the analysis of this log alone ends in.
    error : str or None
        Why the log could not be read.
    is_to_retry : bool
        Whether it may be readable another time: what stood in the way was not the file's content.
    told : str or None
        What the job list says of this log.
    date : str or None
        Day of the log, where it tells one.
    result, result_cause : str or None
        Verdict on the whole log, and the cause it rests on; all holds together where there are several.
    reason_code, reason : str or None
        The first reason of the result; a pass has no code.
    leak : str or None
        What is known of the leak, in words, as the summary of the log alone says it.
    result_leak_micron_per_min : float or None
        Steady rise that the result rests on, with its ends.
    result_leak_seen : bool or None
        Whether it counts as seen.
    result_detection_limit_micron_per_min : float or None
        Smallest leak that the same holds would have shown.
    result_odds_of_leak : float or None
        How likely a leak is, where the interval leaves one open; it grades and decides nothing.
    result_loss_low_g_per_year, result_loss_high_g_per_year : float or None
        The least and the most that such a leak would lose in a year, over both flow regimes.
    result_hold_min : float or None
        Length of the hold that the result rests on.
    gauge, unit : str or None
        Column that was read, and its unit.
    rows, rows_used : int or None
        Data rows of the file, and those that the analysis used.
    sampling_s : float or None
        Time between readings.
    log_started : str or None
        Date and time of the log's first row, as the file gives them.
    holds, hold : int or None
        Number of holds in the log, and which of them this is, from 1.
    is_decisive : bool or None
        Whether the log's verdict rests on this hold.
    hold_started : str or None
        Date and time at which the valve closed.
    hold_start_s, hold_end_s, hold_length_s : float or None
        The same since the first row of the log, the end, and the length.
    target_micron : float or None
        Pressure that the criterion asks for before isolation.
    target_reached : bool or None
        Whether the pull before the hold reached it.
    time_to_target_s : float or None
        From the start of that pull to its first two readings in a row at or below the target.
    lowest_micron : float or None
        Lowest pressure of that pull.
    isolated_at_micron, end_micron : float or None
        Pressure at the start and at the end of the hold.
    criterion, practice, practice_detail : str or None
        The criterion, "met", "not met" or "not answered", and what decided.
    proof : str or None
        "leak", "no leak seen" or "unresolved", for this hold by itself.
    cause : str or None
        What its rise is made of.
    allowed_micron_per_min : float or None
        The leak that matters.
    allowed : str or None
        "exceeded", "excluded", "not excluded" or "not comparable".
    leak_micron_per_min : float or None
        Steady rise, with its ends.
    leak_pa_m3_per_s, loss_laminar_g_per_year, loss_molecular_g_per_year : float or None
        The same as gas flow and as loss of refrigerant under both flow regimes, with their ends.
    outgassing_micron : float or None
        Rise of the hold that levels off, with its ends.
    decision_threshold_micron_per_min, detection_limit_micron_per_min : float or None
        Smallest rise that counts as seen, and smallest leak that shows in 95 % of such holds.
    detection_limit_laminar_g_per_year, detection_limit_molecular_g_per_year : float or None
        The detection limit as loss of refrigerant.
    findings : tuple of (str, str)
        Code and text of each finding of practice.
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
    findings: tuple[tuple[str, str], ...] = ()

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
