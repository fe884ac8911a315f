"""The one module that knows the order: intake → place → check → ledger → stream.

One thread writes. It takes what has arrived, in order, decides it on the folded state, commits it
in one synced transaction, and only then answers, publishes and lets anything be shown. A lone
press commits at once; a burst shares a commit.

If a commit fails, nothing of it is acknowledged: the store is reopened and looked at
(``Store.reopen``). What turns out to be on disk is published as stored; presses that are not are
held, in order, with their original time, and written, marked late, when that is possible again.
Requests that are not on disk fail with ``NotStored`` and can be repeated with the same key.
"""

from __future__ import annotations

import asyncio
import contextlib
import sqlite3
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from capture.archive import Archive
from capture.batch import Batch, Outcome, Request, fail
from capture.command import Command
from capture.desk import Desk
from capture.errors import CaptureError, NotStored, OutcomeUnknown, StoreError
from capture.instrument import Instrument
from capture.intake import Intake
from capture.ledger.canonical import encode
from capture.ledger.store import Store
from capture.opening import Bench, open_bench, restore
from capture.reading import Clock, DeviceState, Reading, Undecodable
from capture.stream import Event, Stream

T = TypeVar("T")

MOST_AT_ONCE = 1000
"""Items that share one commit at most."""
HELD_MOST = 20_000
"""Presses waiting to be written before drivers are asked to stop reading."""
RETRY_FIRST_S = 0.1
RETRY_LONGEST_S = 2.0
IDLE_S = 5.0
"""After this long without news the tree head is signed."""

OnCommitted = Callable[[int, int], None]


class View(NamedTuple):
    """A look at the state, answered after what came before it is on disk."""

    what: Callable[[Desk], Any]
    future: Future[Any]


class Condition(NamedTuple):
    """Whether readings are being stored."""

    state: str
    """``storing``, ``not_storing`` or ``unknown`` (a commit failed and is being looked into)."""
    detail: str
    held: int
    """Presses held in memory, not yet on disk."""
    since: str | None


Item = Reading | Undecodable | Request | View


class Pipeline:
    """The drivers' sink and everyone's way to write. Use ``open``."""

    def __init__(
        self, store: Store, desk: Desk, archive: Archive, clock: Clock, on_committed: OnCommitted
    ) -> None:
        self._store = store
        self._desk = desk
        self.archive = archive
        self._clock = clock
        self._on_committed = on_committed
        self.stream = Stream()
        self.bench = store.key.bench_id
        self._intake: Intake[Item] = Intake(HELD_MOST, self._room_again)
        # A daemon: what is not committed was not acknowledged, so dying with the process is safe,
        # and a service that failed elsewhere does not hang on it.
        self._thread = threading.Thread(target=self._run, name="witnessmark-writer", daemon=True)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._room = asyncio.Event()
        self._room.set()
        self._devices: dict[str, DeviceState] = {}
        self._condition = Condition("storing", "", 0, None)
        self._stopping = threading.Event()

    @classmethod
    def open(
        cls,
        store: Path,
        *,
        clock: Clock,
        instruments: Sequence[Instrument],
        profiles: Mapping[str, str],
        title: str,
        version: str = "",
        on_committed: OnCommitted | None = None,
    ) -> Pipeline:
        """Opens a store and records what the bench is. ``on_committed(first, last)`` is called
        on the writer thread as soon as entries are on disk.

        Raises StoreInUse, StoreDamaged or StoreError.
        """
        opened = Store(store)
        try:
            archive = Archive(store, opened)
            try:
                desk = Desk(archive.entries_of_build)
                restore(desk, archive)
                pipeline = cls(opened, desk, archive, clock, on_committed or (lambda _f, _l: None))
                batch = pipeline._batch()
                bench = Bench(title, instruments, profiles, version)
                open_bench(batch, desk, bench, opened.key.verifier.text, clock.now())
                batch.commit(opened)
            except BaseException:
                archive.close()
                raise
        except BaseException:
            opened.close()
            raise
        return pipeline

    def start(self, loop: asyncio.AbstractEventLoop) -> None:
        """Starts the writer; events are published on ``loop``."""
        self._loop = loop
        self._thread.start()

    def stop(self) -> None:
        """Writes what is left, signs the tree head, closes. Blocks, briefly."""
        self._stopping.set()
        self._intake.close()
        if self._thread.ident is not None:
            self._thread.join()
        self._loop = None
        with contextlib.suppress(StoreError):
            self._store.sign()
        self.archive.close()
        self._store.close()

    # the drivers' sink (on the event loop) ----------------------------------------------------

    def take(self, items: Sequence[Reading | Undecodable]) -> bool:
        """Takes readings in order; False asks the driver to stop reading until ``room``."""
        if self._intake.put(items):
            return True
        self._room.clear()
        return False

    async def room(self) -> None:
        """Waits until there is room again."""
        await self._room.wait()

    def device(self, state: DeviceState) -> None:
        """Takes news of a connection and publishes it."""
        self._devices[state.instrument] = state
        self.stream.publish([device_event(state)])

    def _room_again(self) -> None:
        self._on_loop(self._room.set)

    # everyone else ----------------------------------------------------------------------------

    @property
    def size(self) -> int:
        """Entries on disk."""
        return self._store.size

    @property
    def boot(self) -> int:
        return self._desk.boot

    def devices(self) -> list[DeviceState]:
        """The newest news of each instrument's connection."""
        return list(self._devices.values())

    def condition(self) -> Condition:
        """Whether readings are being stored."""
        return self._condition

    def submit(
        self, command: Command, *, operator: str | None = None, key: str | None = None
    ) -> Future[Outcome]:
        """Asks for a command to be recorded; the future answers once it is on disk.

        The same ``key`` again answers with what the first one did. The future raises RequestError
        and its kinds, SpecError, UnitError, NotStored or OutcomeUnknown.
        """
        future: Future[Outcome] = Future()
        self._intake.put([Request(command, operator, key, self._clock.now(), future)])
        return future

    def view(self, what: Callable[[Desk], T]) -> Future[T]:
        """Looks at the state on the writer thread, after what came before it is on disk.
        ``what`` must give plain data, nothing of the state itself."""
        future: Future[T] = Future()
        self._intake.put([View(what, future)])
        return future

    def checkpoint(self) -> Future[str]:
        """The signed tree head as it stands."""
        return self.view(lambda _desk: self._store.sign())

    # the writer thread ------------------------------------------------------------------------

    def _run(self) -> None:
        unsigned = False
        while True:
            items = self._intake.take(MOST_AT_ONCE, IDLE_S if unsigned else None)
            if items:
                unsigned = self._process(items) or unsigned
            elif self._intake.finished:
                return
            elif unsigned:
                with contextlib.suppress(StoreError):
                    self._store.sign()
                unsigned = False

    def _batch(self) -> Batch:
        listening = self._loop is not None and self.stream.listeners > 0
        return Batch(self._desk, self._store, self.archive, listening)

    def _process(self, items: list[Item]) -> bool:
        """Decides and commits; True if anything was written."""
        batch = self._batch()
        views: list[View] = []
        for item in items:
            kind = type(item)
            if kind is Reading:
                batch.press(item)  # type: ignore[arg-type] # the exact type was just tested
            elif kind is Request:
                batch.request(item)  # type: ignore[arg-type] # likewise
            elif kind is View:
                views.append(item)  # type: ignore[arg-type] # likewise
            else:
                batch.undecodable(item)  # type: ignore[arg-type] # likewise
        wrote = bool(batch.size)
        if wrote:
            try:
                first, last = batch.commit(self._store)
                self._on_committed(first, last)
            except OutcomeUnknown as error:
                self._recover(items, batch, error)
                return True
        self._announce(batch)
        for view in views:
            _answer(view, self._desk)
        return wrote

    def _announce(self, batch: Batch) -> None:
        batch.resolve()
        if batch.events:
            self._on_loop(self.stream.publish, batch.events)

    def _on_loop(self, call: Callable[..., None], *arguments: Any) -> None:
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop closed while we were stopping
                loop.call_soon_threadsafe(call, *arguments)

    # when a commit fails ----------------------------------------------------------------------

    def _recover(self, items: list[Item], batch: Batch, error: OutcomeUnknown) -> None:
        """Reopens the store, finds out what is on disk, and writes what is not.

        Until that succeeds nothing is acknowledged: requests are answered that they were not
        stored (or that it is not known), presses are held, and questions are answered from what
        is on disk.
        """
        held: list[Reading | Undecodable] = []
        views: list[View] = []
        _sort(items, held, [], views)
        since, wait, known = self._clock.now().at, RETRY_FIRST_S, False
        self._tell("unknown", str(error), len(held), since)
        while True:
            try:
                found = self._store.reopen()
                self._refold()
                if found != batch.last:
                    batch.fail(NotStored("It was not stored: nothing of it is on disk. Try again."))
                    known = True
                    batch = self._rewrite(held)
                    if batch.size:
                        self._on_committed(*batch.commit(self._store))
                break
            except (StoreError, sqlite3.Error) as again:
                if not known:
                    batch.fail(error)
                self._tell("not_storing", str(again), len(held), since)
                if self._stopping.is_set() and wait >= RETRY_LONGEST_S:
                    return
                self._hold(held, views, wait)
                wait = min(wait * 2, RETRY_LONGEST_S)
        self._tell("storing", "", 0, None)
        self._refold()
        self._announce(batch)
        for view in views:
            _answer(view, self._desk)

    def _hold(self, held: list[Reading | Undecodable], views: list[View], wait: float) -> None:
        """Waits before the next try, taking what arrives meanwhile as far as there is room."""
        if len(held) >= HELD_MOST or self._intake.finished:
            self._stopping.wait(wait)
            return
        requests: list[Request] = []
        _sort(self._intake.take(HELD_MOST - len(held), wait), held, requests, views)
        for request in requests:
            fail(request, NotStored("Nothing can be stored at the moment. Try again soon."))
        if requests or views:
            with contextlib.suppress(StoreError, sqlite3.Error):
                self._refold()
                while views:
                    _answer(views.pop(), self._desk)
        self._condition = self._condition._replace(held=len(held))
        self._stopping.wait(min(wait, RETRY_FIRST_S))

    def _rewrite(self, held: list[Reading | Undecodable]) -> Batch:
        batch = self._batch()
        late = self._clock.now().at
        for item in held:
            if isinstance(item, Reading):
                batch.press(item, late=late)
            else:
                batch.undecodable(item, late=late)
        return batch

    def _refold(self) -> None:
        """Builds the state anew from disk: the old one had entries folded in that may be lost."""
        self._desk = Desk(self.archive.entries_of_build)
        restore(self._desk, self.archive)

    def _tell(self, state: str, detail: str, held: int, since: str | None) -> None:
        self._condition = Condition(state, detail, held, since)
        self._on_loop(self.stream.publish, [condition_event(self._condition)])


def _sort(
    items: list[Item],
    held: list[Reading | Undecodable],
    requests: list[Request],
    views: list[View],
) -> None:
    for item in items:
        if isinstance(item, Reading | Undecodable):
            held.append(item)
        elif isinstance(item, Request):
            requests.append(item)
        else:
            views.append(item)


def _answer(view: View, desk: Desk) -> None:
    try:
        view.future.set_result(view.what(desk))
    except CaptureError as error:
        view.future.set_exception(error)
    except Exception as error:  # noqa: BLE001 # the asker gets it; the writer goes on
        view.future.set_exception(error)


def device_event(state: DeviceState) -> Event:
    """Live news of a connection."""
    body = {
        "instrument": state.instrument,
        "state": state.state,
        "detail": state.detail,
        "at": state.stamp.at,
    }
    return Event(None, "device", encode(body))


def condition_event(condition: Condition) -> Event:
    """Live news of whether readings are being stored."""
    return Event(None, "condition", encode(condition._asdict()))
