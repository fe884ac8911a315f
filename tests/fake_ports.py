"""Ports that are opened, lost and found at a word, and a store that keeps what they send."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Callable, Sequence
from concurrent.futures import Executor
from pathlib import Path

from capture.clock import SystemClock
from capture.errors import TransportError
from capture.reading import Captured, DeviceState, LiveTorque, Pull, Reading
from drivers.bench import Bench, parse_bench
from drivers.devices import Devices
from drivers.transports.ports import PortInfo
from drivers.transports.settings import PortSettings
from drivers.transports.transport import Lost, Received
from tests.support import eventually_async

INSTRUMENT = """[[instrument]]
id = "{id}"
kind = "micrometer"
port = "cable"
profile = "{profile}"
unit = "mm"
resolution = "0.001"
{more}
"""
PORT = '[[port]]\nid = "cable"\ndevice = "{device}"\n{more}\n'


def bench(
    device: str = "/dev/ttyUSB0",
    profile: str = "decimal-line",
    port: str = "",
    names: Sequence[str] = ("mike",),
    channels: bool = False,
    folder: Path = Path(),
) -> Bench:
    rows = [
        INSTRUMENT.format(
            id=name, profile=profile, more=f'channel = "{number}"' if channels else ""
        )
        for number, name in enumerate(names, 1)
    ]
    return parse_bench("".join(rows) + PORT.format(device=device, more=port), "b.toml", folder)


class Store:
    """A sink that keeps all, and has room or not."""

    def __init__(self) -> None:
        self.items: list[Captured] = []
        self.lives: list[LiveTorque] = []
        self.states: list[DeviceState] = []
        self.roomy = asyncio.Event()
        self.roomy.set()
        self.calls = 0

    def take(self, items: Sequence[Captured]) -> bool:
        self.items += items
        self.calls += 1
        return self.roomy.is_set()

    async def room(self) -> None:
        await self.roomy.wait()

    def device(self, state: DeviceState) -> None:
        self.states.append(state)

    def torque(self, live: LiveTorque) -> None:
        self.lives.append(live)

    @property
    def told(self) -> list[str]:
        return [
            item.digits
            if isinstance(item, Reading)
            else "pull"
            if isinstance(item, Pull)
            else item.code
            for item in self.items
        ]

    @property
    def pulls(self) -> list[Pull]:
        return [item for item in self.items if isinstance(item, Pull)]

    def states_of(self, name: str = "mike") -> list[str]:
        return [state.state for state in self.states if state.instrument == name]


class FakeTransport:
    """A transport in the test's hands."""

    def __init__(self, device: str) -> None:
        self.device = device
        self.sent: list[bytes] = []
        self.on_write: Callable[[bytes], None] = lambda data: None
        self.on_close: Callable[[], None] = lambda: None
        self.paused = self.closed = False
        self.received: Received = lambda chunk: None
        self.lost: Lost = lambda error: None

    def start(self, received: Received, lost: Lost) -> None:
        self.received, self.lost = received, lost

    def pause(self) -> None:
        self.paused = True

    def resume(self) -> None:
        self.paused = False

    def write(self, data: bytes) -> None:
        self.sent.append(data)
        self.on_write(data)

    async def close(self) -> None:
        self.on_close()
        self.closed = True


class Workbench:
    """Devices with fake transports, and waits that last as long as the test says."""

    def __init__(self, of: Bench, ports: Sequence[PortInfo] = ()) -> None:
        self.store = Store()
        self.ports = list(ports)
        self.transports: list[FakeTransport] = []
        self.refusals: list[TransportError | Exception] = []
        self.opened: list[tuple[PortSettings, str]] = []
        self.waits: list[float] = []
        self.wake = asyncio.Event()
        self.devices = Devices(
            of,
            self.store,
            SystemClock(),
            ports=lambda: self.ports,
            open_port=self.open,
            sleep=self.sleep,
            random=lambda: 0.0,
        )

    async def open(self, settings: PortSettings, device: str, executor: Executor) -> FakeTransport:
        self.opened.append((settings, device))
        if self.refusals:
            raise self.refusals.pop(0)
        self.transports.append(FakeTransport(device))
        return self.transports[-1]

    async def sleep(self, seconds: float) -> None:
        self.waits.append(seconds)
        await self.wake.wait()
        self.wake.clear()

    async def ready(self, count: int = 1) -> FakeTransport:
        await eventually_async(
            lambda: (
                len(self.transports) == count
                and all(state.state == "ready" for state in self.devices.states())
            ),
            f"ready {count} times",
        )
        return self.transports[-1]

    async def has_stored(self, count: int) -> None:
        await eventually_async(lambda: len(self.store.items) >= count, f"{count} items stored")

    async def waiting(self, count: int = 1) -> None:
        await eventually_async(lambda: len(self.waits) == count, f"waiting for try {count}")


@contextlib.asynccontextmanager
async def running(of: Bench, ports: Sequence[PortInfo] = ()) -> AsyncIterator[Workbench]:
    workbench = Workbench(of, ports)
    await workbench.devices.start()
    try:
        yield workbench
    finally:
        await workbench.devices.stop()
    assert all(transport.closed for transport in workbench.transports)
