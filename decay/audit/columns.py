"""The columns of an audit's table: which come first, and what each one says."""

from __future__ import annotations

from dataclasses import dataclass


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
