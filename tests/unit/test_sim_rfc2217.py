"""The RFC 2217 server against pyserial's own client (an outside implementation of RFC 2217)."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from typing import Any

import pytest
import serial

from simulators import telnet
from simulators.rfc2217_server import Rfc2217Server
from simulators.uart import LineSettings, across

LINE = b"+25.400 mm\r\n"

# pyserial 3.5 still calls Thread.setDaemon and setName.
pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")


async def until(true: Callable[[], bool], seconds: float = 5.0) -> None:
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "waited in vain"
        await asyncio.sleep(0.005)


@asynccontextmanager
async def server(
    settings: LineSettings, answer: Callable[[bytes], bytes] | None = None
) -> AsyncIterator[Rfc2217Server]:
    one = Rfc2217Server(settings, answer)
    await one.start()
    try:
        yield one
    finally:
        await one.stop()


@asynccontextmanager
async def client(one: Rfc2217Server, **settings: Any) -> AsyncIterator[serial.SerialBase]:
    port = await asyncio.to_thread(serial.serial_for_url, one.url, timeout=2, **settings)
    try:
        yield port
    finally:
        await asyncio.to_thread(port.close)
        await until(lambda: not one.connected.is_set())


async def test_right_settings_pass_every_byte_even_255() -> None:
    async with server(LineSettings()) as one, client(one, baudrate=9600) as port:
        await one.send(bytes(range(256)))
        assert await asyncio.to_thread(port.read, 256) == bytes(range(256))


async def test_all_settings_are_negotiated() -> None:
    true = LineSettings(19200, 7, "even", 2)
    async with (
        server(true) as one,
        client(one, baudrate=19200, bytesize=7, parity="E", stopbits=2) as port,
    ):
        assert one.negotiated == true
        await one.send(LINE)
        assert await asyncio.to_thread(port.read, len(LINE)) == LINE


async def test_a_wrong_speed_gives_what_the_line_gives() -> None:
    async with server(LineSettings(9600)) as one, client(one, baudrate=4800) as port:
        expected = across(LINE, LineSettings(9600), LineSettings(4800))
        assert await one.send(LINE) == expected
        assert await asyncio.to_thread(port.read, len(expected)) == expected
        assert expected != LINE


async def test_wrong_parity_and_data_bits_give_other_bytes() -> None:
    async with server(LineSettings(9600, 7, "even")) as one, client(one, baudrate=9600) as port:
        await one.send(b"ACE")
        assert await asyncio.to_thread(port.read, 3) == bytes((0x41, 0xC3, 0xC5))


async def test_a_request_travels_back_and_is_garbled_the_same_way() -> None:
    asked: list[bytes] = []

    def answer(request: bytes) -> bytes:
        asked.append(request)
        return LINE

    async with server(LineSettings(9600), answer) as one:
        async with client(one, baudrate=9600) as port:
            await asyncio.to_thread(port.write, b"?\xff\r")
            assert await asyncio.to_thread(port.read, len(LINE)) == LINE
        async with client(one, baudrate=19200) as port:
            await asyncio.to_thread(port.write, b"?\r")
            await until(lambda: len(asked) > 1)
    assert asked[0] == b"?\xff\r"
    assert asked[1] != b"?\r"


async def test_a_client_can_come_back_after_it_was_hung_up_on() -> None:
    async with server(LineSettings()) as one:
        async with client(one, baudrate=9600):
            await one.hang_up()
        async with client(one, baudrate=9600) as port:
            await one.send(LINE)
            assert await asyncio.to_thread(port.read, len(LINE)) == LINE


async def test_line_errors_are_reported_to_a_client_that_asks() -> None:
    async with server(LineSettings(parity="odd")) as one:
        host, port = one.url.removeprefix("rfc2217://").split(":")
        reader, writer = await asyncio.open_connection(host, int(port))
        sb = bytes((telnet.IAC, telnet.SB, telnet.COM_PORT))
        se = bytes((telnet.IAC, telnet.SE))
        writer.write(sb + b"\x0a\xff\xff" + se + sb + b"\x03\x03" + se)  # mask 255; even parity
        granted = sb + b"\x6e\xff\xff" + se + sb + b"\x67\x03" + se  # the same, plus 100
        assert await reader.readexactly(len(granted)) == granted
        await until(lambda: one.negotiated.parity == "even")
        await one.send(b"A")
        # RFC 2217: NOTIFY-LINESTATE from the server is 106; parity error is bit value 4.
        assert await reader.readexactly(8) == sb + b"\x6a\x04" + se + b"A"
        writer.close()
        await writer.wait_closed()


async def test_nothing_is_kept_for_a_client_that_is_not_there() -> None:
    async with server(LineSettings()) as one:
        assert await one.send(LINE) == LINE
        async with client(one, baudrate=9600) as port:
            await one.send(b"x")
            assert await asyncio.to_thread(port.read, 1) == b"x"


def test_commands_are_heard_in_any_chunking() -> None:
    # RFC 2217, SET-BAUDRATE to 9600 (0x00002580), with data before and a doubled 255 after.
    stream = b"a" + bytes.fromhex("fffa2c0100002580fff0") + b"\xff\xff" + bytes.fromhex("fffd00")
    together = telnet.TelnetReader().feed(stream)
    apart = telnet.TelnetReader()
    data, options, commands = bytearray(), [], []
    for byte in stream:
        heard = apart.feed(bytes((byte,)))
        data += heard.data
        options += heard.options
        commands += heard.commands
    assert together.data == data == b"a\xff"
    assert together.options == options == [(telnet.DO, telnet.BINARY)]
    assert together.commands == commands == [(telnet.SET_BAUDRATE, bytes.fromhex("00002580"))]


def test_unknown_options_are_declined() -> None:
    assert telnet.agree(telnet.DO, 1) == bytes((telnet.IAC, telnet.WONT, 1))
    assert telnet.agree(telnet.WILL, 24) == bytes((telnet.IAC, telnet.DONT, 24))
    assert telnet.agree(telnet.DO, telnet.COM_PORT) == bytes((telnet.IAC, telnet.WILL, 44))
