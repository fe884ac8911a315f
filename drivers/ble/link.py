"""One connection to one device: found, subscribed to, watched, and let go whatever happens.

Bytes go one way: bleak calls a plain function, which hands them on in the same turn of the loop.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections import deque
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager
from typing import TYPE_CHECKING

from capture.errors import PortGone, TransportError
from drivers.ble.battery import battery_words
from drivers.ble.choose import Offered
from drivers.ble.daemon import running_service
from drivers.ble.numbers import BATTERY_LEVEL, PRESENTATION_FORMAT
from drivers.ble.trouble import trouble
from drivers.transports.transport import Lost, Received

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic
    from bleak.backends.device import BLEDevice

_HELD = 4096
"""Notifications that wait while there is no room; a radio cannot be told to wait for ever."""
_CONNECTING = 15.0
TOUCH = 5.0
"""Seconds a read, a write or a subscription may take."""


class Link:
    """An open connection; a transport."""

    def __init__(self, device: str, client: BleakClient, silence: float) -> None:
        """``silence``: seconds without a word after which the device is asked whether it is
        there."""
        self.device = device
        """Where it is, and its battery where it tells it."""
        self._port = device
        self._client = client
        self._silence = silence
        self._received: Received | None = None
        self._lost: Lost | None = None
        self._held: deque[bytes] = deque()
        self._paused = True
        self._error: TransportError | None = None
        self._closed = False
        self._written: int | None = None
        self.battery: int | None = None
        """Percent, where it tells."""
        self._tells_battery = True
        self.made_by: str | None = None
        """Which run of the Bluetooth service made the connection; None where nobody can tell."""
        self._heard = time.monotonic()
        self._watch: asyncio.Task[None] | None = None
        self._writes: set[asyncio.Task[None]] = set()
        self.changed: Callable[[], None] = lambda: None
        """Called when the words in ``device`` have changed."""
        self.silent: Callable[[str], None] = lambda detail: None
        """Called when the device does not answer, before it is given up."""

    async def offered(self) -> list[Offered]:
        """The characteristics of the device, with what those that notify say of themselves."""
        found = []
        for one in self._characteristics():
            notifies = bool({"notify", "indicate"} & set(one.properties))
            writes = bool({"write", "write-without-response"} & set(one.properties))
            description = None
            if notifies and (told := one.get_descriptor(PRESENTATION_FORMAT)) is not None:
                async with self._limit("reading its format"):
                    description = bytes(await self._client.read_gatt_descriptor(told))
            found.append(Offered(one.handle, one.uuid, notifies, writes, description))
        return found

    async def subscribe(self, sends: Offered, written: Offered | None = None) -> None:
        """Has the device send; what comes before ``start`` is kept for it."""
        self._written = written.handle if written else None
        async with self._limit("subscribing"):
            await self._client.start_notify(sends.handle, self._notified)
        try:
            await self._read_battery()
            await self._follow_battery()
        except TransportError:
            self._tells_battery = False  # no reason to go without its readings

    def start(self, received: Received, lost: Lost) -> None:
        """See ``Transport``."""
        self._received, self._lost = received, lost
        self._watch = asyncio.get_running_loop().create_task(self._watching())
        self.resume()
        if self._error is not None:
            lost(self._error)

    def pause(self) -> None:
        """See ``Transport``: what arrives waits here, up to a limit."""
        self._paused = True

    def resume(self) -> None:
        """See ``Transport``."""
        self._paused = False
        while self._held and not self._paused:
            self._hand_on(self._held.popleft())

    def write(self, data: bytes) -> None:
        """See ``Transport``."""
        if self._error is not None:
            raise self._error
        if self._written is None:
            raise TransportError(
                f"{self._port} has no characteristic to write to",
                port=self._port,
                mend='name it in the [[port]] table, like write = "…"',
            )
        task = asyncio.get_running_loop().create_task(self._write(self._written, data))
        self._writes.add(task)
        task.add_done_callback(self._writes.discard)

    async def close(self) -> None:
        """See ``Transport``. Always ends the connection, also one that was lost: otherwise its
        subscription lives on and every later notification comes twice."""
        if self._closed:
            return
        self._closed = True
        tasks = [*self._writes, *([self._watch] if self._watch else [])]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await let_go(self._client)
        self.resume()
        self._received = self._lost = None

    def dropped(self) -> None:
        """The connection ended: by the device, or by us."""
        if not self._closed:
            mend = "bring it nearer or change its battery; it is found again by itself"
            self._give_up(PortGone(f"{self._port} is out of reach", port=self._port, mend=mend))

    def _characteristics(self) -> list[BleakGATTCharacteristic]:
        from bleak.exc import BleakError

        try:
            return [one for service in self._client.services for one in service.characteristics]
        except BleakError as error:  # the connection has just ended, and they with it
            raise trouble(self._port, "asking what it offers", error) from error

    def _notified(self, _: BleakGATTCharacteristic, data: bytearray) -> None:
        self._heard = time.monotonic()
        if not data:
            return
        if self._paused or self._received is None:
            self._held.append(bytes(data))
            if len(self._held) >= _HELD:
                mend = "see why readings are not being stored"
                error = PortGone("too many readings wait", port=self._port, mend=mend)
                self._give_up(error)
        else:
            self._hand_on(bytes(data))

    def _hand_on(self, data: bytes) -> None:
        if self._received is not None:
            self._received(data)

    def _give_up(self, error: TransportError) -> None:
        if self._error is None:
            self._error = error
            if self._lost is not None:
                self._lost(error)

    async def _write(self, handle: int, data: bytes) -> None:
        try:
            async with self._limit("writing"):
                one = self._client.services.get_characteristic(handle)
                response = one is not None and "write" in one.properties
                size = 512 if response or one is None else one.max_write_without_response_size
                for at in range(0, len(data), size):
                    await self._client.write_gatt_char(handle, data[at : at + size], response)
        except TransportError as error:
            self._give_up(error)

    async def _watching(self) -> None:
        """Asks a device that says nothing whether it is there: a Bluetooth service that died
        tells nobody."""
        while True:
            wait = self._heard + self._silence - time.monotonic()
            if wait > 0:
                await asyncio.sleep(wait)
                continue
            try:
                await self._probe()
            except TransportError as error:
                self.silent(f"silent for {self._silence:g} s: {error}; {error.mend}")
                self._give_up(error)
                return
            self._heard = time.monotonic()

    async def _probe(self) -> None:
        if not self._client.is_connected:
            raise PortGone(f"{self._port} is out of reach", port=self._port)
        if self.made_by is not None:
            await self._same_service()
        if await self._read_battery():
            return
        for one in self._characteristics():
            for descriptor in one.descriptors:
                if descriptor.uuid == PRESENTATION_FORMAT:
                    async with self._limit("being asked whether it is there"):
                        await self._client.read_gatt_descriptor(descriptor)
                    return
        for one in self._characteristics():
            # reading what notifies would pass for a press
            if "read" in one.properties and not {"notify", "indicate"} & set(one.properties):
                async with self._limit("being asked whether it is there"):
                    await self._client.read_gatt_char(one)
                return
        for one in self._characteristics():
            # last, a device that only sends: what it keeps of who has subscribed
            for descriptor in one.descriptors:
                async with self._limit("being asked whether it is there"):
                    await self._client.read_gatt_descriptor(descriptor)
                return

    async def _same_service(self) -> None:
        now = await running_service()
        if now is None:
            ended = ConnectionError("the service has ended")
            raise trouble(self._port, "asking whether it is there", ended)
        if now != self.made_by:
            mend = "nothing to do: it is connected again by itself"
            raise PortGone(
                f"the Bluetooth service was started anew, without {self._port}",
                port=self._port,
                mend=mend,
            )

    async def _read_battery(self) -> bool:
        for one in self._characteristics():
            if self._tells_battery and one.uuid == BATTERY_LEVEL and "read" in one.properties:
                async with self._limit("reading its battery"):
                    level = bytes(await self._client.read_gatt_char(one))
                self._battery_told(level)
                return True
        return False

    async def _follow_battery(self) -> None:
        """Has it tell its battery by itself, where it does: a gauge that is never silent is never
        asked."""
        for one in self._characteristics():
            if one.uuid == BATTERY_LEVEL and "notify" in one.properties:
                async with self._limit("subscribing to its battery"):
                    await self._client.start_notify(one, lambda _, level: self._battery_told(level))

    def _battery_told(self, level: bytes | bytearray) -> None:
        known = level[0] if len(level) == 1 and level[0] <= 100 else None
        if known != self.battery:
            self.battery = known
            self.device = self._port + battery_words(known)
            self.changed()

    def _limit(self, doing: str) -> AbstractAsyncContextManager[None]:
        return limit(self._port, doing)


@contextlib.asynccontextmanager
async def limit(device: str, doing: str, seconds: float | None = None) -> AsyncIterator[None]:
    """Ends what takes too long, and says in words what went wrong inside."""
    from bleak.exc import BleakError

    try:
        async with asyncio.timeout(TOUCH if seconds is None else seconds):
            yield
    except (BleakError, TimeoutError, OSError, EOFError) as error:
        raise trouble(device, doing, error) from error


async def connect(device: str, found: BLEDevice, silence: float) -> Link:
    """Connects to the device; raises ``TransportError`` where that fails, with nothing left."""
    from bleak import BleakClient

    # bleak calls this at every end of the connection, a failed beginning and our own end included
    client = BleakClient(found, lambda _: link.dropped(), timeout=_CONNECTING)
    link = Link(device, client, silence)
    try:
        async with limit(device, "connecting", 2 * _CONNECTING):
            link.made_by = await running_service()
            await client.connect()
    except BaseException:
        await let_go(client)
        raise
    return link


async def let_go(client: BleakClient) -> None:
    """Ends a connection, whatever state it is in, in bounded time."""
    # what is wrong with it has been told, or it ends on our own wish
    with contextlib.suppress(Exception):
        async with asyncio.timeout(TOUCH):
            await client.disconnect()
