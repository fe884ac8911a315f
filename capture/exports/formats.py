"""The formats by name: what the command line and the API offer."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Final, NamedTuple

from capture.exports import comma, lines, parquet
from capture.exports.grounds import Grounds
from capture.exports.qif import document

WORTH: Final = 65_536

Chunks = Callable[[Iterable[bytes], Grounds, str], Iterator[bytes]]


class Format(NamedTuple):
    """How a set of readings is written."""

    suffix: str
    media: str
    chunks: Chunks
    """Readings as JSON, what they rest on, and the moment of the export (RFC 3339) → a file."""
    text: bool = True
    """Fit for a terminal."""


FORMATS: Final[dict[str, Format]] = {
    "csv": Format(
        "csv", "text/csv; charset=utf-8; header=present", lambda i, _, __: comma.chunks(i)
    ),
    "jsonl": Format("jsonl", "application/jsonl", lambda i, _, __: lines.chunks(i)),
    "parquet": Format(
        "parquet", "application/vnd.apache.parquet", lambda i, _, __: parquet.chunks(i), False
    ),
    "qif": Format("qif", "application/xml", document.chunks),
}
"""Name → format."""


def written(name: str, items: Iterable[bytes], grounds: Grounds, created: str) -> Iterator[bytes]:
    """A file of ``items`` in the format ``name``, chunk by chunk.

    Raises RequestError, before anything is written, where the format needs what is not installed.
    """
    if name == "parquet":
        parquet.needed()
    return _joined(FORMATS[name].chunks(items, grounds, created))


def _joined(chunks: Iterator[bytes]) -> Iterator[bytes]:
    """Chunks worth sending: small ones put together."""
    held = bytearray()
    for chunk in chunks:
        held += chunk
        if len(held) >= WORTH:
            yield bytes(held)
            held.clear()
    if held:
        yield bytes(held)
