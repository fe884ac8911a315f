"""The one module that knows the order: intake → place → check → ledger → stream.

``Pipeline`` is how everyone reaches it: the drivers' sink on one side, requests and questions on
the other, the stream and the archive to see what came of them. What is decided and written is
decided and written on one thread (``capture.writer``).
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, InvalidStateError
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from capture.analysing import Analysing
from capture.archive import Archive
from capture.errors import StoreError
from capture.instrument import Instrument
from capture.intake import Intake
from capture.ledger.store import Store
from capture.news import STORING, Condition, condition_event, device_event, torque_event
from capture.opening import Bench, open_bench
from capture.reading import Captured, Clock, DeviceState, LiveTorque, Pull
from capture.request import Outcome, Request
from capture.stream import Event, Stream

if TYPE_CHECKING:
    from capture.command import Command
    from capture.desk import Desk
    from capture.writer import Item

_log = logging.getLogger(__name__)
T = TypeVar("T")

FULL_AT = 20_000
"""Items waiting to be written at which drivers are asked to stop reading."""
PULL_SILENT_NS = 1_000_000_000
"""A pull that was not heard of for this long has ended without a word: its port was lost."""
WARM_AFTER_S = 0.25
"""What decides is loaded when it is first needed, or this long after the start."""

OnCommitted = Callable[[int, int], None]


class Pipeline:
    """The drivers' sink and everyone's way to write. Use ``open``."""

    def __init__(
        self,
        store: Store,
        archive: Archive,
        clock: Clock,
        boot: int,
        on_committed: OnCommitted | None,
    ) -> None:
        self._store = store
        self.archive = archive
        self._clock = clock
        self.boot = boot
        """How often the service has started on this store."""
        self._on_committed = on_committed or (lambda _first, _last: None)
        self.stream = Stream()
        self.bench = store.key.bench_id
        self._intake: Intake[Item] = Intake(FULL_AT, self._room_again)
        self._analysing = Analysing(self._intake.put)
        self._stopping = threading.Event()
        # A daemon: what is not committed was not acknowledged, so dying with the process is safe,
        # and a service that failed elsewhere does not hang on it.
        self._thread = threading.Thread(target=self._run, name="witnessmark-writer", daemon=True)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._room = asyncio.Event()
        self._room.set()
        self._devices: dict[str, DeviceState] = {}
        self._pulling: dict[str, int] = {}
        """When each instrument was last heard in the middle of a pull (monotonic, ns)."""
        self._condition = STORING
        self._refusing = False

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
        with contextlib.ExitStack() as undo:
            opened = Store(store)
            undo.callback(opened.close)
            archive = Archive(store, opened)
            undo.callback(archive.close)
            bench = Bench(title, instruments, profiles, version)
            boot = open_bench(opened, archive, bench, clock.now())
            undo.pop_all()
        return cls(opened, archive, clock, boot, on_committed)

    def start(self, loop: asyncio.AbstractEventLoop) -> None:
        """Starts the writer; events are published on ``loop``."""
        self._loop = loop
        self._thread.start()

    def stop(self) -> None:
        """Writes what is left, signs the tree head, closes. Blocks, briefly."""
        self._analysing.stop()
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

    def take(self, items: Sequence[Captured]) -> bool:
        """Takes readings in order; False asks the driver to stop reading until ``room``. Pulls
        are looked at first, on a thread of their own."""
        if Pull in map(type, items):
            items = self._without_pulls(items)
        # the pulls, which no queue of the writer holds, were taken out just above
        if (not items or self._intake.put(items)) and not self._refusing:  # type: ignore[arg-type]
            return True
        self._room.clear()
        return False

    def _without_pulls(self, items: Sequence[Captured]) -> list[Captured]:
        for item in items:
            if isinstance(item, Pull):
                self._analysing.put(item)
        return [item for item in items if not isinstance(item, Pull)]

    async def room(self) -> None:
        """Waits until there is room again."""
        await self._room.wait()

    def device(self, state: DeviceState) -> None:
        """Takes news of a connection and publishes it."""
        self._devices[state.instrument] = state
        self.stream.publish([device_event(state)])

    def torque(self, live: LiveTorque) -> None:
        """Takes samples of a pull under way and publishes them, if anyone listens."""
        if live.ended:
            self._pulling.pop(live.instrument, None)
        else:
            self._pulling[live.instrument] = self._clock.now().mono
        if self.stream.listeners:
            self.stream.publish([torque_event(live)])

    def under_way(self) -> str | None:
        """The instrument whose pull lasts, or is not yet stored; None where there is none. (On the
        event loop.) Once this says None, a ``view`` finds the pull on disk."""
        now = self._clock.now().mono
        lasting = (name for name, at in self._pulling.items() if now - at < PULL_SILENT_NS)
        return next(lasting, None) or self._analysing.pending()

    def _room_again(self) -> None:
        self._on_loop(self._room.set)

    # everyone else ----------------------------------------------------------------------------

    @property
    def size(self) -> int:
        """Entries on disk."""
        return self._store.size

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
        from capture.writer import View

        future: Future[T] = Future()
        self._intake.put([View(what, future)])
        return future

    def checkpoint(self) -> Future[str]:
        """The signed tree head as it stands."""
        return self.view(lambda _desk: self._store.sign())

    # the writer thread ------------------------------------------------------------------------

    def _run(self) -> None:
        items = self._intake.take(1, WARM_AFTER_S)
        from capture.writer import World, Writer

        world = World(self._listening, self._publish, self._tell, self._on_committed)
        try:
            writer = Writer(
                self._store, self.archive, self._intake, self._clock, self._stopping, world
            )
            writer.run(items)
        except Exception as error:  # noqa: BLE001 # it is logged, told, and nothing is taken any more
            _log.exception("the writer stopped")
            self._refuse(items, error)

    def _refuse(self, items: list[Item], error: Exception) -> None:
        """Nothing can be stored any more: says so to everyone who asks, and takes no press."""
        self._refusing = True
        detail, held = f"Nothing is stored any more: {error}", 0
        while True:
            for item in items:
                future: Future[Any] | None = getattr(item, "future", None)
                if future is None:
                    held += 1
                else:
                    with contextlib.suppress(InvalidStateError):
                        future.set_exception(StoreError(detail))
            self._tell(Condition("not_storing", detail, held, self._clock.now().at))
            if self._intake.finished:
                return
            items = self._intake.take(FULL_AT)

    def _listening(self) -> bool:
        return self._loop is not None and self.stream.listeners > 0

    def _publish(self, events: list[Event]) -> None:
        self._on_loop(self.stream.publish, events)

    def _tell(self, condition: Condition) -> None:
        self._condition = condition
        self._publish([condition_event(condition)])

    def _on_loop(self, call: Callable[..., None], *arguments: Any) -> None:
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):  # the loop closed while we were stopping
                loop.call_soon_threadsafe(call, *arguments)
