"""The bench's foot pedals: each device kept open, and every press told."""

from __future__ import annotations

import asyncio
import functools
import logging
import random as chance
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor

from capture.errors import TransportError
from drivers.adapters.backoff import Backoff
from drivers.adapters.connection import State
from drivers.keys.opening import Keyboards, Opened, has_key
from drivers.keys.pedal import Pedal, Presses

log = logging.getLogger(__name__)

Pressed = Callable[[Pedal], None]
"""Called in the event loop with the pedal that was pressed."""
Told = Callable[[Pedal, State, str], None]
"""Called in the event loop with what a pedal's device is doing, and why."""

_LOST = "presses may have been lost while this computer was busy: press again"


class PedalDevice:
    """One device with one pedal or several, opened again whenever it is lost."""

    def __init__(
        self,
        pedals: Sequence[Pedal],
        pressed: Pressed,
        told: Told,
        *,
        executor: Executor,
        keyboards: Keyboards,
        sleep: Callable[[float], Awaitable[None]],
        random: Callable[[], float],
    ) -> None:
        self._pedals = tuple(pedals)
        self._device = pedals[0].device
        self._pressed, self._told = pressed, told
        self._executor, self._keyboards = executor, keyboards
        self._sleep = sleep
        self._backoff = Backoff(random)

    async def run(self) -> None:
        """Keeps the device open until cancelled."""
        try:
            while True:
                self._tell(State.OPENING, f"opening {self._device}")
                error = await self._connect()
                wait = self._backoff.wait()
                again = f"trying again in {wait:.1f} s"
                self._tell(State.LOST, "; ".join(filter(None, (str(error), error.mend, again))))
                await self._sleep(wait)
        finally:
            self._tell(State.CLOSED, "the service has closed it")

    async def _connect(self) -> TransportError:
        try:
            opened = await self._keyboards.open(self._device, self._executor, self._check)
        except TransportError as error:
            return error
        try:
            return await self._serve(opened)
        finally:
            await asyncio.shield(opened.transport.close())

    async def _serve(self, opened: Opened) -> TransportError:
        presses = Presses(self._pedals)
        gone: asyncio.Future[TransportError] = asyncio.get_running_loop().create_future()

        def lost(error: TransportError) -> None:
            if not gone.done():
                gone.set_result(error)

        def received(chunk: bytes) -> None:
            try:
                for pedal in presses.feed(chunk):
                    self._backoff.reset()
                    if pedal is None:
                        self._tell(State.READY, f"on {opened.transport.device}; {_LOST}")
                    else:
                        self._pressed(pedal)
            except Exception as error:  # logged, told, and opened anew
                log.error("pedal %s: reading it went wrong", self._device, exc_info=error)
                lost(TransportError(f"reading it went wrong here: {error!r}"))

        self._tell(State.READY, f"on {opened.transport.device}")
        opened.transport.start(received, lost)
        return await gone

    def _check(self, path: str, name: str, keys: frozenset[int]) -> None:
        for pedal in self._pedals:
            has_key(path, name, keys, pedal.key)

    def _tell(self, state: State, detail: str) -> None:
        for pedal in self._pedals:
            self._told(pedal, state, detail)


class Pedals:
    """All pedals of a bench, opened and closed together."""

    def __init__(
        self,
        pedals: Sequence[Pedal],
        pressed: Pressed,
        told: Told,
        *,
        keyboards: Keyboards | None = None,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        random: Callable[[], float] = chance.random,
    ) -> None:
        self._executor = ThreadPoolExecutor(2, thread_name_prefix="pedal")
        make = functools.partial(
            PedalDevice,
            pressed=pressed,
            told=told,
            executor=self._executor,
            keyboards=keyboards or Keyboards(),
            sleep=sleep,
            random=random,
        )
        devices = dict.fromkeys(pedal.device for pedal in pedals)
        self._devices = [
            make([pedal for pedal in pedals if pedal.device == device]) for device in devices
        ]
        self._tasks: list[asyncio.Task[None]] = []

    async def start(self) -> None:
        """Begins to open every device. Returns at once."""
        loop = asyncio.get_running_loop()
        self._tasks = [loop.create_task(device.run()) for device in self._devices]

    async def stop(self) -> None:
        """Closes every device; nothing is told as pressed afterwards."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._tasks = []
        await asyncio.to_thread(self._executor.shutdown, cancel_futures=True)
