"""Reading 100 readings out of many: the same page should cost the same however long the history.

The stores are made once, by flooding a service that has no build open, and kept; both services
then run side by side and are asked in turns for pages that begin anywhere.

For filtered pages, what filters look at is spread over the flooded readings by hand, in the tables
alone: it is finding that is measured here, not deciding. One reading in a hundred each is
nonconforming, corrected, or by a person who is seldom there.
"""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import httpx

from capture.ledger.store import Store
from tests.benchmarks.capacity import pour
from tests.benchmarks.measure import Spread, spread
from tests.benchmarks.product import Product

PAGE = 100
SEED = 20


ALL = f"/v1/readings?after={{after}}&limit={PAGE}"
FILTERED = {
    "one verdict in a hundred": "/v1/readings?after={after}&limit=20&result=nonconforming",
    "not placed": "/v1/readings?after={after}&limit=20&placed=false",
    "a person seldom there, with the usual verdict": (
        "/v1/readings?after={after}&limit=20&operator=seldom&result=conforming"
    ),
    "corrected, of one instrument": (
        "/v1/readings?after={after}&limit=20&corrected=true&instrument=micrometer-1"
    ),
    "one build": "/v1/readings?build=b{build}&limit=20",
    "from a moment on": "/v1/readings?since={at}&limit=20",
    "the page, newest first, one verdict": "/history?before={after}&result=nonconforming",
}
"""What is asked → address."""

_SPREAD = """
UPDATE reading SET
    operator = CASE WHEN press / 2 * 7919 % 100 = 7 THEN 'seldom' ELSE 'usual' END,
    standing = CASE
        WHEN press / 2 * 104729 % 1000 < 900 THEN 'conforming'
        WHEN press / 2 * 104729 % 1000 < 910 THEN 'nonconforming'
        WHEN press / 2 * 104729 % 1000 < 950 THEN 'late'
        ELSE 'decimal-slip' END,
    corrected = CASE WHEN press / 2 * 1299709 % 100 = 3 THEN 1 END,
    build = 'b' || (press / 600);
DELETE FROM shift;
INSERT INTO shift SELECT press, operator FROM
    (SELECT press, operator, lag(operator) OVER (ORDER BY press) AS before FROM reading)
    WHERE before IS NOT operator;
"""


def pages(
    folder: Path, sizes: tuple[int, int], requests: int, say: Callable[[str], None]
) -> dict[str, tuple[Spread, Spread]]:
    """Seconds of one page's request, out of stores of two sizes (in readings), by what is asked,
    the page without filters first."""
    small, large = (_kept(folder / f"paging-{size}", size, say) for size in sizes)
    chance = random.Random(SEED)
    found: dict[str, tuple[Spread, Spread]] = {}
    with small, large, _client(small) as to_small, _client(large) as to_large:
        clients = ((small, to_small, sizes[0]), (large, to_large, sizes[1]))
        for name, address in {"all": ALL, **FILTERED}.items():
            taken: tuple[list[float], list[float]] = ([], [])
            for number in range(requests + 20):
                for times, (peer, client, size) in zip(taken, clients, strict=True):
                    seconds = _once(client, address, peer, chance.randrange(size), size)
                    if number >= 20:  # the first are for caches to warm
                        times.append(seconds)
            found[name] = spread(taken[0]), spread(taken[1])
    return found


def _once(client: httpx.Client, address: str, peer: Product, number: int, size: int) -> float:
    """Seconds of one answer, which must be a full page."""
    after = max(2 * PAGE * 100, number) if "before" in address else number
    where = address.format(after=after, build=1 + after // 600, at=_moment(peer, address, number))
    began = time.perf_counter()
    answer = client.get(where)
    seconds = time.perf_counter() - began
    wanted = PAGE if f"limit={PAGE}" in address else 20
    shown = answer.text.count('<tr data-seq="') if "history" in where else 0
    if (shown or len(answer.json()["readings"])) < wanted:
        raise RuntimeError(f"not a full page: {where}: {answer.text[:300]}")
    return seconds


def _moment(peer: Product, address: str, number: int) -> str:
    """When the reading was taken that stands so far from the first; the first half of a store."""
    if "{at}" not in address:
        return ""
    with closing(peer.open()) as connection:
        row = connection.execute("SELECT at FROM reading WHERE press >= ?", (number,)).fetchone()
    return str(row[0])


def _client(peer: Product) -> httpx.Client:
    return httpx.Client(base_url=f"http://127.0.0.1:{peer.port}", timeout=30)


def _kept(folder: Path, readings: int, say: Callable[[str], None]) -> Product:
    peer = Product(folder, steps=0, keep=True)
    if _count(peer) < readings:
        say(f"making a store of {readings:,} readings, once")
        with Product(folder, steps=0) as fresh:
            pour(fresh, readings, fresh.last())
    _spread(peer, say)
    return peer


def _spread(peer: Product, say: Callable[[str], None]) -> None:
    """Spreads what filters look at, once. An older store gets its columns first."""
    Store(peer.store).close()
    with closing(sqlite3.connect(peer.database(), isolation_level=None)) as connection:
        if connection.execute("SELECT 1 FROM reading WHERE operator = 'usual'").fetchone() is None:
            say("spreading verdicts, people and builds over it, once")
            connection.executescript(_SPREAD)


def _count(peer: Product) -> int:
    """Readings in a store; by the index of its primary key, so at once."""
    if not peer.database().exists():
        return 0
    connection = peer.open()
    try:
        return int(connection.execute("SELECT max(press) FROM reading").fetchone()[0] or 0) // 2
    except sqlite3.DatabaseError:
        return 0
    finally:
        connection.close()
