"""`decay help`: the manual's pages, the help of a command, the page of a code; the whole manual as a file."""

from __future__ import annotations

import difflib

import click

from decay_cli import console, options, pictures
from decay_cli.console import MEANINGS


@click.command(name="help", epilog=console.EPILOG_OF_PAGES)
@click.argument("topic", required=False)
@click.option("--html", metavar="FILE", help="Write the whole manual as one HTML page.")
@click.option("--man", metavar="FILE", help="Write the whole manual as a man page, like decay.1.")
@click.option("--force/--no-clobber", default=False, help="Replace a file that exists.  [default: no-clobber]")
@options.voice
@click.pass_context
def show_help(
    ctx: click.Context, topic: str | None, html: str | None, man: str | None, force: bool, quiet: bool, verbose: bool,
    ascii_only: bool,
) -> None:
    """Show the manual's page on TOPIC; also takes a command or a code. Without one, list the topics.

    \b
    Example:
      decay help first-job
    """
    if html is None and man is None:
        console.answer(_topics() if topic is None else _page(ctx.parent, topic), ascii_only)
        return
    if topic is not None:
        raise click.UsageError("--html and --man write the whole manual: leave TOPIC out")
    if html is not None:
        _write(html, "--html", ".html", force, quiet)
    if man is not None:
        _write(man, "--man", ".1", force, quiet)


def _topics() -> str:
    from decay import manual

    listed = "".join(f"  {name:<14}{title}\n" for name, title in manual.topics().items())
    return (f"decay help TOPIC, where TOPIC is\n\n{listed}\n"
            "a command (decay help analyze), or a code (decay help H01).\n")  # fmt: skip


def _page(ctx: click.Context | None, topic: str) -> str:
    from decay import RangeError, manual

    try:
        if topic in manual.ORDER:
            return manual.page(topic)
        text = _help_of_command(ctx, topic) or _page_of_code(topic) or _page_or_nearest(topic)
    except RangeError as problem:
        raise click.UsageError(str(problem)) from problem
    return text.rstrip("\n") + "\n"


def _page_or_nearest(topic: str) -> str:
    """Return the page on a topic; where there is none, the error names the topic or the command that may be meant."""
    from decay import RangeError, manual
    from decay_cli.main import COMMANDS

    near = difflib.get_close_matches(topic, (*manual.ORDER, *COMMANDS), n=1)
    if near and near[0] in COMMANDS:
        raise RangeError(f'there is no topic "{topic}". Did you mean the command "{near[0]}"?')
    return manual.page(topic)


def _help_of_command(ctx: click.Context | None, name: str) -> str | None:
    if ctx is None or not isinstance(ctx.command, click.Group):
        return None
    command = ctx.command.get_command(ctx, name)
    if command is None:
        return None
    with click.Context(command, info_name=name, parent=ctx) as its_own:
        return command.get_help(its_own)


def _page_of_code(name: str) -> str | None:
    from decay.audit.manual import practice_page, row_titles

    return practice_page(name.upper(), console.width()).rstrip("\n") + "\n" if name.upper() in row_titles() else None


def _write(asked: str, option: str, suffix: str, force: bool, quiet: bool) -> None:
    """Write the whole manual, in the notation that a file's suffix stands for."""
    from decay import __version__
    from decay.manual.render import as_html, as_man, save_page
    from decay_cli.main import COMMANDS

    target = pictures.named_file(asked, option, (suffix,), force)
    if suffix == ".html":
        text = as_html(__version__)
    else:
        text = as_man(__version__, {name: does for name, (_, _, does) in sorted(COMMANDS.items())},
                      {int(code): means for code, means in MEANINGS.items()})  # fmt: skip
    save_page(text, target, replace=force)
    console.remark(f"Written: {target}", quiet)
