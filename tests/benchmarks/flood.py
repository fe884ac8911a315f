"""Writes lines into terminals as fast as they are taken: ``python -m tests.benchmarks.flood``.

A process of its own, so that the writing does not share an interpreter with what is measured.
Prints the monotonic clock just before the first byte.
"""

from __future__ import annotations

import os
import sys
import time

from tests.benchmarks.wire import lines

LINES_AT_ONCE = 64


def write_all(descriptor: int, data: bytes) -> None:
    """Writes everything; blocks while the terminal is full."""
    view = memoryview(data)
    while view:
        view = view[os.write(descriptor, view) :]


def flood(descriptors: list[int], count: int) -> None:
    """Writes ``count`` lines, in turns over the terminals."""
    sent = turn = 0
    while sent < count:
        some = min(LINES_AT_ONCE, count - sent)
        write_all(descriptors[turn % len(descriptors)], lines(sent, some))
        sent += some
        turn += 1


def main() -> None:
    """``flood DESCRIPTOR[,DESCRIPTOR…] COUNT``: the descriptors are inherited."""
    descriptors = [int(word) for word in sys.argv[1].split(",")]
    print(time.monotonic(), flush=True)
    flood(descriptors, int(sys.argv[2]))


if __name__ == "__main__":
    main()
