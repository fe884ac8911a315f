"""The moment of a commit, told by the program that made it over a pipe.

Asking the database from outside until the commit is visible would keep a whole processor busy,
which on a small machine slows what is measured. So each program under measurement writes the last
sequence number and the monotonic clock into a pipe straight after its commit has returned.

Run as ``python -m tests.benchmarks.stamp DESCRIPTOR serve …`` it is ``witnessmark serve …`` with
that one thing added.
"""

from __future__ import annotations

import os
import select
import struct
import sys
import time
from collections.abc import Callable
from typing import Any, NamedTuple

_FORM = struct.Struct("<qq")


class Stamp(NamedTuple):
    """A commit: the newest sequence number in it, and when it had returned."""

    last: int
    seconds: float
    """Of the monotonic clock, which all processes of a machine share."""


def stamper(descriptor: int) -> Callable[[int], None]:
    """What to call with the last sequence number of a commit that has just returned."""

    def stamp(last: int) -> None:
        os.write(descriptor, _FORM.pack(last, time.monotonic_ns()))

    return stamp


def next_stamp(descriptor: int, patience: float) -> Stamp:
    """Waits for the next stamp. Raises TimeoutError when none comes."""
    if not select.select([descriptor], [], [], patience)[0]:
        raise TimeoutError("no commit was stamped")
    last, nanoseconds = _FORM.unpack(os.read(descriptor, _FORM.size))
    return Stamp(last, nanoseconds / 1e9)


def main() -> None:
    from api.cli import main as command
    from capture.pipeline import Pipeline

    stamp = stamper(int(sys.argv.pop(1)))
    opened = Pipeline.open

    def open_stamped(*given: Any, **named: Any) -> Pipeline:
        return opened(*given, **{**named, "on_committed": lambda _, last: stamp(last)})

    Pipeline.open = open_stamped  # type: ignore[method-assign]  # the service offers no other way in
    command()


if __name__ == "__main__":
    main()
