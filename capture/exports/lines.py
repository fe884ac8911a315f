"""JSON Lines: each reading in the very bytes that the API answers with, a line for each."""

from __future__ import annotations

from collections.abc import Iterable, Iterator


def chunks(items: Iterable[bytes]) -> Iterator[bytes]:
    """The file, a reading at a time."""
    for item in items:
        yield item + b"\n"
