"""Every transport carries bytes both ways, pauses, and says when the port is lost."""

from __future__ import annotations

import asyncio
import contextlib
import os
import tty
from collections.abc import AsyncIterator, Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import pytest

from capture.errors import PortGone, TransportError
from drivers.transports.opening import open_port, open_serial
from drivers.transports.selected import SelectedTransport
from drivers.transports.settings import PortSettings
from drivers.transports.threaded import ThreadedTransport
from drivers.transports.transport import Transport
from simulators.rfc2217_server import Rfc2217Server
from simulators.uart import LineSettings
from tests.contract.ear import Ear
from tests.support import eventually_async

ALL = bytes(range(256))

# pyserial 3.5 still calls Thread.setDaemon and setName
pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")


@dataclass
class FarEnd:
    """The instrument's end of a port under test."""

    settings: PortSettings
    open: Callable[[ThreadPoolExecutor], Awaitable[Transport]]
    send: Callable[[bytes], Awaitable[None]]
    heard: bytearray
    vanish: Callable[[], Awaitable[None]]
    expected: type


@contextlib.asynccontextmanager
async def pseudo_terminal(threaded: bool) -> AsyncIterator[FarEnd]:
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    device = os.ttyname(theirs)
    settings = PortSettings(device, device)
    heard = bytearray()
    loop = asyncio.get_running_loop()
    still_open = [ours, theirs]

    def listen() -> None:
        with contextlib.suppress(OSError):
            heard.extend(os.read(ours, 4096))

    async def open_it(executor: ThreadPoolExecutor) -> Transport:
        if not threaded:
            return await open_port(settings, device, executor)
        port = await loop.run_in_executor(executor, open_serial, settings, device)
        return ThreadedTransport(port, device, loop, executor)

    async def send(data: bytes) -> None:
        os.write(ours, data)

    async def vanish() -> None:
        loop.remove_reader(ours)
        while still_open:
            os.close(still_open.pop())

    loop.add_reader(ours, listen)
    kind = ThreadedTransport if threaded else SelectedTransport
    yield FarEnd(settings, open_it, send, heard, vanish, kind)
    await vanish()


@contextlib.asynccontextmanager
async def socket_server() -> AsyncIterator[FarEnd]:
    heard = bytearray()
    writers: list[asyncio.StreamWriter] = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writers.append(writer)
        while data := await reader.read(4096):
            heard.extend(data)
        writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    host, port = server.sockets[0].getsockname()
    url = f"socket://{host}:{port}"
    settings = PortSettings(url, url)

    async def send(data: bytes) -> None:
        writers[-1].write(data)

    async def vanish() -> None:
        for writer in writers:
            writer.close()

    async def open_it(executor: ThreadPoolExecutor) -> Transport:
        before = len(writers)
        transport = await open_port(settings, url, executor)
        await eventually_async(lambda: len(writers) > before, "the server has the client")
        return transport

    yield FarEnd(settings, open_it, send, heard, vanish, SelectedTransport)
    await vanish()
    server.close()
    await server.wait_closed()


@contextlib.asynccontextmanager
async def rfc2217_server() -> AsyncIterator[FarEnd]:
    heard = bytearray()

    def hear(data: bytes) -> bytes:
        heard.extend(data)
        return b""

    server = Rfc2217Server(LineSettings(), on_request=hear)
    url = await server.start()
    settings = PortSettings(url, url)

    async def send(data: bytes) -> None:
        await server.send(data)

    async def open_it(executor: ThreadPoolExecutor) -> Transport:
        # the server takes one client at a time, and may still be letting the last one go
        await eventually_async(lambda: not server.connected.is_set(), "the server is free")
        return await open_port(settings, url, executor)

    yield FarEnd(settings, open_it, send, heard, server.hang_up, ThreadedTransport)
    await server.stop()


WAYS = {
    "selector on a pseudo-terminal": lambda: pseudo_terminal(threaded=False),
    "thread on a pseudo-terminal": lambda: pseudo_terminal(threaded=True),
    "socket://": socket_server,
    "rfc2217://": rfc2217_server,
}


@pytest.fixture(params=sorted(WAYS))
async def far_end(request: pytest.FixtureRequest) -> AsyncIterator[FarEnd]:
    async with WAYS[request.param]() as end:
        yield end


@pytest.fixture
async def opened(
    far_end: FarEnd, executor: ThreadPoolExecutor
) -> AsyncIterator[tuple[FarEnd, Transport, Ear]]:
    transport = await far_end.open(executor)
    ear = Ear()
    transport.start(ear.chunks.append, ear.losses.append)
    yield far_end, transport, ear
    await transport.close()


Opened = tuple[FarEnd, Transport, Ear]


def test_is_of_the_kind_that_fits(opened: Opened) -> None:
    far_end, transport, _ = opened

    assert type(transport) is far_end.expected
    assert transport.device == far_end.settings.device


async def test_every_byte_arrives_unchanged(opened: Opened) -> None:
    far_end, _, ear = opened

    await far_end.send(ALL)
    await eventually_async(lambda: len(ear.data) >= 256, "256 bytes arrived")

    assert ear.data == ALL
    assert ear.losses == []


async def test_every_byte_sent_arrives_unchanged(opened: Opened) -> None:
    far_end, transport, _ = opened

    transport.write(ALL[:100])
    transport.write(ALL[100:])
    await eventually_async(lambda: len(far_end.heard) >= 256, "256 bytes were sent")

    assert bytes(far_end.heard) == ALL


async def test_much_at_once_arrives_in_order(opened: Opened) -> None:
    far_end, _, ear = opened
    sent = b"".join(b"%06d\r\n" % number for number in range(2000))

    for start in range(0, len(sent), 2000):
        await far_end.send(sent[start : start + 2000])
        await ear.has_heard(min(len(sent), start + 2000))

    assert ear.data == sent


async def test_a_paused_port_is_not_read_and_loses_nothing(opened: Opened) -> None:
    far_end, transport, ear = opened
    await far_end.send(b"before")
    await eventually_async(lambda: ear.data == b"before", "the first bytes arrived")

    transport.pause()
    await far_end.send(b"-one")
    # a thread may have been reading already: one more chunk may come, and no second
    await asyncio.sleep(0.05)
    so_far = len(ear.chunks)
    await far_end.send(b"-two")
    await asyncio.sleep(0.05)
    assert len(ear.chunks) == so_far <= 2

    transport.resume()
    await eventually_async(lambda: len(ear.data) >= 14, "what waited arrived")
    assert ear.data == b"before-one-two"


async def test_a_lost_port_is_told_once_with_the_mend(opened: Opened) -> None:
    far_end, transport, ear = opened

    await far_end.vanish()
    await eventually_async(lambda: bool(ear.losses), "the loss was told")

    (loss,) = ear.losses
    assert isinstance(loss, PortGone)
    assert loss.port == far_end.settings.device
    assert loss.mend
    await transport.close()
    assert len(ear.losses) == 1


async def test_nothing_is_told_after_closing(opened: Opened) -> None:
    _, transport, ear = opened

    await transport.close()
    await transport.close()

    assert ear.losses == []
    with pytest.raises(TransportError):
        transport.write(b"x")


async def test_can_be_opened_again_after_closing(
    far_end: FarEnd, executor: ThreadPoolExecutor
) -> None:
    for _ in range(2):
        transport = await far_end.open(executor)
        ear = Ear()
        transport.start(ear.chunks.append, ear.losses.append)
        await far_end.send(b"hello")
        await ear.has_heard(5)
        assert ear.data == b"hello"
        await transport.close()


async def test_a_transport_never_started_can_be_closed(
    far_end: FarEnd, executor: ThreadPoolExecutor
) -> None:
    transport = await far_end.open(executor)

    await transport.close()


async def test_what_was_sent_before_a_cable_was_opened_is_kept(
    executor: ThreadPoolExecutor,
) -> None:
    for threaded in (False, True):
        async with pseudo_terminal(threaded) as far_end:
            await far_end.send(b"early")
            transport = await far_end.open(executor)
            ear = Ear()
            transport.start(ear.chunks.append, ear.losses.append)
            await ear.has_heard(5)
            assert ear.data == b"early"
            await transport.close()


async def test_a_port_is_ours_alone(executor: ThreadPoolExecutor) -> None:
    async with pseudo_terminal(threaded=False) as far_end:
        transport = await far_end.open(executor)

        with pytest.raises(TransportError, match="this very program has it open already"):
            await far_end.open(executor)

        await transport.close()


async def test_a_cancelled_opening_leaves_nothing_open(executor: ThreadPoolExecutor) -> None:
    async with pseudo_terminal(threaded=False) as far_end:
        opening = asyncio.ensure_future(far_end.open(executor))
        await asyncio.sleep(0)
        opening.cancel()
        with pytest.raises(asyncio.CancelledError):
            await opening

        # it is free again, once what the thread opened after all was closed
        for _ in range(200):
            with contextlib.suppress(TransportError):
                transport = await far_end.open(executor)
                break
            await asyncio.sleep(0.005)
        await transport.close()


async def test_nobody_listening_is_an_error_with_a_mend(executor: ThreadPoolExecutor) -> None:
    async with socket_server() as far_end:
        url = far_end.settings.device

    for scheme in ("socket", "rfc2217"):
        device = url.replace("socket", scheme)
        with pytest.raises(TransportError) as caught:
            await open_port(PortSettings(device, device), device, executor)
        assert caught.value.port == device
        assert "refused" in str(caught.value)
        assert "check the address" in caught.value.mend


async def test_what_arrived_while_the_loop_was_busy_is_handed_on_before_closing_is_done(
    executor: ThreadPoolExecutor,
) -> None:
    for threaded in (False, True):
        for paused in (False, True):
            async with pseudo_terminal(threaded) as far_end:
                transport = await far_end.open(executor)
                ear = Ear()
                transport.start(ear.chunks.append, ear.losses.append)
                if paused:
                    transport.pause()
                await far_end.send(b"12.345\r")

                # the loop has had no turn to take it
                await transport.close()

                assert ear.data == b"12.345\r", (threaded, paused)
                assert ear.losses == []
                await asyncio.sleep(0.01)
                assert ear.data == b"12.345\r", "nothing is told after closing"


@pytest.mark.parametrize("way", ["socket://", "rfc2217://"])
async def test_presses_and_a_hang_up_at_once_keep_the_presses(
    way: str, executor: ThreadPoolExecutor
) -> None:
    async with WAYS[way]() as far_end:
        transport = await far_end.open(executor)
        ear = Ear()
        transport.start(ear.chunks.append, ear.losses.append)

        for _ in range(50):
            await far_end.send(b"12.345\r")
        await far_end.vanish()
        await eventually_async(lambda: bool(ear.losses), "the loss was told")
        await transport.close()

        assert ear.data == b"12.345\r" * 50
