"""All instruments of a bench: opened, watched, asked, and closed together."""

from __future__ import annotations

import asyncio
import random as chance
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from capture.errors import NotFound, RequestError
from capture.reading import Clock, DeviceState, Sink
from drivers.adapters.adapter import Adapter
from drivers.adapters.means import Means
from drivers.adapters.port import Port
from drivers.bench import TYPED, Bench
from drivers.ble.adapter import BleAdapter
from drivers.ble.address import is_ble
from drivers.ble.radio import Radio
from drivers.keys.address import is_keys
from drivers.transports.opening import Open, open_port
from drivers.transports.ports import ListPorts, system_ports

if TYPE_CHECKING:
    from drivers.keys.opening import Keyboards


class Devices:
    """The bench's ports, each kept open by an adapter of its own.

    One port that fails is a device state, never an error of the whole.
    """

    def __init__(
        self,
        bench: Bench,
        sink: Sink,
        clock: Clock,
        *,
        ports: ListPorts | None = None,
        open_port: Open = open_port,
        keyboards: Keyboards | None = None,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        random: Callable[[], float] = chance.random,
    ) -> None:
        """``ports`` lists what is plugged in; ``sleep`` and ``random`` shape the waits between
        tries. Tests supply their own."""
        self._bench = bench
        workers = max(4, min(32, len(bench.ports)))
        self._executor = ThreadPoolExecutor(workers, thread_name_prefix="port")
        means = Means(
            sink=sink,
            clock=clock,
            executor=self._executor,
            ports=ports or system_ports,
            open=open_port,
            sleep=sleep,
            random=random,
            claims={
                port.settings.id: port.settings.usb_serial
                for port in bench.ports
                if port.settings.usb_serial is not None
            },
        )
        radio = Radio()
        self._keyboards = keyboards
        self._adapters = [self._adapter(port, means, radio) for port in bench.ports]
        self._tasks: list[asyncio.Task[None]] = []

    def _adapter(self, port: Port, means: Means, radio: Radio) -> Adapter:
        device = port.settings.device
        if is_ble(device):
            return BleAdapter(port, means, radio)
        if is_keys(device):
            from drivers.keys.adapter import KeyAdapter  # few benches have one

            return KeyAdapter(port, means, self._keyboards)
        return Adapter(port, means)

    async def start(self) -> None:
        """Begins to open every port. Returns at once; the states tell how it goes."""
        loop = asyncio.get_running_loop()
        self._tasks = [
            loop.create_task(adapter.run(), name=f"port {adapter.port.settings.id}")
            for adapter in self._adapters
        ]

    async def stop(self) -> None:
        """Closes every port. What was received is in the sink when this returns."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._tasks = []
        await asyncio.to_thread(self._executor.shutdown, cancel_futures=True)

    def states(self) -> list[DeviceState]:
        """What every instrument's connection is doing; typed-in instruments have none."""
        return [state for adapter in self._adapters for state in adapter.news.states()]

    async def ask(self, instrument_id: str) -> None:
        """Asks an instrument for a reading and returns when an answer came.

        Raises ``NotFound`` for an id that is not on this bench, ``RequestError`` where it cannot
        be asked or does not answer.
        """
        for adapter in self._adapters:
            for instrument in adapter.port.instruments:
                if instrument.id == instrument_id:
                    await adapter.asker.ask(instrument)
                    return
        known = {instrument.id: instrument for instrument in self._bench.instruments}
        if instrument_id not in known:
            mend = f"the instruments here are {', '.join(known) or 'none'}"
            raise NotFound(f"there is no instrument {instrument_id!r} on this bench", mend=mend)
        assert known[instrument_id].port == TYPED
        mend = "type its reading in"
        raise RequestError(f"{instrument_id} has no connection to ask over", mend=mend)
