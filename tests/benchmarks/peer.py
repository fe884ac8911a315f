"""A program under measurement: a process that reads terminals, stores, and serves events."""

from __future__ import annotations

import os
import pty
import select
import shutil
import socket
import sqlite3
import subprocess
import sys
import time
import tty
from abc import ABC, abstractmethod
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

from tests.benchmarks import plain
from tests.benchmarks.bare import environment
from tests.benchmarks.stamp import next_stamp
from tests.support import free_port

PATIENCE_SECONDS = 60.0
ROOT = Path(__file__).parents[2]


class Stored(NamedTuple):
    """What is in a peer's store after a flood."""

    readings: int
    evaluated: int
    """How many of them were placed and have a verdict."""
    sound: bool
    """Whether the chain or tree over them verifies."""


class Terminals:
    """Pseudo-terminals: we hold one end, the program opens the other as a serial port."""

    def __init__(self, count: int) -> None:
        self._pairs = [pty.openpty() for _ in range(count)]
        for pair in self._pairs:
            for descriptor in pair:
                tty.setraw(descriptor)
        self.ours = [ours for ours, _ in self._pairs]
        self.names = [os.ttyname(theirs) for _, theirs in self._pairs]

    def close(self) -> None:
        for pair in self._pairs:
            for descriptor in pair:
                os.close(descriptor)


class Peer(ABC):
    """Starts on ``with``, stops after it. ``folder`` is made anew, unless it is to be kept."""

    events: str
    """Path of its event stream."""
    mark: bytes
    """What each event of a reading contains exactly once."""

    def __init__(self, folder: Path, terminals: int = 1, *, keep: bool = False) -> None:
        self.folder = folder
        self._keep = keep
        self.port = free_port()
        self._count = terminals
        self._reader: sqlite3.Connection | None = None
        self.start_seconds = 0.0
        self.began = 0.0
        self.stamped = False
        """Whether it is to tell the moment of each commit; set before it starts."""
        self.stamp_in = self.stamp_out = -1

    @abstractmethod
    def command(self) -> list[str]: ...

    @abstractmethod
    def database(self) -> Path: ...

    @abstractmethod
    def last(self) -> int:
        """The newest sequence number that another connection can see: so it is on disk, for in
        WAL mode with synchronous=FULL SQLite shows a commit only after its sync."""

    def stamp_after(self, began: float) -> float:
        """Seconds from ``began`` to the next commit's stamp."""
        return next_stamp(self.stamp_in, PATIENCE_SECONDS).seconds - began

    def drain_stamps(self) -> None:
        """Forgets the stamps that have come so far."""
        while select.select([self.stamp_in], [], [], 0)[0]:
            next_stamp(self.stamp_in, 0)

    @abstractmethod
    def stored(self) -> Stored:
        """Counts and verifies what it has left on disk; after it has ended."""

    per_press: int
    """Sequence numbers a press uses."""

    @abstractmethod
    def prepare(self) -> None:
        """Writes what the command needs into the folder."""

    @abstractmethod
    def ready(self) -> None:
        """Does what must be done once it serves."""

    def __enter__(self) -> Peer:
        if not self._keep:
            shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True, exist_ok=True)
        self.terminals = Terminals(self._count)
        if self.stamped:
            self.stamp_in, self.stamp_out = os.pipe()
        self.prepare()
        began = self.began = time.monotonic()
        with open(self.folder / "log.txt", "wb") as log:
            self.process = subprocess.Popen(
                self.command(),
                cwd=ROOT,
                env=environment(),
                stdout=log,
                stderr=log,
                stdin=subprocess.DEVNULL,
                pass_fds=[self.stamp_out] if self.stamped else [],
            )
        try:
            self._await_port(began)
            self.start_seconds = time.monotonic() - began
            self.ready()
        except BaseException:
            self.__exit__(None, None, None)
            raise
        return self

    def _await_port(self, began: float) -> None:
        while True:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=5).close()
                return
            except OSError:
                if self.process.poll() is not None or time.monotonic() - began > PATIENCE_SECONDS:
                    raise RuntimeError(f"it does not serve: {self.log()}") from None
                time.sleep(0.002)

    def log(self) -> str:
        return (self.folder / "log.txt").read_text(errors="replace")[-2000:]

    def until(self, condition: Callable[[], bool], what: str) -> None:
        """Waits for a condition; raises if it does not come or the program ends."""
        began = time.monotonic()
        while not condition():
            if self.process.poll() is not None or time.monotonic() - began > PATIENCE_SECONDS:
                raise RuntimeError(f"not seen: {what}: {self.log()}")
            time.sleep(0.01)

    def open(self) -> sqlite3.Connection:
        """A read-only connection to its database."""
        return sqlite3.connect(f"file:{self.database()}?mode=ro", uri=True, timeout=10)

    def number(self, query: str) -> int:
        """The one number that a query gives (0 for NULL), over a connection that is kept."""
        if self._reader is None:
            self._reader = self.open()
        return int(self._reader.execute(query).fetchone()[0] or 0)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._reader is not None:
            self._reader.close()
            self._reader = None
        self.process.terminate()
        try:
            self.process.wait(PATIENCE_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self.terminals.close()
        if self.stamped:
            os.close(self.stamp_in)
            os.close(self.stamp_out)


class Plain(Peer):
    """The plain script."""

    events = "/events"
    mark = b"data: "
    per_press = 1

    def __init__(self, folder: Path, terminals: int = 1, *, group: bool) -> None:
        super().__init__(folder, terminals)
        self._group = group

    def command(self) -> list[str]:
        mode = ["--group"] if self._group else []
        mode += ["--stamp", str(self.stamp_out)] if self.stamped else []
        where = [str(self.port), str(self.database()), *self.terminals.names]
        return [sys.executable, "-m", "tests.benchmarks.plain", *mode, *where]

    def prepare(self) -> None:
        """It needs nothing."""

    def ready(self) -> None:
        """It is ready as it stands."""

    def database(self) -> Path:
        return self.folder / "plain.db"

    def last(self) -> int:
        return self.number("SELECT max(seq) FROM ledger")

    def stored(self) -> Stored:
        previous, count, sound = "0" * 64, 0, True
        names = ("seq", "at", "tty", "raw", "value", "unit", "verdict", "previous")
        with closing(self.open()) as connection:
            for row in connection.execute("SELECT * FROM ledger ORDER BY seq"):
                record = dict(zip(names, row[:-1], strict=True))
                sound = sound and record["previous"] == previous and plain.link(record) == row[-1]
                previous, count = row[-1], count + 1
        return Stored(count, count, sound)
