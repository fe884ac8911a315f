"""Keeps one port open and hands on what its instruments send.

One task waits for the port to be lost and opens it again. Bytes do not pass through that task: the
transport calls, in the same turn of the event loop the bytes are read, and the readings are in the
sink before it returns.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Coroutine, Sequence

from capture.errors import TransportError
from capture.reading import Captured, Stamp, Undecodable
from drivers.adapters.announcer import Announcer
from drivers.adapters.asker import Asker
from drivers.adapters.backoff import Backoff
from drivers.adapters.connection import State
from drivers.adapters.means import Means
from drivers.adapters.port import Port
from drivers.adapters.receiver import Receiver
from drivers.adapters.stream_receiver import receiver_for
from drivers.transports.ports import find
from drivers.transports.transport import Transport

log = logging.getLogger(__name__)

_STEADY = 10_000_000_000
"""Nanoseconds after which a connection counts as good, even if nothing came."""
_RECENT = 8
"""Chunks remembered, to be logged with the first error."""
_SHOWN = 64
"""Bytes remembered of each chunk."""
_GRACE = 1.0
"""Seconds for what waited in the system's buffer to be read after a pause."""


class Adapter:
    """One port: opened, read, asked, opened again."""

    def __init__(self, port: Port, means: Means) -> None:
        self.port = port
        self._means = means
        self._now = means.clock.now
        self._take = means.sink.take
        self._news = Announcer(port.instruments, means.sink, means.clock)
        self._asker = Asker(port, self._news, means.sleep)
        self._backoff = Backoff(means.random)
        self._receiver = Receiver(port.profile, port.settings.id, port.instruments)
        self._transport: Transport | None = None
        self._gone: asyncio.Future[TransportError] | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._room: asyncio.Task[None] | None = None
        self._recent: deque[bytes] = deque(maxlen=_RECENT)
        self._logged = False
        self._heard = False
        self._missing = False
        """A gap stands in the record, and nothing came since."""

    @property
    def news(self) -> Announcer:
        """What its connection is doing."""
        return self._news

    @property
    def asker(self) -> Asker:
        """Asks its instruments."""
        return self._asker

    async def run(self) -> None:
        """Keeps the port open until cancelled."""
        try:
            while True:
                self._news.tell(State.OPENING, f"opening {self.port.settings.device}")
                error = await self._connect()
                wait = self._backoff.wait()
                again = f"trying again in {wait:.1f} s"
                self._news.tell(
                    State.LOST, "; ".join(filter(None, (str(error), error.mend, again)))
                )
                await self._means.sleep(wait)
        finally:
            self._news.tell(State.CLOSED, "the service has closed it")

    async def _connect(self) -> TransportError:
        """Opens the port, reads it until it is lost, and says why."""
        try:
            transport = await self._open()
            try:
                return await self._serve(transport)
            finally:
                await _to_the_end(self._let_go(transport))
        except TransportError as error:
            return error
        except Exception as error:  # noqa: BLE001 # the task's one broad catch, logged and shown
            return self._fault(error)

    async def _open(self) -> Transport:
        settings, means = self.port.settings, self._means
        claims = means.claims
        loop = asyncio.get_running_loop()
        ports = [] if settings.is_url else await loop.run_in_executor(means.executor, means.ports)
        others = {serial for port, serial in claims.items() if port != settings.id}
        found = find(settings, ports, claims.get(settings.id), others)
        transport = await means.open(settings, found.device, means.executor)
        if found.usb_serial is not None:
            claims[settings.id] = found.usb_serial
        return transport

    def _new_receiver(self) -> Receiver:
        port, show = self.port, self._means.sink.torque
        return receiver_for(port.profile, port.settings.id, port.instruments, show)

    async def _serve(self, transport: Transport) -> TransportError:
        loop = asyncio.get_running_loop()
        self._receiver = self._new_receiver()
        gone: asyncio.Future[TransportError] = loop.create_future()
        self._gone = gone
        self._transport = transport
        self._logged = self._heard = False
        opened = self._now().mono
        self._news.tell(State.READY, f"on {transport.device}")
        transport.start(self._received, self._lost)
        try:
            with self._asker.connected(transport):
                return await gone
        finally:
            if self._heard or self._now().mono - opened > _STEADY:
                self._backoff.reset()

    async def _let_go(self, transport: Transport) -> None:
        self._transport = None
        try:
            # hands on what has arrived until now, which may complete what is half received
            await transport.close()
        finally:
            for handle in (self._timer, self._room):
                if handle is not None:
                    handle.cancel()
            self._timer = self._room = None
            gone = self._gone
            lost = gone.result() if gone and gone.done() and not gone.cancelled() else None
            self._receiver.ended_by = (
                f"the connection was lost: {lost}" if lost else "the service closed the port"
            )
            self._hand_on(self._receiver.drain())
            if lost is not None:
                self._leave_gap(str(lost))

    def _leave_gap(self, why: str) -> None:
        """Puts into the record that presses may be missing: no port keeps them for later.

        Once until something comes again, so that a port that is opened and lost all night does not
        fill the record.
        """
        if self._missing:
            return
        names = self.port.instruments
        alone = names[0].id if len(names) == 1 else None
        detail = f"{why}; what was sent between the message before this and the next may be missing"
        gap = Undecodable(self.port.settings.id, alone, b"", "gap", detail, self._now())
        log.warning("%s on %s was lost: %s", self._news.names, self.port.settings.id, why)
        self._logged = True  # the bytes before it are no part of it
        self._hand_on([gap])
        self._missing = True

    def _received(self, chunk: bytes) -> None:
        """Takes what one read gave: the way of every press."""
        stamp = self._now()
        self._recent.append(chunk[-_SHOWN:])
        receiver = self._receiver
        try:
            items = receiver.receive(chunk, stamp)
            if items:
                self._hand_on(items)
        except Exception as error:  # noqa: BLE001 # called by the loop: nobody else keeps the bytes
            self._broken(chunk, stamp, error)
        if self._timer is None and receiver.due is not None:
            self._watch()

    def _hand_on(self, items: Sequence[Captured]) -> None:
        if not items:
            return
        self._heard, self._missing = True, False
        if not self._logged and isinstance(items[0], Undecodable):
            self._log(items[0])
        room = self._take(items)
        self._asker.heard()
        if not room and self._transport is not None and self._room is None:
            self._transport.pause()
            self._news.tell(State.LAGGING, "no room to store more; what it sends waits in the port")
            self._room = asyncio.get_running_loop().create_task(self._wait_for_room())

    async def _wait_for_room(self) -> None:
        await self._means.sink.room()
        self._room = None
        if self._transport is not None:
            self._transport.resume()
            self._news.tell(State.READY, f"on {self._transport.device}")
            if self._receiver.due is not None:
                self._watch(_GRACE)

    def _watch(self, at_least: float = 0.0) -> None:
        """Comes back when the silence since the last bytes has lasted long enough."""
        due = self._receiver.due
        if self._timer is not None:
            self._timer.cancel()
        self._timer = None
        if due is not None:
            wait = max(at_least, (due - self._now().mono) / 1e9)
            self._timer = asyncio.get_running_loop().call_later(wait, self._quiet)

    def _quiet(self) -> None:
        # the loop reads ports before it calls timers, so no bytes are waiting now; while the
        # port is paused there may be some, and the silence means nothing
        self._timer = None
        if self._room is None:
            try:
                self._hand_on(self._receiver.silence(self._now().mono))
                self._watch()
            except Exception as error:  # noqa: BLE001 # called by the loop, as above
                self._lost(self._fault(error))

    def _lost(self, error: TransportError) -> None:
        if self._gone is not None and not self._gone.done():
            self._gone.set_result(error)

    def _fault(self, error: Exception) -> TransportError:
        log.error("port %s: reading it went wrong", self.port.settings.id, exc_info=error)
        self._news.tell(State.FAULTED, f"reading it went wrong here: {error!r}")
        mend = "please report this, with the log"
        return TransportError(f"reading it went wrong here: {error!r}", mend=mend)

    def _broken(self, chunk: bytes, stamp: Stamp, error: Exception) -> None:
        """Keeps the bytes that could not be read because of a mistake of ours, and starts anew."""
        fault = self._fault(error)
        self._lost(fault)
        self._hand_on([Undecodable(self.port.settings.id, None, chunk, "fault", str(fault), stamp)])

    def _log(self, item: Undecodable) -> None:
        self._logged = True
        recent = " | ".join(chunk.hex(" ") for chunk in self._recent)
        port, names = self.port.settings.id, self._news.names
        log.warning("%s on %s: %s: %s; last bytes: %s", names, port, item.code, item.detail, recent)


async def _to_the_end(work: Coroutine[None, None, None]) -> None:
    """Does ``work`` whole, even when cancelled meanwhile: a stop that comes while a lost port is
    closed must not cost the bytes in it."""
    task = asyncio.ensure_future(work)
    try:
        await asyncio.shield(task)
    except asyncio.CancelledError:
        await task
        raise
