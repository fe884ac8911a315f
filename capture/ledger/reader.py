"""Reading a store, from any thread: a connection for each, and all of them closed in the end."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Concatenate, ParamSpec, TypeVar

from capture.errors import StoreError

P = ParamSpec("P")
T = TypeVar("T")
R = TypeVar("R", bound="Reader")


def reading(method: Callable[Concatenate[R, P], T]) -> Callable[Concatenate[R, P], T]:
    """Counts a call that reads, so that ``close`` can wait for it: closing a connection under a
    thread that is using it crashes the process."""

    @wraps(method)
    def counted(reader: R, /, *arguments: P.args, **named: P.kwargs) -> T:
        reader._enter()
        try:
            return method(reader, *arguments, **named)
        finally:
            reader._leave()

    return counted


class Reader:
    """The read-only connections to one database. Safe to call from any thread."""

    def __init__(self, path: Path) -> None:
        """Raises StoreError where the database cannot be read."""
        self._path = path
        self._local = threading.local()
        self._connections: list[sqlite3.Connection] = []
        self._guard = threading.Lock()
        self._idle = threading.Condition()
        self._active = 0
        self._closed = False
        self._connection()

    def _connection(self) -> sqlite3.Connection:
        """This thread's connection."""
        found: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if found is None:
            try:
                found = sqlite3.connect(
                    f"{self._path.absolute().as_uri()}?mode=ro",
                    uri=True,
                    isolation_level=None,
                    check_same_thread=False,
                )
            except sqlite3.Error as error:
                raise StoreError(f"The ledger {self._path} cannot be read: {error}.") from error
            self._local.connection = found
            with self._guard:
                self._connections.append(found)
        return found

    def _enter(self) -> None:
        with self._idle:
            if self._closed:
                raise StoreError("The store is closed.")
            self._active += 1

    def _leave(self) -> None:
        with self._idle:
            self._active -= 1
            if not self._active:
                self._idle.notify_all()

    def close(self) -> None:
        """Closes every thread's connection, once what is being read has been read."""
        with self._idle:
            self._closed = True
            self._idle.wait_for(lambda: not self._active)
        with self._guard:
            for connection in self._connections:
                connection.close()
            self._connections.clear()
        self._local = threading.local()
