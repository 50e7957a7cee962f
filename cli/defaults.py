"""Defaults of a shop: facts of the job from `decay.toml` beside the logs and from the environment, each one said."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click
from click.core import ParameterSource

from decay.job_record import FACTS, READING
from decay.toml_file import not_known, read_toml
from decay_cli import console
from decay_cli.options import UnderHeadings

FILE = "decay.toml"
PROJECT = "pyproject.toml"
LARGEST = 65_536
"""A file of defaults is no longer than this. [bytes]"""
PREFIX = "DECAY_"

SAYING = ("units",)
KNOWN = (*FACTS, *READING, *SAYING)
"""What may stand there: facts of the job, how its logs are read and answered, never what to write or to replace."""


@dataclass(frozen=True, slots=True)
class Default:
    """A value with the place it comes from; one of a file that was named on the command line needs no saying."""

    value: Any
    source: str
    is_said: bool = True


class CommandWithDefaults(UnderHeadings):
    """A command whose options may have defaults of the shop; each one that is used is said."""

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **extra: Any
    ) -> click.Context:
        """Return the context, with the defaults of the logs' folder and of the environment."""
        offered = {} if extra.get("resilient_parsing") else self.offered(args)
        known = {_spelt(param): param for param in self.params if isinstance(param, click.Option)}
        own = {known[name].name: _as_given(default.value, known[name]) for name, default in offered.items()
               if name in known}  # fmt: skip
        ctx = super().make_context(info_name, args, parent, default_map=own, **extra)
        for name, default in offered.items():
            if not default.is_said or name not in known:
                continue
            if ctx.get_parameter_source(str(known[name].name)) is ParameterSource.DEFAULT_MAP:
                option, value = name.replace("_", "-"), default.value
                shown = ", ".join(map(str, value)) if isinstance(value, list) else value
                console.complain(f'From {default.source}: --{option} "{shown}"')
        return ctx

    def offered(self, args: Sequence[str]) -> dict[str, Default]:
        """Return the defaults that hold for a command line."""
        return offers(self.files(args))

    def files(self, args: Sequence[str]) -> list[Path]:
        """Return what may be logs and folders on a command line: all but the options with their values."""
        takes_value = {opt for param in self.params if isinstance(param, click.Option) and not param.is_flag
                       for opt in param.opts}  # fmt: skip
        return [Path(arg) for before, arg in zip(("", *args), args, strict=False)
                if not arg.startswith("-") and before not in takes_value]


class Saying(CommandWithDefaults):
    """A command that is about no job of the shop: of the defaults it takes only how answers are said."""

    def offered(self, args: Sequence[str]) -> dict[str, Default]:
        """Return the defaults that hold for a command line."""
        return {name: default for name, default in super().offered(args).items() if name in SAYING}

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options in the order in which they stand: the headings are those of a job."""
        click.Command.format_options(self, ctx, formatter)


def _spelt(option: click.Option) -> str:
    """Return the name by which users know an option."""
    return max(option.opts, key=len).lstrip("-").replace("-", "_")


def _as_given(value: Any, option: click.Option) -> Any:
    """Return a default as its option takes it: one that may be repeated takes a list."""
    return [value] if option.multiple and not isinstance(value, list) else value


def offers(paths: Sequence[Path], environment: dict[str, str] | None = None) -> dict[str, Default]:
    """Return the defaults that hold for some logs or folders; the working directory's where none of them exists.

    Variables ``DECAY_VOLUME`` and the like, of the process unless given, go before a file.

    Raises
    ------
    click.UsageError
        If a file of defaults cannot be read, names something unknown, or two folders have different ones.
    """
    folders = {path if path.is_dir() else path.parent for path in paths if _is_there(path)} or {Path()}
    found = [defaults for folder in sorted(folders) if (defaults := _beside(folder)) is not None]
    if any({k: d.value for k, d in one.items()} != {k: d.value for k, d in found[0].items()} for one in found[1:]):
        raise click.UsageError(
            f"the logs' folders have different defaults in {FILE}: judge them one folder at a time, or give the options"
        )
    offered = dict(found[0]) if found else {}
    for name in KNOWN:
        variable = PREFIX + name.upper()
        text = (os.environ if environment is None else environment).get(variable)
        if text:
            offered[name] = Default(text, f"the environment ({variable})")
    return offered


def _is_there(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):  # a name too long, or with a null
        return False


def _beside(folder: Path) -> dict[str, Default] | None:
    """Return what a folder's file of defaults says; ``None`` where it has none."""
    for path, table in ((folder / FILE, None), (folder / PROJECT, "tool")):
        if not _is_there(path) or not path.is_file():  # or nobody may look: reading the log will tell
            continue
        with path.open("rb") as file:
            if table is not None and b"[tool.decay" not in file.read(LARGEST):
                continue
        content = _parsed(path)
        if table is not None:
            tools = content.get(table)
            content = tools.get("decay") if isinstance(tools, dict) else None  # type: ignore[assignment]
        if isinstance(content, dict):
            return {_known(name, path): Default(_checked(name, value, path), str(path))
                    for name, value in content.items()}
    return None


def _parsed(path: Path) -> dict[str, Any]:
    try:
        return read_toml(path, LARGEST)
    except (OSError, ValueError) as problem:
        raise click.UsageError(f"{path}: the defaults cannot be read: {problem}") from problem


def _known(name: str, path: Path) -> str:
    plain = name.replace("-", "_")
    if plain in KNOWN:
        return plain
    raise click.UsageError(f"{path}: among the defaults {not_known(name, KNOWN)}")


def _checked(name: str, value: Any, path: Path) -> Any:
    if isinstance(value, str):
        file = path.parent / value
        is_file = name == "criterion" and value.endswith(".toml") and not Path(value).is_absolute() and file.is_file()
        return str(file) if is_file else value
    if name == "over_range" and isinstance(value, list) and all(isinstance(word, str) for word in value):
        return value
    raise click.UsageError(f'{path}: "{name}" must be text, for example volume = "3.2 L"; found {value!r}')
