"""Readings by what a history is searched for: a page at a time, each looking at a bounded number of
rows.

Every index here ends in the press, so each of them gives its readings in the order of the ledger,
and a page begins wherever the one before it ended. The filter that leaves the fewest readings near
there is followed; what else is asked for is looked up on the way. Who pressed is kept as shifts:
the presses at which somebody else took over. Nothing is counted, and nothing is skipped over.
"""

from __future__ import annotations

import heapq
import sqlite3
from collections.abc import Iterator
from itertools import islice
from typing import NamedTuple

from capture.errors import StoreError
from capture.ledger import schema
from capture.ledger.moments import ENDLESS, Stretch, stretches
from capture.ledger.record import CORRECTED, RESULTS

NOT_EVALUATED = "not_evaluated"
Row = tuple[int, int, int]
"""press, decision, whether it fits"""
Condition = tuple[str, list[object]]
"""What is asked of a row, as SQL and its values."""
PROBE = 100
"""Readings looked at to tell how densely a filter's lie."""


class Filters(NamedTuple):
    """What a reading must have; None asks for nothing."""

    build: str | None = None
    instrument: str | None = None
    since: str | None = None
    """RFC 3339 UTC text as entries have it, inclusive."""
    until: str | None = None
    """The same, exclusive."""
    operator: str | None = None
    result: str | None = None
    """Of the verdict that counts; a reading that is not placed is not evaluated."""
    placed: bool | None = None
    reason: str | None = None
    """The code of the reason why it is not placed; ``void`` is one."""
    corrected: bool | None = None
    """Whether its value that counts is a person's."""


FORMER = 4
"""Filters that a store of an older program can be asked for too: the first ones."""


class Found(NamedTuple):
    """What one look through a part of the history found."""

    pairs: list[tuple[int, int]]
    """(press, the decision that counts), in the order asked for."""
    last: int
    """The last press looked at; where a next look goes on."""
    looked: int
    """Rows looked at."""
    whole: bool
    """Whether there is nothing more in this direction."""


class Source(NamedTuple):
    """An index that gives readings with one of some values of a column."""

    column: str
    values: tuple[object, ...]
    by: str
    """Its name; empty for shifts, which are no index of readings."""
    partial: str = ""
    """What its readings have in common, where it does not hold all of them."""


def find(
    connection: sqlite3.Connection,
    filters: Filters,
    bounds: tuple[int, int],
    *,
    newest_first: bool,
    limit: int,
    scan: int,
) -> Found:
    """Up to ``limit`` readings with a press between ``bounds`` (both exclusive), looking at
    ``scan`` rows at most. Raises StoreError for a store whose tables do not know what is asked."""
    searched = _searched(connection)
    if any(one is not None for one in filters[FORMER:]):
        _needs_searched(connection)
    standings = _standings(connection, filters)
    if standings == ():
        return Found([], bounds[0], 0, whole=True)
    parts = _parts(connection, filters, bounds, searched)
    sources = _sources(filters, standings)
    if newest_first:
        parts.reverse()
    pairs: list[tuple[int, int]] = []
    looked, last = 0, bounds[1] if newest_first else bounds[0]
    for part in parts:
        source = _sparsest(connection, sources, part, newest_first)
        for press, decision, fits in _rows(
            connection, source, filters, standings, part, newest_first, scan - looked
        ):
            looked, last = looked + 1, press
            if fits:
                pairs.append((press, decision))
            if len(pairs) == limit or looked == scan:
                return Found(pairs, last, looked, whole=False)
    return Found(pairs, last, looked, whole=True)


def _searched(connection: sqlite3.Connection) -> bool:
    return schema.version_of(connection) >= schema.SEARCHED


def _needs_searched(connection: sqlite3.Connection) -> None:
    if not _searched(connection):
        raise StoreError(
            "This store was last written by an older program, which kept nothing to search by "
            "operator, result, placement or correction. Mend: open it once with this one "
            "(witnessmark serve)."
        )


def entries(
    connection: sqlite3.Connection, before: int, kind: str | None, limit: int, scan: int
) -> tuple[list[int], int, int]:
    """Seqs of entries below one, newest first, up to ``limit``; below which one to go on (0: there
    is nothing more); and how many rows were looked at, ``scan`` at most. ``kind``: ``press``, or
    one that records have."""
    source = {
        None: "SELECT seq, 1 FROM entry",
        "press": "SELECT seq, 1 FROM (SELECT press AS seq FROM reading)",
    }
    query = source.get(kind, "SELECT seq, kind = :kind FROM record")
    named = {"before": before, "kind": kind, "scan": scan}
    found: list[int] = []
    looked = last = 0
    for last, fits in connection.execute(
        f"{query} WHERE seq < :before ORDER BY seq DESC LIMIT :scan", named
    ):
        looked += 1
        if fits:
            found.append(last)
        if len(found) == limit:
            break
    more = len(found) == limit or looked == scan
    return found, last if more else 0, looked


def reasons(connection: sqlite3.Connection) -> list[str]:
    """The reasons for which some reading of this store is not placed, each found by one step of the
    index. Raises StoreError."""
    _needs_searched(connection)
    found: list[str] = []
    last = ""
    while row := connection.execute(
        "SELECT standing FROM reading WHERE standing > ? AND standing <> 'conforming'"
        " ORDER BY standing LIMIT 1",
        (last,),
    ).fetchone():
        last = row[0]
        if last not in RESULTS:
            found.append(last)
    return found


def operators(connection: sqlite3.Connection) -> list[str]:
    """Everyone who was at the bench for some reading of this store, likewise."""
    _needs_searched(connection)
    found: list[str] = []
    last = ""
    while row := connection.execute(
        "SELECT operator FROM shift WHERE operator > ? ORDER BY operator LIMIT 1", (last,)
    ).fetchone():
        last = row[0]
        found.append(last)
    return found


def _standings(connection: sqlite3.Connection, filters: Filters) -> tuple[str, ...] | None:
    """The standings that fit result, placement and reason together; None where any does."""
    result, placed, reason = filters.result, filters.placed, filters.reason
    if result is None and placed is None and reason is None:
        return None
    unplaced = placed is not True and result in (None, NOT_EVALUATED)
    if reason is not None:
        return (reason,) if unplaced else ()
    fitting = [] if placed is False else [one for one in RESULTS if result in (None, one)]
    return (*fitting, *(reasons(connection) if unplaced else ()))


def _parts(
    connection: sqlite3.Connection, filters: Filters, bounds: tuple[int, int], searched: bool
) -> list[Stretch]:
    """The presses to look among, oldest first."""
    found = [Stretch(1, ENDLESS)]
    if searched:
        found = stretches(connection, filters.since, filters.until)
    low, high = bounds[0] + 1, bounds[1]
    cut = (Stretch(max(part.first, low), min(part.end, high)) for part in found)
    return [part for part in cut if part.first < part.end]


def _sources(filters: Filters, standings: tuple[str, ...] | None) -> list[Source]:
    """What could be followed. Readings that conform have no index: most do."""
    found = []
    if filters.corrected:
        found.append(Source("corrected", (CORRECTED,), "reading_corrected"))
    if filters.build is not None:
        found.append(Source("build", (filters.build,), "reading_by_build"))
    if standings is not None and RESULTS[0] not in standings:
        partial = " AND standing <> 'conforming'"
        found.append(Source("standing", standings, "reading_by_standing", partial))
    if filters.operator is not None:
        found.append(Source("operator", (filters.operator,), ""))
    if filters.instrument is not None:
        found.append(Source("instrument", (filters.instrument,), "reading_by_instrument"))
    return found


def _sparsest(
    connection: sqlite3.Connection, sources: list[Source], part: Stretch, newest_first: bool
) -> Source | None:
    """The source whose readings lie farthest apart where the look begins."""
    if len(sources) < 2:
        return sources[0] if sources else None
    return min(sources, key=lambda source: _density(connection, source, part, newest_first))


def _density(
    connection: sqlite3.Connection, source: Source, part: Stretch, newest_first: bool
) -> float:
    """Readings to a seq, near the side from which the part is looked through."""
    found = _followed(connection, source, ("1", []), part, newest_first, PROBE)
    presses = [row[0] for row in islice(found, PROBE)]
    if len(presses) < PROBE:
        return len(presses) / (part.end - part.first)
    return PROBE / (part.end - presses[-1] if newest_first else presses[-1] - part.first + 1)


def _rows(
    connection: sqlite3.Connection,
    source: Source | None,
    filters: Filters,
    standings: tuple[str, ...] | None,
    part: Stretch,
    newest_first: bool,
    most: int,
) -> Iterator[Row]:
    """(press, decision, whether it fits), in order, ``most`` at most."""
    fits = _condition(filters, standings, source)
    if source is None:
        return iter(_among(connection, fits, "", (), part, newest_first, most))
    return islice(_followed(connection, source, fits, part, newest_first, most), most)


def _followed(
    connection: sqlite3.Connection,
    source: Source,
    fits: Condition,
    part: Stretch,
    newest_first: bool,
    most: int,
) -> Iterator[Row]:
    """The readings of a source, in order; ``most`` of each of its values at most."""
    if not source.by:
        for shift in _shifts(connection, source.values[0], part, newest_first):
            yield from _among(connection, fits, "", (), shift, newest_first, most)
        return
    index = f" INDEXED BY {source.by} WHERE {source.column} = ?{source.partial} AND"
    runs = [
        _among(connection, fits, index, (one,), part, newest_first, most) for one in source.values
    ]
    yield from heapq.merge(*runs, reverse=newest_first)


def _among(
    connection: sqlite3.Connection,
    fits: Condition,
    index: str,
    value: tuple[object, ...],
    part: Stretch,
    newest_first: bool,
    most: int,
) -> sqlite3.Cursor:
    order = "DESC" if newest_first else "ASC"
    return connection.execute(
        f"SELECT press, decision, {fits[0]} FROM reading{index or ' WHERE'}"
        f" press >= ? AND press < ? ORDER BY press {order} LIMIT ?",
        (*fits[1], *value, *part, most),
    )


def _shifts(
    connection: sqlite3.Connection, operator: object, part: Stretch, newest_first: bool
) -> Iterator[Stretch]:
    """The presses of a part during which somebody was at the bench, shift by shift."""
    before = connection.execute(
        "SELECT max(press) FROM shift WHERE press <= ?", (part.first,)
    ).fetchone()[0]
    order = "DESC" if newest_first else "ASC"
    begins = connection.execute(
        "SELECT press FROM shift WHERE operator = ? AND press >= ? AND press < ?"
        f" ORDER BY press {order}",
        (operator, before or part.first, part.end),
    )
    for (begin,) in begins:
        (end,) = connection.execute(
            "SELECT min(press) FROM shift WHERE press > ?", (begin,)
        ).fetchone()
        yield Stretch(max(begin, part.first), min(end or ENDLESS, part.end))


def _condition(
    filters: Filters, standings: tuple[str, ...] | None, source: Source | None
) -> Condition:
    """What is looked up in each row that a source gives, as SQL and its values."""
    asked: list[tuple[str, tuple[object, ...]]] = []
    followed = "" if source is None else source.column
    for column in ("build", "instrument", "operator"):
        value = getattr(filters, column)
        if value is not None and column != followed:
            asked.append((f"{column} = ?", (value,)))
    if standings is not None and followed != "standing":
        asked.append((f"standing IN ({','.join('?' * len(standings))})", standings))
    if filters.corrected is not None and followed != "corrected":
        asked.append((f"corrected IS {'NOT ' if filters.corrected else ''}NULL", ()))
    if filters.since is not None:
        asked.append(("at >= ?", (filters.since,)))
    if filters.until is not None:
        asked.append(("at < ?", (filters.until,)))
    # a column that holds nothing fits nothing
    text = " AND ".join(f"coalesce({one}, 0)" for one, _ in asked) or "1"
    return text, [value for _, values in asked for value in values]
