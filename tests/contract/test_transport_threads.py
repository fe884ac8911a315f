"""What the thread of a port has read is handed on, whatever happens to port, loop or connection.

The port is fed by hand: its bytes, and the moment of its loss, are the test's.
"""

from __future__ import annotations

import asyncio
import queue
import threading
from concurrent.futures import ThreadPoolExecutor

from drivers.transports.threaded import ThreadedTransport
from tests.contract.ear import Ear
from tests.support import eventually, eventually_async


class HandFed:
    """A port whose bytes and whose loss the test decides."""

    def __init__(self, *given: bytes | OSError) -> None:
        self.given = list(given)
        self.waiting: list[bytes | OSError] = []
        self.reads = 0
        self.closed = threading.Event()
        self.slow = threading.Event()
        self.sent: list[bytes] = []

    @property
    def in_waiting(self) -> int:
        if self.waiting and isinstance(self.waiting[0], OSError):
            raise self.waiting[0]
        return sum(len(data) for data in self.waiting if isinstance(data, bytes))

    def read(self, size: int) -> bytes:
        self.reads += 1
        if size > 1:
            return b"".join(data for data in self.waiting if isinstance(data, bytes))
        if self.given:
            data = self.given.pop(0)
            if isinstance(data, OSError):
                raise data
            return data
        self.closed.wait(0.2)
        return b""

    def write(self, data: bytes) -> None:
        if not self.sent:
            self.slow.wait(0.2)  # so that a second write could overtake the first
        self.sent.append(data)

    def close(self) -> None:
        self.closed.set()


def on_thread(port: object, executor: ThreadPoolExecutor) -> tuple[ThreadedTransport, Ear]:
    ear = Ear()
    transport = ThreadedTransport(port, "x", asyncio.get_running_loop(), executor)
    transport.start(ear.chunks.append, ear.losses.append)
    return transport, ear


async def test_what_the_thread_has_read_and_the_loop_not_taken_is_handed_on_when_closing(
    executor: ThreadPoolExecutor,
) -> None:
    port = HandFed(b"12.345\r")
    transport, ear = on_thread(port, executor)
    # no turn of the loop until the thread has read it
    eventually(lambda: not transport._taken, "the thread has read the press")
    assert ear.chunks == []

    await transport.close()

    assert ear.chunks == [b"12.345\r"]
    assert not transport._thread.is_alive()


async def test_what_is_written_is_sent_in_order(executor: ThreadPoolExecutor) -> None:
    port = HandFed()
    transport, _ = on_thread(port, executor)
    wanted = [bytes([number]) for number in range(20)]

    for data in wanted:
        transport.write(data)

    await eventually_async(lambda: len(port.sent) == len(wanted), "all of it was sent")
    assert port.sent == wanted
    await transport.close()


async def test_a_first_byte_is_kept_when_the_port_is_lost_at_the_second(
    executor: ThreadPoolExecutor,
) -> None:
    port = HandFed(b"1")
    port.waiting = [OSError(5, "gone")]
    transport, ear = on_thread(port, executor)

    await eventually_async(lambda: bool(ear.losses), "the loss was told")

    assert ear.chunks == [b"1"]
    await transport.close()


async def test_what_a_network_port_has_queued_is_kept_when_its_connection_ends(
    executor: ThreadPoolExecutor,
) -> None:
    # pyserial's rfc2217:// raises, once its connection has ended, with bytes still in its queue
    port = HandFed(OSError("connection failed (reader thread died)"))
    arrived: queue.Queue[bytes | None] = queue.Queue()
    for byte in (b"7", b".", b"5", b"\r", None):
        arrived.put(byte)
    port._read_buffer = arrived  # type: ignore[attr-defined] # pyserial's own name for it
    port.waiting = [b"7.5\r"]
    transport, ear = on_thread(port, executor)

    await eventually_async(lambda: bool(ear.losses), "the loss was told")

    assert ear.data == b"7.5\r"
    await transport.close()
    assert ear.data == b"7.5\r"
