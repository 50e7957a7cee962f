"""Options in a help text: what most jobs need first, the rest under headings."""

from __future__ import annotations

import click

HEADINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Options that most jobs need", ("volume", "refrigerant", "charge", "ambient", "allow", "criterion", "hold",
                                     "hold_from", "in_detail", "as_json")),
    ("Rig, pump and gauge", ("rig_log", "rig_volume", "pump_speed", "pump", "ultimate", "hose", "hoses",
                             "gauge_accuracy", "gauge_noise", "gauge_step", "interval")),
    ("Several logs", ("same_job", "warmed", "overlay", "group", "job_list", "jobs", "shard", "shards", "fresh")),
    ("Tables, pictures and pages", ("out", "wide", "columns", "excel", "excel_comma", "plot", "no_plot", "force",
                                    "page", "report", "notes", "paper", "film")),
    ("Reading the log, where its content does not settle it",
     ("gauge", "unit", "time_column", "time_unit", "day_first", "over_range", "temperature_column", "encoding",
      "delimiter", "decimal", "sheet")),
    ("How it is said", ("units", "quiet", "verbose", "ascii_only", "color", "help")),
)
"""Heading, and the parameters that stand under it, in order."""
OTHERS = "Further options"
"""Heading of what stands in none of them."""


class UnderHeadings(click.Command):
    """A command whose help text puts its options under headings."""

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options, those that most jobs need first."""
        records = {"help" if "--help" in param.opts else param.name or "": record for param in self.get_params(ctx)
                   if isinstance(param, click.Option) and (record := param.get_help_record(ctx)) is not None}
        known = {name for _, names in HEADINGS for name in names}
        left = [record for name, record in records.items() if name not in known]
        for place, (heading, names) in enumerate(HEADINGS):
            found = [records[name] for name in names if name in records]
            if place == len(HEADINGS) - 1 and left:
                with formatter.section(OTHERS):
                    formatter.write_dl(left)
            if found:
                with formatter.section(heading):
                    formatter.write_dl(found)
