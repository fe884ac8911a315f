"""Which readings are exported: the filters that the history has, as of one moment."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import orjson

from capture.archive import Archive
from capture.entry import Kind
from capture.errors import NotFound

PAGE = 500


class Filters(NamedTuple):
    """What a reading must have; None asks for nothing."""

    build: str | None = None
    instrument: str | None = None
    since: str | None = None
    """RFC 3339 UTC text as entries have it, inclusive."""
    until: str | None = None
    """The same, exclusive."""


def known(archive: Archive, filters: Filters) -> None:
    """Raises NotFound where the filters name what this bench never had: an empty file must not hide
    a mistyped name."""
    build, instrument = filters.build, filters.instrument
    if build is not None:
        number = build[1:] if build.startswith("b") and build.isascii() else ""
        # SQLite's integers end at 19 digits
        found = archive.envelope(int(number)) if number.isdigit() and len(number) < 19 else None
        if found is None or found["kind"] != Kind.BUILD or f"b{found['seq']}" != build:
            raise NotFound(f"There is no build {build}.", mend="See GET /v1/builds.")
    if instrument is not None and archive.last_press(instrument) is None:
        records = archive.newest(Kind.INSTRUMENT)
        if instrument not in {entry["body"]["id"] for entry in records}:
            raise NotFound(f"There is no instrument {instrument}.", mend="See GET /v1/instruments.")


def readings(archive: Archive, filters: Filters, through: int | None = None) -> Iterator[bytes]:
    """Readings as JSON, oldest first, each with the decision that counts for it.

    ``through`` is the last seq looked at: the ledger's end where it is left out, so that an export
    ends even while presses keep coming.
    """
    end = archive.size() if through is None else through
    after = 0
    while after < end:
        page = archive.readings(after=after, limit=PAGE, **filters._asdict())
        for item in page.items:
            if page.next > end and orjson.loads(item)["seq"] > end:
                return
            yield item
        after = page.next
