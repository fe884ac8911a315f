"""An RFC 2217 server: a serial port over TCP, with an instrument on a real line behind it.

The instrument sends with its own settings; the port receives with those the client negotiated.
Between them lies the line of ``uart``, so that a client with the wrong speed, parity or stop bits
gets what it would get from a cable.

Source: RFC 2217. One client at a time, as a port has.
"""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Callable
from dataclasses import replace

from simulators import telnet
from simulators.uart import Character, LineSettings, OnError, delivered, receive, transmit

_PARITY_CODES = ("none", "odd", "even", "mark", "space")
_STOP_SIZES = {1: 1.0, 2: 2.0, 3: 1.5}
_PARITY_ERROR, _FRAMING_ERROR, _BREAK = 4, 8, 16


class Rfc2217Server:
    """One serial port offered over TCP; ``instrument`` are the true settings behind it.

    ``on_request`` gets the bytes the client sent as the instrument receives them, and answers
    with what it sends back (empty for nothing).
    """

    def __init__(
        self,
        instrument: LineSettings,
        on_request: Callable[[bytes], bytes] | None = None,
        on_error: OnError = OnError.KEEP,
    ) -> None:
        self.instrument = instrument
        self.negotiated = LineSettings()
        """What the client asked for; 9600 8N1 until it did."""
        self.connected = asyncio.Event()
        """Set while a client is connected and has set a speed."""
        self._on_request = on_request
        self._on_error = on_error
        self._server: asyncio.Server | None = None
        self._client: asyncio.StreamWriter | None = None
        self._task: asyncio.Task[None] | None = None
        self._line_state_mask = 0

    @property
    def url(self) -> str:
        """What a client opens."""
        assert self._server is not None, "start it first"
        host, port = self._server.sockets[0].getsockname()[:2]
        return f"rfc2217://{host}:{port}"

    async def start(self, host: str = "127.0.0.1", port: int = 0) -> str:
        """Listens, and gives the URL. Port 0 picks a free one."""
        self._server = await asyncio.start_server(self._serve, host, port)
        return self.url

    async def stop(self) -> None:
        """Hangs up and closes the port."""
        if self._server is not None:
            self._server.close()
        await self.hang_up()
        if self._server is not None:
            await self._server.wait_closed()
            self._server = None

    async def hang_up(self) -> None:
        """Drops the client, if any; it may connect again."""
        task = self._task
        if self._client is not None and task is not None:
            # Closing ends the task's read; cancelling it instead upsets asyncio's own callback.
            self._client.transport.abort()
            await asyncio.wait({task})

    async def send(self, data: bytes) -> bytes:
        """The instrument sends ``data``; gives what the port received. Lost without a client."""
        characters = receive(transmit(data, self.instrument), self.negotiated)
        arrived = delivered(characters, self._on_error)
        if self._client is not None:
            self._client.write(self._line_state(characters) + telnet.escaped(arrived))
            await self._client.drain()
        return arrived

    def _line_state(self, characters: list[Character]) -> bytes:
        state = 0
        for each in characters:
            state |= _PARITY_ERROR if each.parity_error else 0
            state |= _BREAK if each.is_break else _FRAMING_ERROR if each.framing_error else 0
        state &= self._line_state_mask
        return telnet.com_port(telnet.NOTIFY_LINESTATE, bytes((state,))) if state else b""

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if self._client is not None:  # a port is opened by one program at a time
            writer.close()
            return
        self._client, self._task = writer, asyncio.current_task()
        self._line_state_mask = 0
        heard_so_far = telnet.TelnetReader()
        try:
            while chunk := await reader.read(4096):
                await self._heard(heard_so_far.feed(chunk), writer)
        except ConnectionError:
            pass
        finally:
            self._client = self._task = None
            self.connected.clear()
            writer.close()

    async def _heard(self, heard: telnet.Heard, writer: asyncio.StreamWriter) -> None:
        for verb, option in heard.options:
            writer.write(telnet.agree(verb, option))
        for command, value in heard.commands:
            writer.write(self._obey(command, value))
        await writer.drain()
        if heard.data and self._on_request is not None:
            line = transmit(bytes(heard.data), self.negotiated)
            request = delivered(receive(line, self.instrument), self._on_error)
            if answer := self._on_request(request):
                await self.send(answer)

    def _obey(self, command: int, value: bytes) -> bytes:
        """Carries out a COM-PORT command and answers with what is then in force."""
        if command == telnet.SET_BAUDRATE:
            return telnet.com_port(command, self._set_baud(value))
        if command in (telnet.SET_DATASIZE, telnet.SET_PARITY, telnet.SET_STOPSIZE):
            return telnet.com_port(command, bytes((self._set_form(command, value[:1]),)))
        if command == telnet.SET_LINESTATE_MASK:
            self._line_state_mask = value[0] if value else 0
        # Control lines, masks and purges are granted as asked: nothing here depends on them.
        return telnet.com_port(command, value)

    def _set_baud(self, value: bytes) -> bytes:
        if len(value) == 4 and any(value):
            (baud,) = struct.unpack("!I", value)
            self.negotiated = replace(self.negotiated, baud=baud)
            self.connected.set()
        return struct.pack("!I", round(self.negotiated.baud))

    def _set_form(self, command: int, value: bytes) -> int:
        """A value of 0, or one that cannot be, changes nothing and asks what is set."""
        asked = value[0] if value else 0
        now = self.negotiated
        if command == telnet.SET_DATASIZE:
            if asked in (5, 6, 7, 8):
                self.negotiated = replace(now, data_bits=asked)
            return self.negotiated.data_bits
        if command == telnet.SET_PARITY:
            if 1 <= asked <= len(_PARITY_CODES):
                self.negotiated = replace(now, parity=_PARITY_CODES[asked - 1])
            return _PARITY_CODES.index(self.negotiated.parity) + 1
        if asked in _STOP_SIZES:
            self.negotiated = replace(now, stop_bits=_STOP_SIZES[asked])
        return next(code for code, size in _STOP_SIZES.items() if size == self.negotiated.stop_bits)
