"""Command lines in processes of their own, forked from one that has loaded the program: each costs its work, no start.

Streams, limits, signals and the end of the interpreter are those of an ordinary process. What Python and the libraries
decide while they start (locale, encoding, back end of pictures) is not tried here: that needs a fresh interpreter.
"""

from __future__ import annotations

import atexit
import functools
import gc
import io
import json
import os
import pkgutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import IO, TextIO

ROOT = Path(__file__).resolve().parents[1]
CLOSED = "closed"
"""In the place of a stream: none, as a shell's `>&-` leaves it."""
TIMEOUT = 120.0  # s
LOADED_LATE = ("matplotlib.backends.backend_agg", "matplotlib.backends.backend_svg", "matplotlib.backends.backend_pdf",
               "matplotlib.font_manager", "pandas", "pint", "scipy.optimize", "scipy.stats", "multiprocessing.spawn")


class Running:
    """A process at work.

    Parameters
    ----------
    channel : socket
        Where its end is told.
    pid : int
        Its number; it leads a group of its own.
    """

    def __init__(self, channel: socket.socket, pid: int) -> None:
        self.channel, self.pid = channel, pid
        self.returncode: int | None = None

    def poll(self) -> int | None:
        """Return the exit code as `subprocess` gives it, or ``None`` while it works."""
        return self.returncode if self.returncode is not None else self._end(0.0)

    def wait(self, timeout: float = TIMEOUT) -> int:
        """Return the exit code once it ends; at the end of the time [s] it is killed, and that raises."""
        code = self.poll()
        if code is None and (code := self._end(timeout)) is None:
            self.send_signal(signal.SIGKILL)
            self._end(TIMEOUT)
            raise subprocess.TimeoutExpired(str(self.pid), timeout)
        return code

    def send_signal(self, number: int) -> None:
        """Send it a signal, unless it has ended."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def _end(self, timeout: float) -> int | None:
        self.channel.settimeout(timeout)
        try:
            told = self.channel.recv(100)
        except (TimeoutError, BlockingIOError):
            return None
        self.returncode = os.waitstatus_to_exitcode(int(told))
        return self.returncode


@contextmanager
def started(words: tuple[str, ...] | list[str], folder: Path | str = ".", *, first: str = "", stdin: object = None,
            stdout: object = None, stderr: object = None, **environment: str) -> Iterator[Running]:
    """Start `decay` on words in a folder.

    Parameters
    ----------
    words : sequence of str
        The command line behind `decay`.
    folder : path
        Working directory.
    first : str
        Python to run in the process before `decay`.
    stdin, stdout, stderr : file, CLOSED or None
        Its streams; ``None`` is the null device.
    **environment : str
        Changes to the environment.

    Yields
    ------
    Running
        The process; it is killed if it still works at the end.
    """
    request = {"words": list(words), "folder": str(Path(folder).absolute()), "first": first,
               "environment": {**os.environ, **environment},
               "closed": [number for number, one in enumerate((stdin, stdout, stderr)) if one == CLOSED]}
    with open(os.devnull, "r+b", buffering=0) as null:
        streams = [null if one in (None, CLOSED) else one for one in (stdin, stdout, stderr)]
        channel = _server()
        socket.send_fds(channel, [json.dumps(request).encode()], [one.fileno() for one in streams])
    channel.settimeout(TIMEOUT)
    running = Running(channel, int(channel.recv(100)))
    try:
        yield running
    finally:
        running.send_signal(signal.SIGKILL)
        running.wait()


def ended(words: tuple[str, ...] | list[str], folder: Path | str = ".", *, timeout: float = TIMEOUT,
          stdout: object = None, stderr: object = None, **options: object) -> subprocess.CompletedProcess[str]:
    """Return how `decay` ends and what it says; a stream that is given is not read. Parameters as of `started`."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        with started(words, folder, stdout=stdout or out, stderr=stderr or err, **options) as running:
            running.wait(timeout)
        said = []
        for file in (out, err):
            file.seek(0)
            said.append(io.TextIOWrapper(io.BytesIO(file.read()), encoding="utf-8").read())
    return subprocess.CompletedProcess(list(words), running.returncode, *said)


@contextmanager
def piped() -> Iterator[tuple[TextIO, IO[bytes]]]:
    """Open a pipe: its end to read text from, and its end to write to."""
    reading, writing = os.pipe()
    with open(reading, encoding="utf-8") as first, open(writing, "wb", buffering=0) as second:
        yield first, second


@functools.cache
def _server() -> socket.socket:
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    command = [sys.executable, "-m", "tests.forked", str(theirs.fileno())]
    process = subprocess.Popen(command, cwd=ROOT, pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL)
    theirs.close()

    def end() -> None:
        ours.close()
        process.wait(timeout=10)

    atexit.register(end)
    return ours


def serve(channel: socket.socket) -> str:
    """Fork for each request, and return in the child, which has become the process asked for; its code to run first."""
    import decay
    import decay_cli

    for package in (decay, decay_cli):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if not module.name.endswith(("__main__", "make_refrigerant_table", "make_samples")):
                import_module(module.name)
    for name in LOADED_LATE:
        import_module(name)
    decay.quantities.read_volume("1 L")  # reads the table of all units
    gc.freeze()
    while True:
        message, descriptors, _, _ = socket.recv_fds(channel, 1 << 20, 3)
        if not message:
            os._exit(0)
        pid = os.fork()
        if pid == 0:
            channel.close()
            return become(json.loads(message), descriptors)
        for descriptor in descriptors:
            os.close(descriptor)
        channel.send(str(pid).encode())
        channel.send(str(os.waitpid(pid, 0)[1]).encode())


def become(request: Mapping[str, object], descriptors: list[int]) -> str:
    """Make this process the one that a request asks for, and return the code to run first."""
    os.setsid()
    os.environ.clear()
    os.environ.update(request["environment"])
    time.tzset()
    os.chdir(request["folder"])
    for number, descriptor in enumerate(descriptors):
        os.dup2(descriptor, number)
        os.close(descriptor)
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        stream = None
        if number in request["closed"]:
            os.close(number)
        else:
            stream = open(number, "w" if number else "r", encoding="utf-8", closefd=False,  # noqa: SIM115
                          errors="backslashreplace" if number == 2 else None, buffering=1 if number == 2 else -1)
        setattr(sys, name, stream)
        setattr(sys, f"__{name}__", stream)
    for number, action in ((signal.SIGINT, signal.default_int_handler), (signal.SIGTERM, signal.SIG_DFL),
                           (signal.SIGHUP, signal.SIG_DFL)):
        signal.signal(number, action)
    sys.argv = ["decay", *request["words"]]
    return str(request["first"])


if __name__ == "__main__":
    exec(serve(socket.socket(fileno=int(sys.argv[1]))))
    from decay_cli.main import main

    main()
