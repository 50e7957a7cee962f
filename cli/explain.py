"""`decay explain` and `decay criteria`: what the codes mean, and where the numbers of practice come from."""

from __future__ import annotations

import click

from decay_cli import console, options


@click.command(name="explain")
@click.argument("code", required=False, shell_complete=options.complete_code)
@options.voice
def explain(code: str | None, quiet: bool, verbose: bool, ascii_only: bool) -> None:
    """Show the manual page of a finding CODE; without one, list all codes.

    \b
    Example that works:
      decay explain H01
    """
    from decay import RangeError
    from decay.audit.manual import page, titles

    if code is None:
        console.answer("".join(f"{name}  {title}\n" for name, title in sorted(titles().items())), ascii_only)
        return
    try:
        text = page(code)
    except RangeError as problem:
        raise click.UsageError(str(problem)) from problem
    console.answer(text.rstrip("\n") + "\n", ascii_only)


@click.command(name="criteria")
@options.voice
def criteria(quiet: bool, verbose: bool, ascii_only: bool) -> None:
    """List the shipped criteria of practice, the default first, each with its source and standing.

    \b
    Example that works:
      decay criteria
    """
    from decay import criterion_names, load_criterion

    blocks = []
    for number, name in enumerate(criterion_names()):
        known = load_criterion(name)
        source = ", ".join(part for part in (known.source, known.edition) if part not in ("", "none"))
        lines = [name + ("  (default)" if number == 0 else ""), f"  {known.title}", f"  for:      {known.equipment}",
                 f"  source:   {source or 'none'}", f"  standing: {known.standing}"]
        if known.teaching_only:
            lines.append("  for teaching only: too coarse for a verdict to rest on")
        if known.warning:
            lines.append(f"  mind:     {known.warning}")
        blocks.append("\n".join(lines) + "\n")
    console.answer("\n".join(blocks), ascii_only)
