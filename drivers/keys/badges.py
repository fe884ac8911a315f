"""The bench's badge scanners: each kept open, and every scan told."""

from __future__ import annotations

import asyncio
import random as chance
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

from drivers.adapters.connection import State
from drivers.keys.badge import BadgeReader, Scan, Scans
from drivers.keys.kept import Hold, KeptDevice, KeptDevices
from drivers.keys.names import changes_of
from drivers.keys.opening import Keyboards, KeyTransport, Opened, typing
from drivers.transports.transport import Transport

Scanned = Callable[[BadgeReader, Scan], None]
"""Called in the event loop with what a scanner has typed."""
Told = Callable[[BadgeReader, State, str], None]
"""Called in the event loop with what a scanner is doing, and why."""


class BadgeDevice(KeptDevice):
    """One badge scanner."""

    what = "badge reader"

    def __init__(self, reader: BadgeReader, scanned: Scanned, told: Told, hold: Hold) -> None:
        super().__init__(reader.device, hold)
        self._reader = reader
        self._scanned, self._told = scanned, told

    def _check(self, path: str, name: str, keys: frozenset[int]) -> None:
        typing(path, name, keys)

    def _transport(self, opened: Opened) -> Transport:
        return KeyTransport(opened, changes_of(self._reader.keys), self._hold.keyboards.settling)

    def _taker(self, where: str) -> Callable[[bytes], bool]:
        scans = Scans()
        time = asyncio.get_running_loop().time

        def take(text: bytes) -> bool:
            found = scans.feed(text, time())
            for scan in found:
                self._scanned(self._reader, scan)
            return bool(found)

        return take

    def _tell(self, state: State, detail: str) -> None:
        self._told(self._reader, state, detail)


class Badges(KeptDevices):
    """All badge scanners of a bench, opened and closed together."""

    def __init__(
        self,
        readers: Sequence[BadgeReader],
        scanned: Scanned,
        told: Told,
        *,
        keyboards: Keyboards | None = None,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        random: Callable[[], float] = chance.random,
    ) -> None:
        executor = ThreadPoolExecutor(2, thread_name_prefix="badge")
        hold = Hold(executor, keyboards or Keyboards(), sleep, random)
        super().__init__([BadgeDevice(one, scanned, told, hold) for one in readers], executor)
