"""The one radio of this computer: one scan for all instruments, and one connection made at a time.

Adapters refuse a second scan, and many drop a connection that is made while they scan or make
another; so scanning and connecting take turns.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncIterator
from typing import TYPE_CHECKING

from capture.errors import PortGone, TransportError
from drivers.ble.address import Target
from drivers.ble.dead_bus import take_what_it_leaves
from drivers.ble.trouble import trouble

if TYPE_CHECKING:
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData

_ROUND = 5.0
"""Seconds a scan lasts at most before connections have their turn."""
_STOPPING = 5.0


class Radio:
    """Finds devices, and lets one connection at a time be made."""

    def __init__(self, *, namesakes: float = 1.0) -> None:
        """``namesakes``: seconds to go on listening for a second device of the same name."""
        self._namesakes = namesakes
        self._turn = asyncio.Lock()
        self._wanted: dict[asyncio.Future[BLEDevice], Target] = {}
        self._heard: dict[str, tuple[BLEDevice, str | None, float]] = {}
        self._news = asyncio.Event()
        self._scan: asyncio.Task[None] | None = None
        self._known: dict[str, str] = {}

    async def find(self, device: str, target: Target, seconds: float) -> BLEDevice:
        """The device that is meant; raises ``TransportError`` where it is not heard, or where
        several are meant."""
        found: asyncio.Future[BLEDevice] = asyncio.get_running_loop().create_future()
        self._wanted[found] = target
        take_what_it_leaves(asyncio.get_running_loop())
        if self._scan is None or self._scan.done():
            self._scan = asyncio.get_running_loop().create_task(self._scanning(device))
        try:
            async with asyncio.timeout(seconds):
                return await found
        except TimeoutError:
            raise PortGone(
                f"{device} is not heard by radio",
                port=device,
                mend="switch it on, bring it nearer, and see that no phone is connected to it",
            ) from None
        finally:
            self._wanted.pop(found, None)
            self._news.set()
            if not self._wanted and self._scan is not None:
                # awaited, for the next turn needs the adapter to itself
                await asyncio.wait({self._scan})

    @contextlib.asynccontextmanager
    async def turn(self) -> AsyncIterator[None]:
        """While inside, nobody else scans or connects."""
        async with self._turn:
            yield

    def remember(self, target: Target, address: str) -> None:
        """A name has been found at this address: from now on it is that device alone."""
        if not target.is_address:
            self._known[target.text] = address.upper()

    async def _scanning(self, device: str) -> None:
        while self._wanted:
            try:
                async with self._turn:
                    await self._round()
            except Exception as error:  # noqa: BLE001 # each waiting instrument is told
                told = trouble(device, "scanning", error)
                for found in self._wanted:
                    if not found.done():
                        found.set_exception(
                            TransportError(str(told), port=told.port, mend=told.mend)
                        )
                return
            await asyncio.sleep(0)

    async def _round(self) -> None:
        from bleak import BleakScanner

        self._heard = {}
        end = time.monotonic() + _ROUND
        scanner = BleakScanner(self._detected)
        async with asyncio.timeout(_STOPPING):
            await scanner.start()
        try:
            while not self._answered() and (left := end - time.monotonic()) > 0:
                self._news.clear()
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(min(left, max(self._namesakes / 4, 0.01))):
                        await self._news.wait()
        finally:
            async with asyncio.timeout(_STOPPING):
                await scanner.stop()

    def _detected(self, device: BLEDevice, said: AdvertisementData) -> None:
        # the same device is heard many times; the first time counts for the wait for namesakes
        address = device.address.upper()
        since = self._heard[address][2] if address in self._heard else time.monotonic()
        self._heard[address] = (device, said.local_name or device.name, since)
        self._news.set()

    def _answered(self) -> bool:
        """Tells those whose device was heard; whether there is somebody whose turn it is now."""
        waiting = [found for found in self._wanted if not found.done()]
        for found in waiting:
            self._answer(found, self._wanted[found])
        return not waiting or any(found.done() for found in self._wanted)

    def _answer(self, found: asyncio.Future[BLEDevice], target: Target) -> None:
        meant = [
            heard for address, heard in self._heard.items() if target.is_meant(address, heard[1])
        ]
        if not meant:
            return
        known = self._known.get(target.text)
        if known is not None and not target.is_address:
            meant_before = [heard for heard in meant if heard[0].address.upper() == known]
            if meant_before:
                found.set_result(meant_before[0][0])
            return
        if target.is_address:
            found.set_result(meant[0][0])
        elif len(meant) > 1:
            found.set_exception(_namesakes(target, [heard[0].address for heard in meant]))
        elif time.monotonic() - meant[0][2] >= self._namesakes:
            found.set_result(meant[0][0])


def _namesakes(target: Target, addresses: list[str]) -> TransportError:
    several = " and ".join(sorted(addresses))
    return TransportError(
        f"several devices are named {target.text}: {several}",
        port=target.text,
        mend="write the address of the one that is meant, like "
        f"ble://{sorted(addresses)[0]}, in bench.toml",
    )
