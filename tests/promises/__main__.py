"""The promise bench by hand: `python -m tests.promises --holds 300` counts how often stated numbers come true."""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ProcessPoolExecutor

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from .holds import LENGTHS, SORTS
from .score import keep, table


def main() -> None:
    """Run the bench and print its table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--holds", type=int, default=300, help="holds for each number")
    parser.add_argument("--seed", type=int, default=0, help="first seed")
    parser.add_argument("--sort", choices=SORTS, action="append", help="only these sorts")
    options = parser.parse_args()
    tasks = [(name, length, options.holds, options.seed) for name in options.sort or SORTS for length in LENGTHS]
    with ProcessPoolExecutor() as pool:
        print(table(list(pool.map(keep, *zip(*tasks, strict=True)))))


if __name__ == "__main__":
    main()
