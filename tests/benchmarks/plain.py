"""The peer: the plain script one would write for this, and nothing that it would leave out.

port → parse → limit check → hash chain → synchronous SQLite commit → server-sent event. One
commit for each line, or (``--group``) one for all lines that have arrived. It places nothing, keeps
no tree, knows no uncertainty: what it costs is what any program for this job must cost.

``python -m tests.benchmarks.plain [--group] [--stamp DESCRIPTOR] PORT DATABASE TTY…``
(``--stamp`` is for measuring, see ``stamp``.)
"""

from __future__ import annotations

import argparse
import asyncio
import hashlib
import json
import os
import sqlite3
import time
import tty
from collections.abc import AsyncIterator, Callable
from decimal import Decimal

import uvicorn
from fastapi import FastAPI
from fastapi.responses import StreamingResponse

from tests.benchmarks.stamp import stamper
from tests.benchmarks.wire import LOWER, UPPER

TABLE = (
    "CREATE TABLE ledger(seq INTEGER PRIMARY KEY, at REAL, tty TEXT, raw TEXT, value TEXT, "
    "unit TEXT, verdict TEXT, previous TEXT, hash TEXT)"
)
INSERT = "INSERT INTO ledger VALUES(?,?,?,?,?,?,?,?,?)"
GROUP = 1000
Record = dict[str, str | int | float]
Row = tuple[str | int | float, ...]


def link(record: Record) -> str:
    """The hash of a record, which contains the hash before it."""
    text = json.dumps(record, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


class Script:
    """All of it."""

    def __init__(self, database: str, group: bool, stamp: Callable[[int], None] | None) -> None:
        self.group, self.stamp = group, stamp
        self.lower, self.upper = Decimal(LOWER), Decimal(UPPER)
        self.connection = sqlite3.connect(database, isolation_level=None)
        self.connection.execute("PRAGMA journal_mode=WAL")
        self.connection.execute("PRAGMA synchronous=FULL")
        self.connection.execute(TABLE)
        self.head, self.seq = "0" * 64, 0
        self.listeners: set[asyncio.Queue[bytes]] = set()
        self.waiting: list[tuple[str, bytes]] = []
        self.wake = asyncio.Event()

    def attach(self, name: str) -> None:
        """Reads lines from a terminal."""
        descriptor = os.open(name, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(descriptor)
        rest = b""

        def ready() -> None:
            nonlocal rest
            *lines, rest = (rest + os.read(descriptor, 65536)).split(b"\n")
            if self.group:
                self.waiting += [(name, line) for line in lines]
                self.wake.set()
            else:
                for line in lines:
                    self.store([(name, line)])

        asyncio.get_running_loop().add_reader(descriptor, ready)

    def store(self, lines: list[tuple[str, bytes]]) -> None:
        """Checks, chains and commits lines, then tells who listens."""
        made = [self.record(name, line) for name, line in lines]
        self.connection.execute("BEGIN IMMEDIATE")
        self.connection.executemany(INSERT, [row for _, row in made])
        self.connection.execute("COMMIT")
        if self.stamp is not None:
            self.stamp(self.seq)
        for record, _ in made:
            event = b"data: " + json.dumps(record).encode() + b"\n\n"
            for listener in self.listeners:
                listener.put_nowait(event)

    def record(self, name: str, line: bytes) -> tuple[Record, Row]:
        raw = line.decode().strip()
        number, unit = raw.split()
        value = Decimal(number)
        verdict = "pass" if self.lower <= value <= self.upper else "fail"
        self.seq += 1
        record: Record = {
            "seq": self.seq,
            "at": time.time(),
            "tty": name,
            "raw": raw,
            "value": str(value),
            "unit": unit,
            "verdict": verdict,
            "previous": self.head,
        }
        self.head = link(record)
        return record, (*record.values(), self.head)

    async def commit_groups(self) -> None:
        """Commits what has arrived; lets the loop read on in between."""
        while True:
            await self.wake.wait()
            some, self.waiting = self.waiting[:GROUP], self.waiting[GROUP:]
            if not self.waiting:
                self.wake.clear()
            if some:
                self.store(some)
            await asyncio.sleep(0)

    async def events(self) -> AsyncIterator[bytes]:
        queue: asyncio.Queue[bytes] = asyncio.Queue()
        self.listeners.add(queue)
        try:
            yield b": listening\n\n"
            while True:
                yield await queue.get()
        finally:
            self.listeners.discard(queue)


async def serve(script: Script, port: int, terminals: list[str]) -> None:
    """Runs until it is told to stop."""
    app = FastAPI()

    @app.get("/events")
    async def events() -> StreamingResponse:
        return StreamingResponse(script.events(), media_type="text/event-stream")

    for name in terminals:
        script.attach(name)
    server = uvicorn.Server(
        uvicorn.Config(
            app, host="127.0.0.1", port=port, log_level="error", timeout_graceful_shutdown=1
        )
    )
    async with asyncio.TaskGroup() as tasks:
        committer = tasks.create_task(script.commit_groups())
        await server.serve()
        committer.cancel()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--group", action="store_true")
    parser.add_argument("--stamp", type=int)
    parser.add_argument("port", type=int)
    parser.add_argument("database")
    parser.add_argument("terminals", nargs="+")
    asked = parser.parse_args()
    stamp = None if asked.stamp is None else stamper(asked.stamp)
    script = Script(asked.database, asked.group, stamp)
    asyncio.run(serve(script, asked.port, asked.terminals))


if __name__ == "__main__":
    main()
