"""The one thread that writes: decide, commit, and only then answer and publish.

It takes what has arrived, in order, decides it on the folded state, and commits it in one synced
transaction. A lone press commits at once; a burst shares a commit.

If a commit fails, nothing of it is acknowledged: the store is reopened and looked at
(``Store.reopen``). What turns out to be on disk is published as stored; presses that are not are
held, in order, with their original time, and written, marked late, when that is possible again.
Requests that are not on disk fail with ``NotStored`` and can be repeated with the same key.
"""

from __future__ import annotations

import contextlib
import logging
import sqlite3
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Any, NamedTuple

from capture.archive import Archive
from capture.batch import Batch
from capture.desk import Desk
from capture.errors import CaptureError, NotStored, OutcomeUnknown, StoreError
from capture.intake import Intake
from capture.ledger.store import Store
from capture.news import STORING, Condition
from capture.reading import Clock, Reading, Undecodable
from capture.request import Request
from capture.stream import Event
from capture.streamed import Analysed

MOST_AT_ONCE = 1000
"""Items that share one commit at most."""
HELD_MOST = 20_000
"""Presses waiting to be written before drivers are asked to stop reading."""
RETRY_FIRST_S = 0.1
RETRY_LONGEST_S = 2.0
IDLE_S = 5.0
"""After this long without news the tree head is signed."""

_log = logging.getLogger(__name__)


class View(NamedTuple):
    """A look at the state, answered after what came before it is on disk."""

    what: Callable[[Desk], Any]
    future: Future[Any]

    def answer(self, desk: Desk) -> None:
        try:
            self.future.set_result(self.what(desk))
        except CaptureError as error:
            self.future.set_exception(error)
        except Exception as error:  # noqa: BLE001 # the asker gets it; the writer goes on
            self.future.set_exception(error)


Capture = Reading | Undecodable | Analysed
Item = Capture | Request | View


class World(NamedTuple):
    """What the writer tells, and to whom. Called on the writer thread."""

    listening: Callable[[], bool]
    """Whether anyone listens: if not, events need not be made."""
    publish: Callable[[list[Event]], None]
    condition: Callable[[Condition], None]
    on_committed: Callable[[int, int], None]


class Writer:
    """See the module. Everything here runs on one thread."""

    def __init__(
        self,
        store: Store,
        archive: Archive,
        intake: Intake[Item],
        clock: Clock,
        stopping: threading.Event,
        world: World,
    ) -> None:
        self._store = store
        self._archive = archive
        self._intake = intake
        self._clock = clock
        self._stopping = stopping
        self._world = world
        self._desk = self._folded()

    def _folded(self) -> Desk:
        """The state as the entries on disk give it. Builds are folded when first asked for, so
        starting costs the same on the first day and after ten million readings."""
        desk = Desk(self._archive.entries_of_build)
        for entry in self._archive.records():
            desk.apply(entry)
        for name in desk.instruments:  # what a repeated press is told by
            press = self._archive.last_press(name)
            if press is not None:
                desk.apply(press)
        for name, kept in desk.zeros.items():  # what a drifted zero would mark
            desk.rejoin(name, self._archive.set_since(name, kept.opened))
        for name, sets in desk.unclosed.items():
            for opened, until, kept in sets:
                kept.presses.extend(self._archive.set_since(name, opened, until))
        return desk

    def run(self, items: list[Item]) -> None:
        """Writes ``items`` and all that comes, until the intake is closed and empty."""
        unsigned = True
        while True:
            if items:
                self._process(items)
                unsigned = True
            elif self._intake.finished:
                return
            elif unsigned:
                with contextlib.suppress(StoreError):
                    self._store.sign()
                unsigned = False
            items = self._intake.take(MOST_AT_ONCE, IDLE_S if unsigned else None)

    def _batch(self) -> Batch:
        self._desk.trim()
        return Batch(self._desk, self._store, self._archive, self._world.listening())

    def _process(self, items: list[Item]) -> None:
        try:
            batch, views = self._decide(items)
        except Exception:  # noqa: BLE001 # it is logged: a mistake of ours in one item must cost
            # neither the others nor the thread
            _log.exception("%d items could not be decided together", len(items))
            self._desk = self._folded()
            if len(items) == 1:
                self._give_up(items[0])
            else:
                for item in items:
                    self._process([item])
            return
        if batch.size:
            try:
                self._world.on_committed(*batch.commit(self._store))
            except OutcomeUnknown as error:
                _log.error("a commit failed: %s", error)
                self._recover(items, batch, error)
                return
        self._announce(batch)
        for view in views:
            view.answer(self._desk)

    def _decide(self, items: list[Item]) -> tuple[Batch, list[View]]:
        """Everything decided, nothing written yet."""
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
            elif kind is Analysed:
                batch.pull(item)  # type: ignore[arg-type] # likewise
            else:
                batch.undecodable(item)  # type: ignore[arg-type] # likewise
        return batch, views

    def _give_up(self, item: Item) -> None:
        """What cannot even be decided alone: its bytes are kept, whoever asked is told."""
        failure = StoreError("This program failed to record it; its log says why.")
        if isinstance(item, Request):
            item.answer(failure)
        elif isinstance(item, View):
            item.future.set_exception(failure)
        elif isinstance(item, Reading):
            detail = "This program failed to record the reading; these are its bytes."
            kept = Undecodable("", item.instrument, item.raw, "fault", detail, item.stamp)
            self._process([kept])
        elif isinstance(item, Analysed):
            detail = "This program failed to record the pull; this is its trace, as it is stored."
            pull = item.pull
            raw = item.as_pull.blob
            kept = Undecodable(pull.port, pull.instrument, raw, "fault", detail, pull.stamp)
            self._process([kept])
        else:
            _log.error("lost: bytes %s of %s", item.raw.hex(), item.port)

    def _announce(self, batch: Batch) -> None:
        try:
            batch.settle()
        except Exception:  # noqa: BLE001 # it is logged; what is on disk is folded anew
            _log.exception("entry %d could not be folded in", batch.last)
            self._desk = self._folded()
        batch.resolve()
        if batch.events:
            self._world.publish(batch.events)

    # when a commit fails ----------------------------------------------------------------------

    def _recover(self, items: list[Item], batch: Batch, error: OutcomeUnknown) -> None:
        """Reopens the store, finds out what is on disk, and writes what is not.

        Until that succeeds nothing is acknowledged: requests are answered that they were not
        stored (or that it is not known), presses are held, and questions are answered from what
        is on disk.
        """
        held: list[Capture] = []
        views: list[View] = []
        _sort(items, held, [], views)
        covered = len(held)  # how many of the held ones are in the batch of unknown outcome
        since, wait, known = self._clock.now().at, RETRY_FIRST_S, False
        self._world.condition(Condition("unknown", str(error), len(held), since))
        while True:
            try:
                on_disk = self._store.reopen() == batch.last
                self._desk = self._folded()
                if on_disk:
                    self._announce(batch)
                    del held[:covered]
                else:
                    batch.fail(NotStored("It was not stored: nothing of it is on disk. Try again."))
                known, covered = True, len(held)
                batch = self._rewrite(held)
                if batch.size:
                    self._world.on_committed(*batch.commit(self._store))
                break
            except (StoreError, sqlite3.Error) as again:
                if not known:
                    batch.fail(error)
                self._world.condition(Condition("not_storing", str(again), len(held), since))
                if self._stopping.is_set() and wait >= RETRY_LONGEST_S:
                    _log.error("stopped with %d presses that could not be stored", len(held))
                    with contextlib.suppress(StoreError, sqlite3.Error):
                        self._desk = self._folded()
                    return
                self._hold(held, views, wait)
                wait = min(wait * 2, RETRY_LONGEST_S)
        self._world.condition(STORING)
        self._announce(batch)
        for view in views:
            view.answer(self._desk)

    def _hold(self, held: list[Capture], views: list[View], wait: float) -> None:
        """Waits before the next try, taking what arrives meanwhile as far as there is room."""
        if len(held) >= HELD_MOST or self._intake.finished:
            self._stopping.wait(wait)
            return
        requests: list[Request] = []
        _sort(self._intake.take(HELD_MOST - len(held), wait), held, requests, views)
        for request in requests:
            request.answer(NotStored("Nothing can be stored at the moment. Try again soon."))
        if requests or views:
            with contextlib.suppress(StoreError, sqlite3.Error):
                self._desk = self._folded()
                while views:
                    views.pop().answer(self._desk)
        self._stopping.wait(min(wait, RETRY_FIRST_S))

    def _rewrite(self, held: list[Capture]) -> Batch:
        batch = self._batch()
        late = self._clock.now().at
        for item in held:
            if isinstance(item, Reading):
                batch.press(item, late=late)
            elif isinstance(item, Analysed):
                batch.pull(item, late=late)
            else:
                batch.undecodable(item, late=late)
        return batch


def _sort(
    items: list[Item], held: list[Capture], requests: list[Request], views: list[View]
) -> None:
    for item in items:
        if isinstance(item, Reading | Undecodable | Analysed):
            held.append(item)
        elif isinstance(item, Request):
            requests.append(item)
        else:
            views.append(item)
