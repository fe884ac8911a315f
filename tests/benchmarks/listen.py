"""A page that listens: reads server-sent events from a socket.

``Listener`` waits for one event at a time, to measure how long a press takes to a page. Run as
``python -m tests.benchmarks.listen PORT PATH MARK COUNT`` it takes events as fast as they come,
each event being one occurrence of MARK, and prints how many it saw.
"""

from __future__ import annotations

import socket
import sys
from types import TracebackType


class Listener:
    """One open event stream."""

    def __init__(self, port: int, path: str, mark: bytes) -> None:
        self._port, self._path, self._mark = port, path, mark
        self._last_id = b""
        self._connect()

    def _connect(self) -> None:
        host = f"127.0.0.1:{self._port}"
        again = f"Last-Event-ID: {self._last_id.decode()}\r\n" if self._last_id else ""
        request = f"GET {self._path} HTTP/1.1\r\nHost: {host}\r\n{again}\r\n"
        self._left = b""
        self._socket = socket.create_connection(("127.0.0.1", self._port), timeout=60)
        self._socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._socket.sendall(request.encode())
        head = b""
        while b"\r\n\r\n" not in head:
            data = self._socket.recv(1 << 16)
            if not data:
                raise RuntimeError("the event stream was closed before it began")
            head += data
        status, _, rest = head.partition(b"\r\n")
        if b" 200 " not in status + b" ":
            raise RuntimeError(f"no event stream: {status.decode(errors='replace')}")
        self._left = rest.partition(b"\r\n\r\n")[2]

    def count(self) -> int:
        """How many events came since the last call; waits until there is at least one.

        A stream that cuts off a page too slow for it is taken up again where it ended, as a
        browser does: an event counts only when it is complete, and the last complete one's id
        says where.
        """
        while True:
            whole, end, rest = self._left.rpartition(b"\n\n")
            if end:
                self._left = rest
                at = whole.rfind(b"id: ")
                if at >= 0:
                    self._last_id = whole[at + 4 :].split(b"\n", 1)[0]
                if seen := whole.count(self._mark):
                    return seen
            data = self._socket.recv(1 << 18)
            if data:
                self._left += data
            else:
                self._socket.close()
                if not self._last_id:
                    raise RuntimeError("the event stream was closed and cannot be resumed")
                self._connect()

    def __enter__(self) -> Listener:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._socket.close()


def main() -> None:
    """Counts events until there were COUNT, or the stream is closed."""
    port, path, mark, count = int(sys.argv[1]), sys.argv[2], sys.argv[3].encode(), int(sys.argv[4])
    seen = 0
    with Listener(port, path, mark) as listener:
        print("listening", flush=True)
        while seen < count:
            seen += listener.count()
    print(seen, flush=True)


if __name__ == "__main__":
    main()
