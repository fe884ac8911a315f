"""Sends messages to the bus in order, and only while the socket takes them.

The D-Bus library takes a full socket for the end of the connection, so a burst of notifications
would end the daemon; and a reply that overtook a signal would tell a lie.
"""

from __future__ import annotations

import asyncio
import select
from collections import deque

from dbus_fast import Message
from dbus_fast.aio import MessageBus

_DEAD = select.POLLHUP | select.POLLERR | select.POLLNVAL
_AGAIN = 0.0005
"""Seconds until a full socket is tried again."""


class Outbox:
    """What waits to be sent."""

    def __init__(self, bus: MessageBus) -> None:
        self._bus = bus
        self._waiting: deque[Message] = deque()
        self._later: asyncio.TimerHandle | None = None
        self._poll = select.poll()
        assert bus._fd is not None
        self._poll.register(bus._fd, select.POLLOUT)

    def send(self, message: Message) -> None:
        """Sends it after all that were given before."""
        self._waiting.append(message)
        if self._later is None:
            self._go_on()

    def stop(self) -> None:
        """Drops what waits."""
        self._waiting.clear()
        if self._later is not None:
            self._later.cancel()
            self._later = None

    def _go_on(self) -> None:
        self._later = None
        while self._waiting and self._bus.connected:
            ready = self._poll.poll(0)
            if not ready:
                self._later = asyncio.get_running_loop().call_later(_AGAIN, self._go_on)
                return
            if ready[0][1] & _DEAD:  # the bus has ended: nobody is there to be told
                self._waiting.clear()
                return
            self._bus.send(self._waiting.popleft()).add_done_callback(_seen)


def _seen(sent: asyncio.Future[None]) -> None:
    """A bus that ends while a message is written is no news by then."""
    if not sent.cancelled():
        sent.exception()
