"""Listening to a port without a profile: every byte of a cable, every notification of a radio."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable
from concurrent.futures import Executor
from typing import TYPE_CHECKING, NamedTuple

from capture.errors import PortGone, TransportError
from drivers.ble.choose import Offered
from drivers.ble.link import let_go, limit
from drivers.ble.numbers import BATTERY_LEVEL, PRESENTATION_FORMAT, full
from drivers.transports.opening import open_port
from drivers.transports.ports import find, system_ports
from drivers.transports.settings import PortSettings

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic
    from bleak.backends.device import BLEDevice

Gone = asyncio.Future[TransportError]
"""Done, with the reason, when the port is lost."""
_CONNECTING = 10.0
_NO_READINGS = {BATTERY_LEVEL, full(0x2A05)}
"""Characteristics that send by themselves what is no reading: battery, changes of the services."""


@contextlib.asynccontextmanager
async def cable(
    settings: PortSettings, executor: Executor, heard: Callable[[bytes], None]
) -> AsyncIterator[Gone]:
    """While inside, ``heard`` is called with what the port sends; raises ``TransportError`` where
    it cannot be opened."""
    loop = asyncio.get_running_loop()
    there = [] if settings.is_url else await loop.run_in_executor(executor, system_ports)
    found = find(settings, there)
    transport = await open_port(settings, found.device, executor)
    gone: Gone = loop.create_future()
    transport.start(heard, lambda error: None if gone.done() else gone.set_result(error))
    try:
        yield gone
    finally:
        await transport.close()


class Part(NamedTuple):
    """One characteristic and the service it is part of."""

    service: str
    one: Offered

    @property
    def sends(self) -> bool:
        """Whether readings may come from it."""
        return self.one.notifies and self.one.uuid not in _NO_READINGS


class RadioEar:
    """A connection to one radio device, from which all is heard that it sends."""

    def __init__(self, port: str, client: BleakClient, gone: Gone) -> None:
        self.gone = gone
        self.parts: tuple[Part, ...] = ()
        """What it offers."""
        self.battery: int | None = None
        """Percent, where it tells."""
        self._port = port
        self._client = client

    async def look(self) -> None:
        """Finds out what it offers; reads how values are described, and the battery."""
        found = []
        for service in self._client.services:
            for one in service.characteristics:
                found.append(Part(service.uuid, await self._offered(one)))
                if one.uuid == BATTERY_LEVEL and "read" in one.properties:
                    async with limit(self._port, "reading its battery"):
                        level = bytes(await self._client.read_gatt_char(one))
                    self.battery = level[0] if len(level) == 1 and level[0] <= 100 else None
        self.parts = tuple(sorted(found, key=lambda part: part.one.handle))

    async def listen(
        self, heard: Callable[[Offered, bytes], None], only: str | None = None
    ) -> list[Offered]:
        """Has every characteristic send (``only`` the one with this UUID, where given); gives
        those that do. Raises ``TransportError`` where there is none."""
        chosen = [part.one for part in self.parts if part.sends and only in (None, part.one.uuid)]
        if not chosen:
            wanted = f"no characteristic {only} that sends" if only else "nothing that sends"
            raise TransportError(
                f"{self._port} has {wanted}",
                port=self._port,
                mend="see with 'witnessmark instruments' what it offers",
            )
        for one in chosen:
            async with limit(self._port, "subscribing"):
                await self._client.start_notify(one.handle, _teller(one, heard))
        return chosen

    async def write(self, uuid: str, data: bytes) -> None:
        """Writes ``data`` to the characteristic; raises ``TransportError`` where it has none."""
        for service in self._client.services:
            for one in service.characteristics:
                if one.uuid == uuid:
                    async with limit(self._port, "writing"):
                        await self._client.write_gatt_char(one, data, "write" in one.properties)
                    return
        raise TransportError(
            f"{self._port} has no characteristic {uuid}",
            port=self._port,
            mend="see with 'witnessmark instruments' what it offers",
        )

    async def _offered(self, one: BleakGATTCharacteristic) -> Offered:
        notifies = bool({"notify", "indicate"} & set(one.properties))
        writes = bool({"write", "write-without-response"} & set(one.properties))
        description = None
        if notifies and (told := one.get_descriptor(PRESENTATION_FORMAT)) is not None:
            async with limit(self._port, "reading its format"):
                description = bytes(await self._client.read_gatt_descriptor(told))
        return Offered(one.handle, one.uuid, notifies, writes, description)


@contextlib.asynccontextmanager
async def radio(port: str, found: BLEDevice) -> AsyncIterator[RadioEar]:
    """A connection to ``found``, with what it offers known; it is ended in any case afterwards."""
    from bleak import BleakClient

    gone: Gone = asyncio.get_running_loop().create_future()

    def dropped(_: BleakClient) -> None:
        mend = "bring it nearer or change its battery; it is found again by itself"
        if not gone.done():
            gone.set_result(PortGone(f"{port} is out of reach", port=port, mend=mend))

    client = BleakClient(found, dropped, timeout=_CONNECTING)
    try:
        async with limit(port, "connecting", 2 * _CONNECTING):
            await client.connect()
        ear = RadioEar(port, client, gone)
        await ear.look()
        yield ear
    finally:
        await let_go(client)


def _teller(
    one: Offered, heard: Callable[[Offered, bytes], None]
) -> Callable[[BleakGATTCharacteristic, bytearray], None]:
    # a plain function: the library completes asynchronous ones out of order
    def tell(_: BleakGATTCharacteristic, data: bytearray) -> None:
        if data:
            heard(one, bytes(data))

    return tell
