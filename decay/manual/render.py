"""The manual as one HTML page and as a man page, both made from the pages that `decay help` shows."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from markdown_it import MarkdownIt
from markdown_it.token import Token

from decay import manual
from decay.files import drafted

STYLE = """
body { max-width: 46em; margin: 2em auto; padding: 0 1em; font: 1em/1.5 system-ui, sans-serif; color: #111 }
pre, code { font-family: ui-monospace, monospace; background: #f3f3f3 }
pre { padding: .6em; overflow-x: auto; white-space: pre-wrap }
h1 { border-top: 1px solid #999; padding-top: .6em; font-size: 1.5em } h2 { font-size: 1.15em }
nav { columns: 2 } @media print { h1 { break-before: page } nav { display: none } }
"""


def as_html(version: str) -> str:
    """Return the whole manual as one page that needs nothing from elsewhere, each topic under an anchor of its name."""
    parser = MarkdownIt("commonmark", {"html": False})
    topics = manual.topics()
    links = "\n".join(f'<a href="#{topic}">{html.escape(title)}</a><br>' for topic, title in topics.items())
    pages = "\n".join(f'<section id="{topic}">\n{parser.render(manual.page(topic))}</section>' for topic in topics)
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>decay: the manual</title>\n'
        f"<style>{STYLE}</style>\n</head>\n<body>\n<p>decay {html.escape(version)}: the manual</p>\n"
        f"<nav>\n{links}\n</nav>\n{pages}\n</body>\n</html>\n"
    )


def as_man(version: str, commands: Mapping[str, str], exits: Mapping[int, str]) -> str:
    """Return the whole manual as the source of ``decay(1)``, with each command and each exit code; ``man -l`` shows it.
    """
    lines = [
        f'.TH DECAY 1 "" "decay {_roff(version)}"',
        ".SH NAME",
        r"decay \- what a vacuum hold proves: analysis of logged micron readings",
        ".SH SYNOPSIS",
        ".B decay",
        r"\fICOMMAND\fR [\fIOPTIONS\fR] [\fILOG\fR ...]",
        ".SH COMMANDS",
        *(line for name, does in commands.items() for line in (".TP", f".B {_roff(name)}", _roff(does))),
        ".SH EXIT STATUS",
        *(line for code, means in exits.items() for line in (".TP", f".B {code}", _roff(means))),
    ]
    parser = MarkdownIt("commonmark", {"html": False})
    for topic in manual.ORDER:
        lines += _blocks(parser.parse(manual.page(topic)))
    return "\n".join(lines) + "\n"


def save_page(text: str, target: Path, *, replace: bool) -> None:
    """Write what `as_html` or `as_man` returned, whole or not at all; a file that is there only if told to."""
    with drafted(target, replace=replace) as draft:
        draft.write_text(text, encoding="utf-8")


def _blocks(tokens: Sequence[Token]) -> list[str]:
    """Return the lines of a page's tokens."""
    lines: list[str] = []
    heading, is_in_item = "", False
    for token in tokens:
        if token.type == "heading_open":
            heading = ".SH " if token.tag == "h1" else ".SS "
        elif token.type == "list_item_open":
            lines.append(r".IP \(bu 2")
            is_in_item = True
        elif token.type == "list_item_close":
            is_in_item = False
        elif token.type == "paragraph_open" and not is_in_item:
            lines.append(".PP")
        elif token.type == "fence":
            lines += [".PP", ".nf", ".RS 4", *(_roff(line) for line in token.content.splitlines()), ".RE", ".fi"]
        elif token.type == "inline":
            text = _inline(token.children or [])
            lines.append(heading + (text.upper() if heading == ".SH " else text) if heading else text)
            heading = ""
    return lines


def _inline(tokens: Sequence[Token]) -> str:
    fonts = {"strong_open": r"\fB", "em_open": r"\fI", "strong_close": r"\fR", "em_close": r"\fR",
             "softbreak": "\n", "hardbreak": "\n.br\n"}  # fmt: skip
    parts = [
        rf"\fB{_roff(token.content)}\fR" if token.type == "code_inline"
        else fonts[token.type] if token.type in fonts
        else _roff(token.content)
        for token in tokens
    ]  # fmt: skip
    # A line that begins with a point or an apostrophe would be taken for an instruction.
    return re.sub(r"^([.'])", r"\\&\1", "".join(parts), flags=re.MULTILINE)


def _roff(text: str) -> str:
    escaped = text.replace("\\", r"\e").replace("-", r"\-")
    return rf"\&{escaped}" if escaped.startswith((".", "'")) else escaped
