"""`decay volume`: how large the isolated volume is, from parts, by gas expansion, or bounded by a logged pull."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from decay_cli import console, defaults, options

if TYPE_CHECKING:
    from decay import Interval
    from decay.impact.known_volume import KnownVolume

EPILOG = """
\b
Further examples, from the project's folder:
  decay volume --vessel "1 L +- 1 %" --vessel-pressure "2 bar" --after "0.5 bar" --no-rig
  decay volume --pump "6 cfm" --log sample_logs/leaking_slowly.csv

\b
Exit codes:
    0  answered
    2  usage: an option that makes no sense
    4  unreadable log
   70  internal error, a fault of this program
"""
WAYS = (
    'parts, decay volume --tube "9.5 mm bore x 15 m" --part "receiver 1.2 L"; gas expansion, decay volume --vessel '
    '"1 L" --vessel-pressure "2 bar" --after "0.5 bar"; or the bound of a pull, decay volume --pump "6 cfm" --log FILE'
)


@click.command(name="volume", cls=defaults.Saying, epilog=EPILOG)
@click.option("--tube", "tubes", multiple=True, metavar='"DIAMETER x WALL x LENGTH"',
              help='A tube by its outside diameter, "3/8 in OD x 0.032 in wall x 25 ft"; without the wall copper by '
                   'ASTM B280; or by its bore, "9.5 mm bore x 15 m". May be repeated.')
@click.option("--part", "parts", multiple=True, metavar='"NAME VOLUME"',
              help='A part, "receiver 1.2 L" or "coil 0.8 L +- 20 %"; may be repeated.')
@click.option("--spread", type=options.Quantity("fraction"), metavar="QUANTITY", default="10 %", show_default=True,
              help="How well a tube or part that states no uncertainty is known.")
@click.option("--rig-hose", "rig_hoses", multiple=True, metavar='"BORE x LENGTH"',
              help='A hose between closed valve and system, "6 mm bore x 1.5 m"; may be repeated.')
@click.option("--rig", type=options.Quantity("volume"), metavar="QUANTITY",
              help='Gauge tree and whatever else the hold includes: "0.3 L".')
@click.option("--no-rig", is_flag=True, help="The closed valve sits at the system: there is no rig to count.")
@click.option("--vessel", type=options.Quantity("volume"), metavar="QUANTITY",
              help='Known volume whose gas expands into the system: "1 L +- 1 %".')
@click.option("--vessel-pressure", type=options.Quantity("pressure"), metavar="QUANTITY",
              help='Absolute pressure of the vessel before: "2 bar".')
@click.option("--system-pressure", type=options.Quantity("pressure"), metavar="QUANTITY",
              help='Absolute pressure of the system before: "1 bar".  [default: evacuated]')
@click.option("--after", type=options.Quantity("pressure"), metavar="QUANTITY",
              help='Absolute pressure of both after the valve opened, at rest: "0.5 bar".')
@click.option("--accuracy", type=options.Quantity("fraction"), metavar="QUANTITY",
              help='Accuracy of these pressures, relative: "1 %".')
@click.option("--pump", type=options.Quantity("flow"), metavar="QUANTITY",
              help='Rated speed of the pump that made the logged pull: "6 cfm".')
@click.option("--log", metavar="FILE", help="Log of the pull.")
@options.reading
@click.option("--json", "as_json", is_flag=True, help="Write one JSON document instead of the text.")
@options.units
@options.voice
def volume(as_json: bool, quiet: bool, verbose: bool, ascii_only: bool, **given: Any) -> None:
    """Say how large the volume behind the closed valve is, how well it is known, and what to paste as --volume.

    \b
    Example:
      decay volume --tube "9.5 mm bore x 15 m" --part "receiver 1.2 L" --rig-hose "6 mm bore x 1.5 m"

    The hold tests the rig too, so its volume is part of the answer: hoses and gauge tree between the closed valve and
    the system. A pull only bounds the volume from above, and the answer says so.
    """
    from decay import DecayError

    reading = options.read_options(given)
    way = _way(given)
    try:
        rig = _rig(given)
        if way == "parts":
            from decay.impact.known_volume import sum_of_parts

            known = sum_of_parts(given["tubes"], given["parts"], rig, given["spread"])
        elif way == "expansion":
            known = _expansion(given, rig)
        else:
            known = _bound(given, reading, quiet)
    except click.ClickException:
        raise
    except DecayError as problem:
        from decay import LogError

        if isinstance(problem, LogError):
            raise
        raise click.UsageError(str(problem)) from problem
    _answer(known, as_json, ascii_only)


def _way(given: dict[str, Any]) -> str:
    """Return which of the three ways the options take; a mixture is a usage error."""
    asked = {
        "parts": bool(given["tubes"] or given["parts"]),
        "expansion": any(given[name] is not None for name in
                         ("vessel", "vessel_pressure", "system_pressure", "after", "accuracy")),
        "pull": given["pump"] is not None or given["log"] is not None,
    }
    ways = [name for name, is_asked in asked.items() if is_asked]
    if len(ways) != 1:
        what = "say how to find the volume" if not ways else "use one way to find the volume, not several at once"
        raise click.UsageError(f"{what}: {WAYS}")
    return ways[0]


def _rig(given: dict[str, Any]) -> list[tuple[str, Interval]] | None:
    """Return the rig's pieces: none where there is no rig, ``None`` where nothing was said."""
    from decay.impact.volume_told import read_hose, spread_over

    pieces = [(f"hose {text}", spread_over(read_hose(text).volume, given["spread"])) for text in given["rig_hoses"]]
    if given["rig"] is not None:
        pieces.append(("stated", given["rig"]))
    if given["no_rig"] and pieces:
        raise click.UsageError("--no-rig and --rig/--rig-hose contradict each other: give one of them")
    return pieces if pieces or given["no_rig"] else None


def _expansion(given: dict[str, Any], rig: list[tuple[str, Interval]] | None) -> KnownVolume:
    from decay.impact.known_volume import expansion

    missing = [option for option, name in
               (('--vessel "1 L"', "vessel"), ('--vessel-pressure "2 bar"', "vessel_pressure"),
                ('--after "0.5 bar"', "after")) if given[name] is None]
    if missing:
        raise click.UsageError(f"gas expansion needs the known vessel and two pressures. Add {', '.join(missing)}")
    return expansion(given["vessel"], given["vessel_pressure"], given["system_pressure"], given["after"],
                     given["accuracy"], rig)


def _bound(given: dict[str, Any], reading: Any, quiet: bool) -> KnownVolume:
    from decay import read_log
    from decay.impact.known_volume import bound_from_pull

    if given["pump"] is None or given["log"] is None:
        raise click.UsageError(
            'the bound of a pull needs the pump\'s speed and the log. Example: --pump "6 cfm" --log FILE')
    if given["rig"] is not None or given["rig_hoses"] or given["no_rig"]:
        raise click.UsageError("a pull bounds system and rig together: leave --rig, --rig-hose and --no-rig away")
    console.reading(given["log"], "", quiet)
    return bound_from_pull(read_log(given["log"], reading), given["pump"])


def _answer(known: KnownVolume, as_json: bool, ascii_only: bool) -> None:
    from decay.report.impact_report import volume_document, volume_text

    if as_json:
        from decay.report.document import dumps

        console.answer(dumps(volume_document(known)))
        return
    console.answer(volume_text(known, ascii_only=console.is_plain(ascii_only), width=console.width()))
