"""A gauge on a TCP port, as a serial device server puts one there: it sends lines on a press."""

from __future__ import annotations

import contextlib
import socket
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

BENCH = """
[[instrument]]
id = "gauge-1"
kind = "bore-gauge"
port = "socket://127.0.0.1:{port}"
profile = "decimal-line"
unit = "mm"
resolution = "0.001"
"""


@dataclass
class Gauge:
    """One gauge; the service connects to it."""

    listening: socket.socket
    sent: list[str] = field(default_factory=list)
    """Digits of every press, in order."""
    _line: socket.socket | None = None

    @property
    def bench(self) -> str:
        """Its part of a bench.toml."""
        return BENCH.format(port=self.listening.getsockname()[1])

    def connect(self) -> None:
        """Waits for the service to open the port."""
        self._line, _ = self.listening.accept()
        self._line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def press(self, digits: Sequence[str]) -> None:
        """Presses SEND several times in one go."""
        assert self._line is not None
        self._line.sendall("".join(f"{text} mm\r\n" for text in digits).encode())
        self.sent.extend(digits)

    def close(self) -> None:
        """Pulls the cable."""
        if self._line is not None:
            self._line.close()


@contextlib.contextmanager
def plugged_in() -> Iterator[Gauge]:
    """A gauge that waits on a free port of the loopback."""
    with contextlib.closing(socket.create_server(("127.0.0.1", 0))) as listening:
        listening.settimeout(30)
        gauge = Gauge(listening)
        try:
            yield gauge
        finally:
            gauge.close()
