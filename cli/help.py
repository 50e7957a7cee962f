"""`decay help`: the manual's pages, the help of a command, the page of a code."""

from __future__ import annotations

import click

from decay_cli import console, options


@click.command(name="help")
@click.argument("topic", required=False)
@options.voice
@click.pass_context
def show_help(ctx: click.Context, topic: str | None, quiet: bool, verbose: bool, ascii_only: bool) -> None:
    """Show the manual's page on TOPIC; also takes a command or a code. Without one, list the topics.

    \b
    Example that works:
      decay help first-job
    """
    from decay import RangeError, manual

    if topic is None:
        listed = "".join(f"  {name:<14}{title}\n" for name, title in manual.topics().items())
        console.answer(f"decay help TOPIC, where TOPIC is\n\n{listed}\na command (decay help analyze), or a code "
                       "(decay help H01).\n", ascii_only)
        return
    known = topic in manual.ORDER
    try:
        text = (None if known else _help_of_command(ctx.parent, topic) or _page_of_code(topic)) or manual.page(topic)
    except RangeError as problem:
        raise click.UsageError(str(problem)) from problem
    console.answer(text.rstrip("\n") + "\n", ascii_only)


def _help_of_command(ctx: click.Context | None, name: str) -> str | None:
    if ctx is None or not isinstance(ctx.command, click.Group):
        return None
    command = ctx.command.get_command(ctx, name)
    if command is None:
        return None
    with click.Context(command, info_name=name, parent=ctx) as its_own:
        return command.get_help(its_own)


def _page_of_code(name: str) -> str | None:
    from decay.audit.manual import page, titles

    return page(name.upper()) if name.upper() in titles() else None
