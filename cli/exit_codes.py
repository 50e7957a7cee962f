"""What the exit code of every command means."""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """The numbers that scripts may rely on."""

    PASS = 0
    FAIL = 1
    USAGE = 2
    INCONCLUSIVE = 3
    UNREADABLE = 4
    INTERNAL = 70
    INTERRUPTED = 130


MEANINGS = {
    ExitCode.PASS: "pass, or done",
    ExitCode.FAIL: "fail",
    ExitCode.USAGE: "usage: an option that makes no sense, or a picture that cannot be written",
    ExitCode.INCONCLUSIVE: "inconclusive",
    ExitCode.UNREADABLE: "unreadable input",
    ExitCode.INTERNAL: "internal error, a fault of this program",
    ExitCode.INTERRUPTED: "interrupted",
}

EPILOG = "\b\nExit codes:\n" + "\n".join(f"  {code.value:>3}  {text}" for code, text in MEANINGS.items())
"""The table as help texts print it."""
