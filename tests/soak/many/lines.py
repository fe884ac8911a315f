"""Lines that gauges hang on: each can vanish and come back, and tells what it has taken."""

from __future__ import annotations

import asyncio
import contextlib
import socket
from abc import ABC, abstractmethod
from pathlib import Path

from simulators.ble.daemon import Daemon
from simulators.ble.device import Device
from simulators.rfc2217_server import Rfc2217Server
from simulators.serial_side import Cable, CableStuck
from simulators.uart import LineSettings


class Line(ABC):
    """One port of the bench, seen from the gauge's end."""

    def __init__(self, name: str, device: str) -> None:
        self.name = name
        self.device = device
        """What bench.toml says."""
        self.spell = 0
        """How often it has vanished."""
        self.up = True

    @abstractmethod
    async def start(self) -> None:
        """Makes it appear for the first time."""

    @abstractmethod
    async def send(self, data: bytes) -> bool:
        """Puts a message on the wire; whether the wire took it. Nobody may have read it yet."""

    async def vanish(self) -> None:
        """The cable is pulled, the radio out of reach."""
        if self.up:
            self.up = False
            self.spell += 1
            await self._vanish()

    async def come_back(self) -> None:
        """It is there again."""
        if not self.up:
            await self._come_back()
            self.up = True

    async def stop(self) -> None:
        """Takes it away for good."""
        await self.vanish()

    @abstractmethod
    async def _vanish(self) -> None: ...

    @abstractmethod
    async def _come_back(self) -> None: ...


class SerialLine(Line):
    """A pseudo-terminal behind a name that stays the same."""

    def __init__(self, name: str, folder: Path) -> None:
        super().__init__(name, str(folder / name))
        self._folder = folder

    async def start(self) -> None:
        self._cable = Cable(self._folder / self.name)

    async def send(self, data: bytes) -> bool:
        if not self.up:
            return False
        try:
            self._cable.write(data, timeout=0)
        except CableStuck:  # nobody has read for a while: a gauge does not wait for that
            return False
        return True

    async def _vanish(self) -> None:
        self._cable.vanish()

    async def _come_back(self) -> None:
        self._cable.plug_in()


class TcpLine(Line):
    """A serial server's raw TCP port; while it is away, connections to it are refused."""

    def __init__(self, name: str) -> None:
        # bound but not listening, it keeps the number from everybody else
        self._keeper = _bound(0)
        self._port: int = self._keeper.getsockname()[1]
        super().__init__(name, f"socket://127.0.0.1:{self._port}")
        self._server: asyncio.Server | None = None
        self._client: asyncio.StreamWriter | None = None

    async def start(self) -> None:
        self._server = await asyncio.start_server(self._serve, sock=_bound(self._port))

    async def send(self, data: bytes) -> bool:
        if self._client is None:
            return False
        self._client.write(data)
        return True

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._client is not None:  # as a port, it has one reader at a time
            writer.close()
            return
        self._client = writer
        try:
            with contextlib.suppress(ConnectionError):
                while await reader.read(4096):
                    pass
        finally:
            self._client = None
            writer.close()

    async def _vanish(self) -> None:
        assert self._server is not None
        self._server.close()
        if self._client is not None:
            self._client.close()
        await self._server.wait_closed()

    async def _come_back(self) -> None:
        await self.start()

    async def stop(self) -> None:
        await super().stop()
        self._keeper.close()


class Rfc2217Line(Line):
    """A serial port over RFC 2217."""

    def __init__(self, name: str) -> None:
        self._keeper = _bound(0)
        self._port: int = self._keeper.getsockname()[1]
        super().__init__(name, f"rfc2217://127.0.0.1:{self._port}")
        self._server = Rfc2217Server(LineSettings())

    async def start(self) -> None:
        await self._server.start(port=self._port)

    async def send(self, data: bytes) -> bool:
        if not self._server.connected.is_set():
            return False
        with contextlib.suppress(ConnectionError):  # it ended meanwhile: it may have arrived
            await self._server.send(data)
        return True

    async def _vanish(self) -> None:
        await self._server.stop()

    async def _come_back(self) -> None:
        await self.start()

    async def stop(self) -> None:
        await super().stop()
        self._keeper.close()


class Radio:
    """The Bluetooth service all radio lines go through; it can end and start again."""

    def __init__(self, address: str) -> None:
        self._address = address
        self.lines: list[BleLine] = []

    async def start(self) -> None:
        """Starts it with the devices of all lines."""
        daemon = Daemon(self._address, interval=0.1)
        await daemon.start()
        self.daemon = daemon
        for line in self.lines:
            daemon.add(line.gauge)

    async def stop(self) -> None:
        """Ends it without a word to anybody."""
        for line in self.lines:
            line.spell += 1
            gauge = line.gauge
            gauge.present = gauge.connected = gauge.resolved = False
            for one in gauge.characteristics():
                one.sessions.clear()
        await self.daemon.stop()
        assert self.daemon.refused == []


class BleLine(Line):
    """A gauge with a radio of its own; ``uuid`` is the characteristic it sends by."""

    def __init__(self, name: str, radio: Radio, gauge: Device, uuid: str) -> None:
        super().__init__(name, f"ble://{gauge.address}")
        self.gauge = gauge
        self.uuid = uuid
        self._radio = radio
        radio.lines.append(self)

    async def start(self) -> None:
        await self._come_back()

    async def send(self, data: bytes) -> bool:
        return self._radio.daemon.notify(self.gauge, self.gauge.characteristic(self.uuid), data)

    async def _vanish(self) -> None:
        self._radio.daemon.vanish(self.gauge)

    async def _come_back(self) -> None:
        self.gauge.on_air = True


def _bound(port: int) -> socket.socket:
    made = socket.socket()
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    made.bind(("127.0.0.1", port))
    return made
