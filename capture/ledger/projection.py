"""The projections as they follow from the entries alone, to hold against those in a store.

``Projection`` builds them anew with sqlite-utils in a database of its own; ``differences`` names
what a store has otherwise.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Any

from capture.entry import Envelope, Kind
from capture.ledger import schema
from capture.ledger.order import Order
from capture.ledger.record import CORRECTED, ZERO, record_name, standing

TABLES = ("reading", "record", "idempotency", "clock_back", "shift")
_CHUNK = 5000


class Projection:
    """Rows of every projection, added entry by entry in order of seq."""

    def __init__(self) -> None:
        # On disk, deleted with the connection: a million rows need not sit in memory.
        self.connection = sqlite3.connect("", isolation_level=None)
        schema.migrate(self.connection)
        self._readings: dict[int, dict[str, Any]] = {}
        self._records: list[dict[str, Any]] = []
        self._keys: list[dict[str, Any]] = []
        self._order = Order()
        self._press: Envelope | None = None

    def add(self, entry: Envelope) -> None:
        """Takes the next entry."""
        kind, body = entry["kind"], entry["body"]
        if kind == Kind.PRESS:
            self._press = entry
        elif kind == Kind.DECISION:
            self._decision(entry, body)
        if kind != Kind.PRESS and not (kind == Kind.DECISION and body["by"] == "rule"):
            self._records.append({"seq": entry["seq"], "kind": kind, "name": record_name(entry)})
        if kind == Kind.DECISION and body["by"] == "rule" and "zero" in body:
            assert self._press is not None
            name = self._press["body"]["instrument"]
            self._records.append({"seq": entry["seq"], "kind": ZERO, "name": name})
        key = body.get("idempotency")
        if key is not None:
            # A person's decision answers with the reading it is on, everything else with itself.
            seq = body["press"] if kind == Kind.DECISION else entry["seq"]
            self._keys.append({"key": key["key"], "seq": seq, "request": key["request"]})
        if len(self._readings) + len(self._records) >= _CHUNK:
            self._flush()

    def _decision(self, entry: Envelope, body: dict[str, Any]) -> None:
        press = body["press"]
        found_by = {
            "standing": standing(body),
            "corrected": CORRECTED if body.get("corrected") else None,
        }
        if body["by"] == "rule":
            assert self._press is not None
            self._order.add(press, self._press["at"], self._press["operator"])
            self._readings[press] = {
                "press": press,
                "decision": entry["seq"],
                "instrument": self._press["body"]["instrument"],
                "at": self._press["at"],
                "build": body["build"],
                "moved_from": None,
                "operator": self._press["operator"],
                **found_by,
            }
            return
        row = self._readings.get(press) or self._stored(press)
        build = body["build"] or row["build"]
        first = body["first_build"]
        moved = first if first != build else None
        self._readings[press] = {
            **row, "decision": entry["seq"], "build": build, "moved_from": moved, **found_by,
        }  # fmt: skip

    def _stored(self, press: int) -> dict[str, Any]:
        from sqlite_utils import Database

        return dict(Database(self.connection).table("reading").get(press))

    def _flush(self) -> None:
        from sqlite_utils import Database

        db = Database(self.connection)
        db.table("reading").upsert_all(self._readings.values(), pk="press")
        db.table("record").insert_all(self._records)
        db.table("idempotency").insert_all(self._keys)
        db.table("clock_back").insert_all({"press": one[0]} for one in self._order.clock_back)
        db.table("shift").insert_all(
            {"press": press, "operator": operator} for press, operator in self._order.shifts
        )
        self._readings.clear()
        self._records.clear()
        self._keys.clear()
        self._order = self._order.going_on()

    def finish(self) -> sqlite3.Connection:
        """All rows written; the database they are in."""
        self._flush()
        return self.connection


def differences(
    stored: sqlite3.Connection, projection: Projection
) -> Iterator[tuple[int | None, str]]:
    """(seq, what is otherwise) for every row that the entries do not give."""
    rebuilt = projection.finish()
    version = schema.version_of(stored)
    try:
        for table in TABLES:
            names = schema.columns(version, table)
            if not names:  # the store is of an older program, which did not have this
                continue
            key = "seq" if "seq" in names else "press"
            query = f"SELECT {','.join(names)} FROM {table} ORDER BY {key}"
            yield from _compare(table, stored.execute(query), rebuilt.execute(query))
    finally:
        rebuilt.close()


def _compare(
    table: str, stored: sqlite3.Cursor, rebuilt: sqlite3.Cursor
) -> Iterator[tuple[int | None, str]]:
    at = 0 if table != "idempotency" else 1
    while True:
        one, two = stored.fetchmany(_CHUNK), rebuilt.fetchmany(_CHUNK)
        if one != two:
            for mine, theirs in zip(one, two, strict=False):
                if mine != theirs:
                    seq = int(theirs[at])
                    yield seq, f"{table}: the store has {mine}, the entries give {theirs}."
                    return
            extra = (one if len(one) > len(two) else two)[min(len(one), len(two))]
            where = "the store" if len(one) > len(two) else "the entries"
            yield int(extra[at]), f"{table}: only {where} has the row {extra}."
            return
        if not one:
            return


def rebuild(connection: sqlite3.Connection, entries: Iterable[Envelope]) -> None:
    """Replaces every projection in a store by what its entries give, in one transaction.

    ``connection`` is open for writing, with nobody else writing; ``entries`` in order of seq.
    """
    projection = Projection()
    for entry in entries:
        projection.add(entry)
    rebuilt = projection.finish()
    connection.execute("BEGIN IMMEDIATE")
    try:
        for table in TABLES:
            columns = [row[1] for row in connection.execute(f"PRAGMA table_info({table})")]
            names = ",".join(columns)
            connection.execute(f"DELETE FROM {table}")
            connection.executemany(
                f"INSERT INTO {table}({names}) VALUES ({','.join('?' * len(columns))})",
                rebuilt.execute(f"SELECT {names} FROM {table}"),
            )
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise
    finally:
        rebuilt.close()
