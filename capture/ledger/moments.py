"""Finding readings by time, where a bench's clock may have been set back.

Readings are kept in the order they were taken, and so, nearly, in the order of their moments: a
stretch of them is searched by halves. Two devices may overtake each other by a little, ``SLACK``; a
clock that was set back by more begins another stretch, and ``clock_back`` keeps the press it begins
with. Within a stretch no reading is older than the newest before it by more than ``SLACK``, so what
lies outside the presses found here lies outside the period, however the clock went.
"""

from __future__ import annotations

import sqlite3
from datetime import datetime, timedelta
from typing import NamedTuple

SLACK = timedelta(milliseconds=200)
ENDLESS = 2**62
"""Beyond every seq."""


class Stretch(NamedTuple):
    """Presses from ``first`` on, before ``end``."""

    first: int
    end: int


def went_back(newest: str, at: str) -> bool:
    """Whether a reading is older than the newest before it by more than devices overtake."""
    return at < newest and datetime.fromisoformat(newest) - datetime.fromisoformat(at) > SLACK


def newest_moment(connection: sqlite3.Connection) -> str:
    """The newest moment of the last stretch; empty where there is no reading."""
    began = connection.execute("SELECT max(press) FROM clock_back").fetchone()[0] or 0
    newest = ""
    for (at,) in connection.execute(
        "SELECT at FROM reading WHERE press >= ? ORDER BY press DESC", (began,)
    ):
        if at > newest:
            newest = at
        elif went_back(newest, at):
            break  # whatever stands before it is older still
    return newest


def stretches(
    connection: sqlite3.Connection, since: str | None, until: str | None
) -> list[Stretch]:
    """The presses among which every reading from ``since`` (inclusive) to ``until`` (exclusive)
    lies, oldest first. Where devices overtook each other, a few that do not lie among them too."""
    earliest = None if since is None else _moved(since, -SLACK)
    latest = None if until is None else _moved(until, SLACK)
    if earliest is None and latest is None:
        return [Stretch(1, ENDLESS)]
    begins = [1, *(row[0] for row in connection.execute("SELECT press FROM clock_back"))]
    found: list[Stretch] = []
    for begin, end in zip(begins, [*begins[1:], ENDLESS], strict=True):
        first, last = begin, end
        if earliest is not None:
            first = _first(connection, begin, end, earliest)
            first = _edge(connection, "at >= ?", since, Stretch(first, end), "ASC") or end
        if latest is not None:
            last = _first(connection, begin, end, latest)
            last = (_edge(connection, "at < ?", until, Stretch(first, last), "DESC") or 0) + 1
        if first < last:
            found.append(Stretch(first, last))
    return found


def _edge(
    connection: sqlite3.Connection, fits: str, moment: str | None, within: Stretch, order: str
) -> int | None:
    """The first press from one side that fits: halving found a place at most ``SLACK`` before it,
    and at the rates of a flood that is many presses."""
    row = connection.execute(
        f"SELECT press FROM reading WHERE press >= ? AND press < ? AND {fits}"
        f" ORDER BY press {order} LIMIT 1",
        (*within, moment),
    ).fetchone()
    return None if row is None else int(row[0])


def _first(connection: sqlite3.Connection, begin: int, end: int, moment: str) -> int:
    """The first press from ``begin`` on that is not older than ``moment``, as far as halving
    finds; ``end`` where all before it are older."""
    if end == ENDLESS:
        newest = connection.execute("SELECT max(press) FROM reading").fetchone()[0] or 0
        low, high = begin, max(begin, newest + 1)
    else:
        low, high = begin, end
    top = high
    while low < high:
        middle = (low + high) // 2
        row = connection.execute(
            "SELECT press, at FROM reading WHERE press >= ? AND press < ? ORDER BY press LIMIT 1",
            (middle, high),
        ).fetchone()
        if row is None or row[1] >= moment:
            high = middle
        else:
            low = row[0] + 1
    return end if low >= top else low


def _moved(moment: str, by: timedelta) -> str | None:
    """A moment earlier or later, as entries write it; None where it is no moment of a calendar, and
    every reading has to be looked at."""
    try:
        moved = datetime.fromisoformat(moment).replace(tzinfo=None) + by
    except (ValueError, OverflowError):
        return None
    return moved.isoformat(timespec="microseconds") + "Z"
