"""Reading 100 readings out of many: the same page should cost the same however long the history.

The stores are made once, by flooding a service that has no build open, and kept; both services
then run side by side and are asked in turns for pages that begin anywhere.
"""

from __future__ import annotations

import random
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

import httpx

from tests.benchmarks.capacity import pour
from tests.benchmarks.measure import Spread, spread
from tests.benchmarks.product import Product

PAGE = 100
SEED = 20


def pages(
    folder: Path, sizes: tuple[int, int], requests: int, say: Callable[[str], None]
) -> tuple[Spread, Spread]:
    """Seconds of one page's request, out of stores of two sizes (in readings)."""
    small, large = (_kept(folder / f"paging-{size}", size, say) for size in sizes)
    chance = random.Random(SEED)
    taken: tuple[list[float], list[float]] = ([], [])
    with small, large, _client(small) as to_small, _client(large) as to_large:
        clients = ((to_small, sizes[0]), (to_large, sizes[1]))
        for number in range(requests + 20):
            for times, (client, size) in zip(taken, clients, strict=True):
                after = chance.randrange(2 * size - 4 * PAGE)
                began = time.perf_counter()
                answer = client.get(f"/v1/readings?after={after}&limit={PAGE}")
                seconds = time.perf_counter() - began
                if len(answer.json()["readings"]) != PAGE:
                    raise RuntimeError(f"not a full page: {answer.text[:300]}")
                if number >= 20:  # the first are for caches to warm
                    times.append(seconds)
    return spread(taken[0]), spread(taken[1])


def _client(peer: Product) -> httpx.Client:
    return httpx.Client(base_url=f"http://127.0.0.1:{peer.port}", timeout=30)


def _kept(folder: Path, readings: int, say: Callable[[str], None]) -> Product:
    peer = Product(folder, steps=0, keep=True)
    if _count(peer) < readings:
        say(f"making a store of {readings:,} readings, once")
        with Product(folder, steps=0) as fresh:
            pour(fresh, readings, fresh.last())
    return peer


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
