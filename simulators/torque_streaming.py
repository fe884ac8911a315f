"""Plays a torque stream in time: onto a cable, or as a radio's notifications."""

from __future__ import annotations

import asyncio
import threading
import time

from simulators.ble.daemon import Daemon
from simulators.ble.device import Characteristic, Device, Service
from simulators.serial_side import Cable
from simulators.torque_stream import TorqueStream

STREAM_SERVICE = "3a1f0020-7c52-4be8-8a10-52d8f1a90c11"
STREAM = "3a1f0021-7c52-4be8-8a10-52d8f1a90c11"
_TICK = 0.002
"""Seconds between two looks at the clock."""


class OnCable:
    """An adapter at the end of a cable, sending on a thread of its own. Use it as a context."""

    def __init__(self, cable: Cable, stream: TorqueStream) -> None:
        self._cable = cable
        self._stream = stream
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"torque {cable.path}")

    def __enter__(self) -> OnCable:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def stop(self) -> None:
        """Sends no more."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        start = time.monotonic()
        while not (self._stream.over or self._stop.is_set()):
            data = b"".join(self._stream.due(time.monotonic() - start))
            if data:
                self._cable.write(data)
            self._stop.wait(_TICK)


def radio(address: str = "C2:00:00:00:00:21", name: str = "Invented adapter") -> Device:
    """A torque adapter with a radio: one characteristic that notifies."""
    stream = Characteristic(STREAM, ("notify",))
    return Device(address, name, [Service(STREAM_SERVICE, [stream])])


async def over_radio(daemon: Daemon, device: Device, stream: TorqueStream) -> None:
    """Sends until all is sent, or until the link is gone; what was due by then was sent."""
    one = device.characteristic(STREAM)
    start = time.monotonic()
    while not stream.over:
        for message in stream.due(time.monotonic() - start):
            if not daemon.notify(device, one, message):
                return
        await asyncio.sleep(_TICK)
