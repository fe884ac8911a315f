"""A page of the history: rows, the filters as chips and form, and where it goes on."""

from __future__ import annotations

import importlib.util
from typing import Any, Final, NamedTuple

import orjson

from api.history.asked import Search
from api.labels.catalogue import Labels
from capture.archive import Archive, Page
from capture.entry import Kind
from capture.exports import chosen
from capture.ledger.record import RESULTS

PATH = "/history"
LIMIT = 50
Data = dict[str, Any]


class Listed(NamedTuple):
    """What the page shows."""

    rows: list[Data]
    older: str | None
    newer: str | None
    newest: str | None
    looked: int | None
    """How many readings were looked at for a page that is not full, where there are more."""


NOTHING: Final = Listed([], None, None, None, None)
"""What is shown while a filter cannot be."""


def listed(archive: Archive, search: Search) -> Listed:
    """The page that was asked for. Raises NotFound for filters that name what never was here."""
    # one more than is shown: whether there is a page behind this one
    if search.after is not None:
        found = archive.readings(after=search.after, limit=LIMIT + 1, filters=search.filters)
        rows, following, more = _cut(found, found.next < archive.size())
        rows.reverse()
        newer = following if more else None
        older = search.after + 1 if search.after else None
    else:
        found = archive.earlier_readings(
            before=search.before, limit=LIMIT + 1, filters=search.filters
        )
        rows, following, more = _cut(found, found.next > 0)
        older = following if more else None
        newer = None
        if search.before is not None:
            newer = rows[0]["seq"] if rows else search.before - 1
    if not rows:
        chosen.known(archive, search.filters)
    return Listed(
        [{**row, "link": search.link(f"/readings/{row['seq']}")} for row in rows],
        None if older is None else search.link(PATH, before=older),
        None if newer is None else search.link(PATH, after=newer),
        None if newer is None else search.link(PATH),
        found.looked if more and len(rows) < LIMIT else None,
    )


def _cut(found: Page, cut_off: bool) -> tuple[list[Data], int, bool]:
    """The rows of a page, where the next one begins, and whether there is one. ``cut_off``: the
    look ended before the history did."""
    rows = [orjson.loads(item) for item in found.items[:LIMIT]]
    if len(found.items) > LIMIT:
        return rows, rows[-1]["seq"], True
    return rows, found.next, cut_off


def choices(archive: Archive) -> dict[str, list[str]]:
    """What the form offers."""
    return {
        "instrument": sorted(entry["body"]["id"] for entry in archive.newest(Kind.INSTRUMENT)),
        "operator": archive.operators(),
        "reason": archive.reasons(),
    }


def words(labels: Labels, reasons: list[str]) -> dict[str, dict[str, str]]:
    """What the values of filters are called."""
    return {
        "result": {one: labels.named("common.verdict", one) for one in RESULTS},
        "placed": {"true": labels.text("history.placed"), "false": labels.text("history.unplaced")},
        "corrected": {"true": labels.text("common.yes"), "false": labels.text("common.no")},
        "reason": {one: labels.named("common.reason", one) for one in reasons},
    }


def exports(search: Search, rows: list[Data]) -> list[tuple[str, str]]:
    """(format, address) of every file of the same set that this service can write."""
    forms = ["csv", "jsonl", "qif"]
    if importlib.util.find_spec("pyarrow") is not None:
        forms.insert(2, "parquet")
    found = [(form, search.link("/v1/exports/readings", **{"as": form})) for form in forms]
    if rows:
        entries = ",".join(str(row["seq"]) for row in rows)
        found.append(("bundle", f"/v1/ledger/bundle?entries={entries}"))
    return found
