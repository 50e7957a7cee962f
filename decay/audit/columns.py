"""The columns of an audit's table: which come first, and what each one says."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Parameters
    ----------
    name : str
        As it stands in the first line of the table, and in each row of the JSON Lines file.
    meaning : str
        What it says, its unit where the name does not tell it.
    """

    name: str
    meaning: str


def _interval(name: str, unit: str, meaning: str) -> tuple[Column, ...]:
    return (Column(f"{name}_{unit}", meaning), Column(f"{name}_low_{unit}", "lower end of its 95 % interval"),
            Column(f"{name}_high_{unit}", "upper end of its 95 % interval; empty is open"))


FIRST: tuple[Column, ...] = (
    Column("job", "the file's name without folder and endings"),
    Column("group", "what --group makes of the path: a rig, a technician, a site"),
    Column("technician", "who did the job, by the job list"),
    Column("date", "day on which the log starts, where it tells one"),
    Column("result", "pass, fail or inconclusive; empty where the log cannot be read"),
    Column("reason", "the first reason of the result"),
    Column("leak", "what is known of the leak, in words"),
    *_interval("result_leak", "micron_per_min", "steady rise that the result rests on, all holds of the log together"),
    Column("result_leak_seen", "true where that rise counts as a leak that is seen"),
    Column("result_hold_min", "length of the hold that the result rests on [min]"),
    Column("path", "the file as it was named, with forward slashes"),
    Column("error", "why the file cannot be read"),
)
"""What a reader needs: the table has these, one row a log."""

OTHERS: tuple[Column, ...] = (
    Column("size_bytes", "size of the file"),
    Column("modified_us", "when it was last written, microseconds since 1970"),
    Column("exit_code", "what analyze would end in: 0 pass, 1 fail, 3 inconclusive, 4 unreadable, 70 internal error"),
    Column("is_to_retry", "true where the file may be readable another time"),
    Column("told", "what the job list says of this log"),
    Column("result_cause", "cause that the result rests on"),
    Column("reason_code", "code of the first reason; decay explain CODE"),
    Column("result_detection_limit_micron_per_min", "smallest leak that the same holds show in 95 % of cases"),
    Column("result_odds_of_leak", "odds of a leak where the hold leaves it open; they decide nothing"),
    Column("result_loss_low_g_per_year", "least refrigerant that such a leak loses, over both flow regimes"),
    Column("result_loss_high_g_per_year", "most refrigerant that such a leak loses, over both flow regimes"),
    Column("gauge", "column of the file that was read"),
    Column("unit", "its unit"),
    Column("rows", "data rows of the file"),
    Column("rows_used", "rows that the analysis used"),
    Column("sampling_s", "time between readings"),
    Column("log_started", "date and time of the first row, as the file gives them"),
    Column("holds", "holds in the log"),
    Column("hold", "which of them this row is, from 1"),
    Column("is_decisive", "true where the result rests on this hold"),
    Column("hold_started", "date and time at which the valve closed"),
    Column("hold_start_s", "the same since the first row"),
    Column("hold_end_s", "end of the hold since the first row"),
    Column("hold_length_s", "length of the hold"),
    Column("target_micron", "pressure that the criterion asks for before isolation"),
    Column("target_reached", "true where the pull before the hold reached it"),
    Column("time_to_target_s", "from the start of that pull to its first two readings in a row at the target"),
    Column("lowest_micron", "lowest pressure of that pull"),
    Column("isolated_at_micron", "pressure at the start of the hold"),
    Column("end_micron", "pressure at its end"),
    Column("criterion", "criterion of practice"),
    Column("practice", "met, not met or not answered"),
    Column("practice_detail", "what decided"),
    Column("proof", "leak, no leak seen or unresolved, for this hold by itself"),
    Column("cause", "what the rise of this hold is made of"),
    Column("allowed_micron_per_min", "leak that matters (--allow), as a rise"),
    Column("allowed", "exceeded, excluded, not excluded or not comparable"),
    *_interval("leak", "micron_per_min", "steady rise of this hold by itself"),
    *_interval("leak", "pa_m3_per_s", "the same as gas flow"),
    *_interval("loss_laminar", "g_per_year", "refrigerant that it loses in laminar flow"),
    *_interval("loss_molecular", "g_per_year", "refrigerant that it loses in molecular flow"),
    *_interval("outgassing", "micron", "part of the rise that levels off"),
    Column("decision_threshold_micron_per_min", "smallest rise that counts as seen in this hold"),
    Column("detection_limit_micron_per_min", "smallest leak that shows in 95 % of such holds"),
    Column("detection_limit_laminar_g_per_year", "the same as loss in laminar flow"),
    Column("detection_limit_molecular_g_per_year", "the same as loss in molecular flow"),
    Column("finding_codes", "codes of the findings of practice; decay explain CODE"),
    Column("finding_texts", "the findings in words"),
)
"""What --wide adds, with one row a hold."""

NARROW: tuple[str, ...] = tuple(column.name for column in FIRST)
WIDE: tuple[str, ...] = (*NARROW, *(column.name for column in OTHERS))


def dictionary() -> list[tuple[str, list[Column]]]:
    """Return what each column says, under two headings.

    Returns
    -------
    list of (str, list of Column)
        Heading and columns.
    """
    return [("In every table, one row a log", list(FIRST)),
            ("With --wide, one row a hold", list(OTHERS))]
