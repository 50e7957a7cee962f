"""One thread for linear algebra: the matrices here are small, and to wake threads for them costs more than they do."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

Given = ParamSpec("Given")
Answer = TypeVar("Answer")


def on_one_thread(work: Callable[Given, Answer]) -> Callable[Given, Answer]:
    """Return a function that does its work with one thread of linear algebra, and leaves the process as it was.

    Inside a program that uses many threads it is several times faster; sums come out the same on any number
    of cores.
    """

    @wraps(work)
    def done(*args: Given.args, **named: Given.kwargs) -> Answer:
        with _libraries("scipy.linalg" in sys.modules).limit(limits=1, user_api="blas"):
            return work(*args, **named)

    return done


@cache
def _libraries(with_scipy: bool) -> ThreadpoolController:
    """Return the libraries of linear algebra that are loaded; scipy has its own, and few logs load it.

    They are looked for once, or twice, for it takes milliseconds.
    """
    import numpy.linalg  # noqa: F401  # so that its own is loaded

    return ThreadpoolController()
