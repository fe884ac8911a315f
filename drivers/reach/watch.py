"""Which gauge was pressed: every port within reach is opened, and what comes is told with its port.

Nothing is stored. A port that vanishes is opened again when it is back, a radio that falls silent
is listened for again; ports plugged in later are opened too.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from capture.clock import SystemClock
from capture.errors import DecodingError, TransportError
from capture.reading import Captured, Pull, Reading
from drivers.adapters.receiver import Receiver
from drivers.ble.choose import Offered, readable
from drivers.ble.radio import Radio
from drivers.reach.bursts import GAP, Burst, Bursts
from drivers.reach.ears import cable, radio
from drivers.reach.known import Known
from drivers.reach.survey import Heard, survey
from drivers.transports.ports import ListPorts, PortInfo, system_ports
from drivers.transports.settings import PortSettings

if TYPE_CHECKING:
    from drivers.adapters.port import Port

AGAIN = 1.0
"""Seconds between looks at what is plugged in, and between tries to open a port."""
_CLOCK = SystemClock()


class Press(NamedTuple):
    """What came from one port in one burst."""

    port: str
    burst: Burst
    readings: tuple[str, ...]
    """What it says, where the bench's profile or the device itself tells how to read it."""


class Place(NamedTuple):
    """A port that is watched."""

    port: str
    title: str
    instruments: tuple[str, ...]


class Watcher:
    """Told of places, of what they are doing, and of presses; called in the event loop."""

    def __init__(
        self,
        place: Callable[[Place], None],
        state: Callable[[str, str], None],
        press: Callable[[Press], None],
    ) -> None:
        """``state`` is called with a port and words; empty words mean that it is listened to."""
        self.place = place
        self.state = state
        self.press = press


class Watch:
    """Opens what is within reach, until cancelled."""

    def __init__(
        self,
        watcher: Watcher,
        executor: Executor,
        known: Known,
        usual: PortSettings,
        *,
        ports: ListPorts = system_ports,
        seconds: float | None = None,
    ) -> None:
        """``usual``: how ports are opened that are not on the bench; ``seconds``: how long a scan
        for radios lasts, None to leave Bluetooth alone."""
        self._watcher = watcher
        self._executor = executor
        self._known = known
        self._usual = usual
        self._list = ports
        self._seconds = seconds
        self._tasks: dict[str, asyncio.Task[None]] = {}

    async def run(self) -> None:
        """Watches until cancelled; everything is closed afterwards."""
        radios = None
        try:
            for port in self._known.ports:
                if port.settings.is_url and not port.settings.device.startswith("ble:"):
                    self._begin_cable(port.settings.device, "", port)
            if self._seconds is not None:
                radios = asyncio.get_running_loop().create_task(self._radios(self._seconds))
            while True:
                await self._cables()
                await asyncio.sleep(AGAIN)
        finally:
            tasks = [*self._tasks.values(), *([radios] if radios else [])]
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def _cables(self) -> None:
        loop = asyncio.get_running_loop()
        infos = await loop.run_in_executor(self._executor, self._list)
        for info in infos:
            port = self._known.on_cable(info)
            if port is None or port.settings.device not in self._tasks:
                self._begin_cable(info.device, _title(info), port)
        for port in self._known.missing():
            if not port.settings.is_url and not _is_keys(port):
                self._begin_cable(port.settings.device, "", port)

    def _begin_cable(self, device: str, title: str, port: Port | None) -> None:
        if device in self._tasks:
            return
        settings = replace(port.settings if port else self._usual, id=device, device=device)
        self._watcher.place(Place(device, title, _ids(port)))
        work = self._cable(settings, _reader(port))
        self._tasks[device] = asyncio.get_running_loop().create_task(work)

    async def _cable(self, settings: PortSettings, read: _Read) -> None:
        device = settings.device

        def done(burst: Burst) -> None:
            self._watcher.press(Press(device, burst, read(burst.raw)))

        while True:
            bursts = Bursts(GAP, done, _time)
            try:
                async with cable(settings, self._executor, bursts.take) as gone:
                    self._watcher.state(device, "")
                    error = await gone
            except TransportError as refused:
                error = refused
            finally:
                bursts.end()
            self._watcher.state(device, _words(error))
            await asyncio.sleep(AGAIN)

    async def _radios(self, seconds: float) -> None:
        on, said = Radio(), ""
        while True:
            try:
                heard = await survey(on, seconds)
            except TransportError as error:
                if _words(error) != said:
                    said = _words(error)
                    self._watcher.state("Bluetooth", said)
                heard = []
            for one in heard:
                port = self._known.on_radio(one.address, one.name)
                task = self._tasks.get(one.port)
                if (one.is_near or port is not None) and (task is None or task.done()):
                    await self._begin_radio(on, one, port)
            await asyncio.sleep(AGAIN)

    async def _begin_radio(self, on: Radio, one: Heard, port: Port | None) -> None:
        """Connects, and returns once it is listened to or refused: one connection at a time."""
        self._watcher.place(Place(one.port, one.name or "", _ids(port)))
        begun = asyncio.Event()
        task = asyncio.get_running_loop().create_task(self._radio(on, one, port, begun))
        self._tasks[one.port] = task
        waiting = asyncio.get_running_loop().create_task(begun.wait())
        try:
            await asyncio.wait({task, waiting}, return_when=asyncio.FIRST_COMPLETED)
        finally:
            waiting.cancel()
            await asyncio.gather(waiting, return_exceptions=True)

    async def _radio(self, on: Radio, one: Heard, port: Port | None, begun: asyncio.Event) -> None:
        read = _reader(port)
        known: dict[str, _Read] = {}

        def done(burst: Burst) -> None:
            how = known.get(burst.source or "", read)
            self._watcher.press(Press(one.port, burst, how(burst.raw)))

        def heard(which: Offered, data: bytes) -> None:
            if which.uuid in known:  # one notification is one value, however soon the next comes
                done(Burst(_time(), data, which.uuid, whole=True))
            else:
                bursts.take(data, which.uuid)

        bursts = Bursts(GAP, done, _time)
        only = port.settings.notify if port else None
        try:
            async with contextlib.AsyncExitStack() as stack:
                async with on.turn():
                    ear = await stack.enter_async_context(radio(one.port, one.device))
                    known.update(_described([part.one for part in ear.parts]))
                    await ear.listen(heard, only)
                self._watcher.state(one.port, "")
                begun.set()
                error = await ear.gone
        except TransportError as refused:
            error = refused
        finally:
            bursts.end()
        self._watcher.state(one.port, _words(error))


_Read = Callable[[bytes], tuple[str, ...]]


def _reader(port: Port | None) -> _Read:
    """Reads a burst with the bench's profile; says nothing where there is none."""
    from drivers.ble.described import DESCRIBED

    if port is None or port.profile.name == DESCRIBED.name:
        return lambda _: ()

    def read(raw: bytes) -> tuple[str, ...]:
        receiver = Receiver(port.profile, port.settings.id, port.instruments)
        stamp = _CLOCK.now()
        items = [*receiver.receive(raw, stamp), *receiver.drain()]
        return tuple(_said(item) for item in items)

    return read


def _said(item: Captured) -> str:
    if isinstance(item, Reading):
        return f"{item.digits} {item.unit}"
    return f"a pull in {item.unit}" if isinstance(item, Pull) else f"not read: {item.detail}"


def _described(offered: Sequence[Offered]) -> dict[str, _Read]:
    """Reads the characteristics that say themselves how."""
    by_handle = readable(offered)

    def reader(handle: int) -> _Read:
        decode = by_handle[handle].decoder(0, 0)

        def read(raw: bytes) -> tuple[str, ...]:
            try:
                digits, unit, _, _ = decode(raw)
            except DecodingError as error:
                return (f"not read: {error}",)
            return (f"{digits} {unit}",)

        return read

    return {one.uuid: reader(one.handle) for one in offered if one.handle in by_handle}


def _ids(port: Port | None) -> tuple[str, ...]:
    return tuple(instrument.id for instrument in port.instruments) if port else ()


def _is_keys(port: Port) -> bool:
    from drivers.keys.address import is_keys

    return is_keys(port.settings.device)


def _title(info: PortInfo) -> str:
    return "" if info.description in ("n/a", info.device) else info.description


def _time() -> str:
    return _CLOCK.now().at


def _words(error: TransportError) -> str:
    return "; ".join(filter(None, (str(error), error.mend)))
