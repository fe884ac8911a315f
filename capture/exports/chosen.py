"""Which readings are exported: the filters that the history has, as of one moment."""

from __future__ import annotations

from collections.abc import Iterator

import orjson

from capture.archive import Archive
from capture.entry import Kind
from capture.errors import NotFound, RequestError
from capture.ledger.search import NOT_EVALUATED, Filters

PAGE = 500


def sensible(filters: Filters) -> None:
    """Raises RequestError for filters that no reading could ever meet together."""
    if filters.reason is None and filters.placed is not False:
        return
    if filters.reason is not None and filters.placed:
        raise RequestError(
            "A reading that is placed has no reason why it is not.",
            mend="Leave out placed, or the reason.",
        )
    if filters.result not in (None, NOT_EVALUATED):
        raise RequestError(
            f"A reading that is not placed has no verdict, so it is never {filters.result}.",
            mend=f"Leave out the result, or ask for {NOT_EVALUATED}.",
        )


def known(archive: Archive, filters: Filters) -> None:
    """Raises NotFound where the filters name what this bench never had: an empty answer must not
    hide a mistyped name."""
    build, instrument = filters.build, filters.instrument
    if build is not None:
        number = build[1:] if build.startswith("b") and build.isascii() else ""
        # SQLite's integers end at 19 digits
        found = archive.envelope(int(number)) if number.isdigit() and len(number) < 19 else None
        if found is None or found["kind"] != Kind.BUILD or f"b{found['seq']}" != build:
            raise NotFound(
                f"There is no build {build}.",
                mend="List the builds: GET /v1/builds, or /builds in a browser.",
            )
    if instrument is not None and archive.last_press(instrument) is None:
        records = archive.newest(Kind.INSTRUMENT)
        if instrument not in {entry["body"]["id"] for entry in records}:
            raise NotFound(
                f"There is no instrument {instrument}.",
                mend="List the instruments: GET /v1/instruments, or /instruments in a browser.",
            )
    if filters.operator is not None:
        _among("operator", filters.operator, archive.operators())
    if filters.reason is not None:
        _among("reason", filters.reason, archive.reasons())


def _among(what: str, asked: str, there: list[str]) -> None:
    if asked not in there:
        raise NotFound(
            f"No reading here has the {what} {asked}.",
            mend=f"There are {', '.join(there)}." if there else f"None has any {what}.",
        )


def readings(archive: Archive, filters: Filters, through: int | None = None) -> Iterator[bytes]:
    """Readings as JSON, oldest first, each with the decision that counts for it.

    ``through`` is the last seq looked at: the ledger's end where it is left out, so that an export
    ends even while presses keep coming.
    """
    end = archive.size() if through is None else through
    after = 0
    while after < end:
        page = archive.readings(after=after, limit=PAGE, filters=filters)
        for item in page.items:
            if page.next > end and orjson.loads(item)["seq"] > end:
                return
            yield item
        after = page.next
