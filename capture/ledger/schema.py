"""The tables of a store, as numbered steps; each is applied and recorded in one transaction.

``entry`` is the ledger: everything else can be rebuilt from it. ``leaf`` is the entry's leaf hash
and ``node`` the complete nodes of the hash tree at every eighth level, so that a proof never
reads more than a few hundred rows. ``checkpoint`` keeps the signed tree heads given out.
``reading``, ``record`` and ``idempotency`` are projections.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from capture.errors import StoreDamaged

APPLICATION_ID = 0x774D6172
"""``wMar``: marks the SQLite file as one of ours."""


def _first(connection: sqlite3.Connection) -> None:
    from sqlite_utils import Database

    db = Database(connection)
    entry = {"seq": int, "leaf": bytes, "bytes": bytes}
    db.table("entry").create(entry, pk="seq", not_null={"leaf", "bytes"})
    db.table("node").create({"level": int, "idx": int, "hash": bytes}, pk=("level", "idx"))
    db.table("checkpoint").create({"size": int, "note": str}, pk="size", not_null={"note"})
    db.table("reading").create(
        {
            "press": int,
            "decision": int,
            "instrument": str,
            "at": str,
            "build": str,
            "moved_from": str,
        },
        pk="press",
    )
    db.table("reading").create_index(["instrument", "press"])
    db.execute("CREATE INDEX reading_by_build ON reading(build, press) WHERE build IS NOT NULL")
    db.execute(
        "CREATE INDEX reading_moved ON reading(moved_from, press) WHERE moved_from IS NOT NULL"
    )
    db.table("record").create({"seq": int, "kind": str, "name": str}, pk="seq", not_null={"kind"})
    db.table("record").create_index(["kind", "name", "seq"])
    db.table("idempotency").create({"key": str, "seq": int, "request": str}, pk="key")


STEPS: tuple[Callable[[sqlite3.Connection], None], ...] = (_first,)


def migrate(connection: sqlite3.Connection) -> None:
    """Brings a store's tables up to date. Raises StoreDamaged for a file that is not ours or is
    newer than this program."""
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    if version and application != APPLICATION_ID:
        raise StoreDamaged("The database in this folder is not a witnessmark store.")
    if version > len(STEPS):
        raise StoreDamaged(
            f"This store has tables of version {version}; this program knows {len(STEPS)}. "
            "Use the newer program."
        )
    for number in range(version, len(STEPS)):
        connection.execute("BEGIN IMMEDIATE")
        try:
            STEPS[number](connection)
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {number + 1}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
