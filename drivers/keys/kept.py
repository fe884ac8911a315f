"""Input devices that are no instruments, each kept open and opened again whenever it is lost."""

from __future__ import annotations

import abc
import asyncio
import logging
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from typing import NamedTuple

from capture.errors import TransportError
from drivers.adapters.backoff import Backoff
from drivers.adapters.connection import State
from drivers.keys.opening import Keyboards, Opened
from drivers.transports.transport import Transport

log = logging.getLogger(__name__)


class Hold(NamedTuple):
    """What a device is opened with."""

    executor: Executor
    keyboards: Keyboards
    sleep: Callable[[float], Awaitable[None]]
    random: Callable[[], float]


class KeptDevice(abc.ABC):
    """One device, had by this program alone."""

    what: str
    """What it is called in the log."""

    def __init__(self, device: str, hold: Hold) -> None:
        self._device = device
        self._hold = hold
        self._backoff = Backoff(hold.random)

    async def run(self) -> None:
        """Keeps the device open until cancelled."""
        try:
            while True:
                self._tell(State.OPENING, f"opening {self._device}")
                error = await self._connect()
                wait = self._backoff.wait()
                again = f"trying again in {wait:.1f} s"
                self._tell(State.LOST, "; ".join(filter(None, (str(error), error.mend, again))))
                await self._hold.sleep(wait)
        finally:
            self._tell(State.CLOSED, "the service has closed it")

    async def _connect(self) -> TransportError:
        hold = self._hold
        try:
            opened = await hold.keyboards.open(self._device, hold.executor, self._check)
        except TransportError as error:
            return error
        try:
            return await self._serve(self._transport(opened))
        finally:
            await asyncio.shield(opened.transport.close())

    async def _serve(self, transport: Transport) -> TransportError:
        take = self._taker(f"on {transport.device}")
        gone: asyncio.Future[TransportError] = asyncio.get_running_loop().create_future()

        def lost(error: TransportError) -> None:
            if not gone.done():
                gone.set_result(error)

        def received(chunk: bytes) -> None:
            try:
                if take(chunk):
                    self._backoff.reset()
            except Exception as error:  # logged, told, and opened anew
                log.error("%s %s: reading it went wrong", self.what, self._device, exc_info=error)
                lost(TransportError(f"reading it went wrong here: {error!r}"))

        self._tell(State.READY, f"on {transport.device}")
        transport.start(received, lost)
        return await gone

    def _transport(self, opened: Opened) -> Transport:
        """What gives the bytes that ``_taker`` takes: the events themselves."""
        return opened.transport

    @abc.abstractmethod
    def _check(self, path: str, name: str, keys: frozenset[int]) -> None:
        """Raises TransportError where the device is not what is needed."""

    @abc.abstractmethod
    def _taker(self, where: str) -> Callable[[bytes], bool]:
        """A fresh taker of what comes from now on; it gives whether anything was in it."""

    @abc.abstractmethod
    def _tell(self, state: State, detail: str) -> None:
        """Takes what the device is doing, and why."""


class KeptDevices:
    """Such devices, opened and closed together."""

    def __init__(self, devices: Sequence[KeptDevice], executor: ThreadPoolExecutor) -> None:
        """``executor`` is what they are opened on; it is shut down with them."""
        self._devices = devices
        self._executor = executor
        self._tasks: list[asyncio.Task[None]] = []

    async def start(self) -> None:
        """Begins to open every device. Returns at once."""
        loop = asyncio.get_running_loop()
        self._tasks = [loop.create_task(device.run()) for device in self._devices]

    async def stop(self) -> None:
        """Closes every device; nothing comes from them afterwards."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._tasks = []
        await asyncio.to_thread(self._executor.shutdown, cancel_futures=True)
