"""`decay completion`: the script that completes commands and options in a shell, and what arguments complete to."""

from __future__ import annotations

import click
from click.shell_completion import ShellComplete, get_completion_class

from decay_cli import console, options

SHELLS = ("bash", "zsh", "fish")
VARIABLE = "_DECAY_COMPLETE"  # click answers a shell's question where this is set


@click.command(name="completion", epilog=console.EPILOG_OF_PAGES)
@click.argument("shell", type=click.Choice(SHELLS))
@options.voice
def completion(shell: str, quiet: bool, verbose: bool, ascii_only: bool) -> None:
    """Print the completion script for SHELL: bash, zsh or fish.

    \b
    Example:
      decay completion bash

    \b
    To use it now, and at every start of the shell:
      bash   eval "$(decay completion bash)"      in ~/.bashrc (bash 4.4 or later)
      zsh    eval "$(decay completion zsh)"       in ~/.zshrc, after compinit
      fish   decay completion fish | source       in ~/.config/fish/config.fish
    """
    from decay_cli.main import decay

    known = get_completion_class(shell)
    if known is None:  # a click without it
        raise click.UsageError(f"there is no completion for {shell}; there is one for {', '.join(SHELLS)}")
    # The class's own source() would start a bash to ask for its version.
    console.answer(ShellComplete.source(known(decay, {}, "decay", VARIABLE)).rstrip("\n") + "\n", ascii_only)
