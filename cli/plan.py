"""`decay plan`: before the job, how long to pull and to hold, and what the customary hold would show."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, defaults, options, pictures

if TYPE_CHECKING:
    from decay.planning import Intent

EPILOG = """
\b
Further examples:
  decay plan --volume "6.5 L" --no-plot
  decay plan --tube "9.5 mm bore x 15 m" --part "receiver 1.2 L" --pump "6 cfm" --water "5 g" --no-plot

\b
Exit codes:
    0  planned
    2  usage: an option that makes no sense, or a file that cannot be written
   70  internal error, a fault of this program
"""


@click.command(name="plan", cls=defaults.CommandWithDefaults, epilog=EPILOG)
@options.job
@click.option("--tube", "tubes", multiple=True, metavar='"DIAMETER x WALL x LENGTH"',
              help='Instead of --volume: a tube of it, "3/8 in OD x 0.032 in wall x 25 ft" or "9.5 mm bore x 15 m"; '
                   'may be repeated.')
@click.option("--part", "parts", multiple=True, metavar='"NAME VOLUME"',
              help='Instead of --volume: a part of it, "receiver 1.2 L"; may be repeated.')
@click.option("--pump", type=options.Quantity("flow"), metavar="QUANTITY", help='Rated speed of the pump: "6 cfm".')
@click.option("--ultimate", type=options.Quantity("pressure"), metavar="QUANTITY",
              help='Lowest pressure that the pump reaches: "25 micron".')
@click.option("--hose", "hoses", multiple=True, metavar='"BORE x LENGTH"',
              help='A hose to the pump, "6 mm x 1.5 m"; repeat it for hoses side by side.')
@click.option("--target", type=options.Quantity("pressure"), metavar="QUANTITY",
              help='Pressure to reach: "300 micron".  [default: the criterion\'s]')
@click.option("--water", type=options.Quantity("mass"), metavar="QUANTITY", help='Free water in the system: "5 g".')
@click.option("--heating", type=options.Quantity("power"), metavar="QUANTITY", help='Heat that reaches it: "20 W".')
@click.option("--damp", type=options.Quantity("pressure"), metavar="QUANTITY",
              help="Rise that levels off in a damp system.  [default: 500 micron]")
@click.option("--damp-time", type=options.Quantity("duration"), metavar="QUANTITY",
              help="Its time constant.  [default: 10 min]")
@click.option("--gauge-noise", type=options.Quantity("pressure"), metavar="QUANTITY",
              help="Scatter (standard deviation) of the gauge's readings.  [default: 0.7 micron]")
@click.option("--gauge-step", type=options.Quantity("pressure"), metavar="QUANTITY",
              help="Smallest step that the gauge shows.  [default: 1 micron]")
@click.option("--interval", type=options.Quantity("duration"), metavar="QUANTITY",
              help="Time between readings.  [default: 2 s]")
@options.criterion
@pictures.of("plan.png")
@click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of the text.")
@options.units
@options.voice
def plan(
    plot: str | None, no_plot: bool, force: bool, as_json: bool, quiet: bool, verbose: bool,
    ascii_only: bool, **given: Any,
) -> None:
    """Plan a job before it begins: how long to pull and to hold, and what the customary hold would show.

    \b
    Example:
      decay plan --volume "6.5 L" --pump "6 cfm" --hose "6 mm x 1.5 m" --allow "2 micron/min" --ambient "23 degC"

    What you leave out is taken from the defaults below, and the plan says so. The picture goes to plan.png in the
    working directory, or the next free name.
    """
    pictures.check(plot, no_plot, as_json)
    target = None if no_plot else pictures.destination("plan", plot, force)
    from decay.planning import make_plan

    intent, assumed = _intent(given)
    console.remark("Planning ...", quiet)
    made = make_plan(intent, assumed)
    if as_json:
        from decay.report.document import dumps
        from decay.report.plan_report import plan_document

        console.answer(dumps(plan_document(made)))
    else:
        from decay.report.plan_report import plan_text

        console.answer(plan_text(made, verbose=verbose, **console.shape(ascii_only)))
    if target is not None:
        from decay.report.plot_plan import draw_plan

        pictures.write_picture(draw_plan(made), target, force=force, quiet=quiet)


def _intent(given: dict[str, Any]) -> tuple[Intent, tuple[str, ...]]:
    """Return what is going to be done, and what had to be assumed for it."""
    from dataclasses import replace

    from decay import DecayError, load_criterion
    from decay.planning import intent_of, parse_hose, volume_from_parts

    tubes, parts = given.pop("tubes"), given.pop("parts")
    if (tubes or parts) and given["volume"] is not None:
        raise click.UsageError("--volume and --tube/--part contradict each other: state the volume in one way")
    system, criterion = options.system_of(given), load_criterion(given.pop("criterion"))
    try:
        if tubes or parts:
            system = replace(system, volume=volume_from_parts(tubes, parts), volume_origin="from parts")
        return intent_of(system, criterion, hoses=[parse_hose(text) for text in given.pop("hoses")], **given)
    except DecayError as problem:
        raise click.UsageError(str(problem)) from problem
