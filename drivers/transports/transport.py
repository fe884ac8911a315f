"""What every transport does: it carries bytes, and says when it no longer can."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from capture.errors import TransportError

Received = Callable[[bytes], None]
"""Called in the event loop with what one read gave; never empty."""
Lost = Callable[[TransportError], None]
"""Called in the event loop, once, when the port can no longer be read."""


class Transport(Protocol):
    """An open port. Everything is called in the event loop."""

    device: str
    """Where it was opened: may differ from the name in bench.toml."""

    def start(self, received: Received, lost: Lost) -> None:
        """Begins to read."""
        ...

    def pause(self) -> None:
        """Stops reading; what arrives waits in the system's buffer. At most one chunk that was
        already read still comes."""
        ...

    def resume(self) -> None:
        """Reads again."""
        ...

    def write(self, data: bytes) -> None:
        """Sends ``data`` as soon as the port takes it; raises ``TransportError`` if it is lost."""
        ...

    async def close(self) -> None:
        """Lets the port go. What has arrived by then is handed on first, paused or not, and
        nothing is called afterwards. May be called twice."""
        ...
