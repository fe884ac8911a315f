"""What verifying a ledger costs, beside what hashing and parsing its bytes costs at the least."""

from __future__ import annotations

from contextlib import closing

from capture.verify import verify
from tests.benchmarks.bare import hash_and_parse
from tests.benchmarks.product import Product

AT_ONCE = 20_000


def bare_seconds(peer: Product) -> dict[str, float]:
    """Seconds of one SHA-256 and one JSON parse of every entry, by the parser's name.

    The entries are in memory when the clock starts: reading them is not counted.
    """
    spent: dict[str, float] = {}
    with closing(peer.open()) as connection:
        cursor = connection.execute("SELECT bytes FROM entry ORDER BY seq")
        while rows := cursor.fetchmany(AT_ONCE):
            for name, value in hash_and_parse([data for (data,) in rows]).items():
                spent[name] = spent.get(name, 0.0) + value
    return spent


def verify_seconds(peer: Product, wrong: list[str]) -> dict[str, float]:
    """Seconds of every part of ``verify``, by its name; what it finds is ``wrong``."""
    report = verify(peer.store)
    if not report.ok:
        wrong.append(f"verify found {len(report.problems)} problems: {report.problems[:3]}")
    return report.seconds
