"""The socket and the web server around the application.

A bench captures and listens before the web application is there: loading that takes several times
as long as all the rest. It is loaded on a thread of its own as soon as the socket listens; a
request that comes before it is ready waits for it, while presses are already read and stored.
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import signal
import socket
import threading
from collections.abc import Callable, Generator
from typing import TYPE_CHECKING, NamedTuple

import uvicorn

from api.service import Service, running
from api.settings import Settings, url_of
from capture.errors import CaptureError

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send

GRACE_SECONDS = 3
"""How long a stopping service waits for answers that are under way."""


class PortTaken(CaptureError):
    """The port is in use; the message names a free one."""


class Listening(NamedTuple):
    """The service answers now."""

    url: str
    service: Service
    stop: Callable[[], None]


class Server(uvicorn.Server):
    """uvicorn, but event streams end before connections are waited for, and a signal only asks
    the server to stop: what comes after it (ports, store) is still taken down in order."""

    def __init__(
        self, config: uvicorn.Config, service: Service, ready: Callable[[Listening], None]
    ) -> None:
        super().__init__(config)
        self._service = service
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        port = self.servers[0].sockets[0].getsockname()[1]
        self._ready(Listening(url_of(self._service.settings.host, port), self._service, self.stop))

    def stop(self) -> None:
        """Asks the server to stop; it does so within a tenth of a second or so."""
        self.should_exit = True

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._service.stopping.set()
        await super().shutdown(sockets)

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None, None, None]:
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        names = ("SIGINT", "SIGTERM", "SIGBREAK")
        signals = [getattr(signal, name) for name in names if hasattr(signal, name)]
        before = {number: signal.signal(number, self.handle_exit) for number in signals}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)


def bind(host: str, port: int) -> socket.socket:
    """A bound socket; it listens only once the store is open.

    Raises ``PortTaken`` and ``CaptureError``.
    """
    try:
        family, kind, proto, _, address = socket.getaddrinfo(
            _plain(host), port, type=socket.SOCK_STREAM
        )[0]
    except socket.gaierror as error:
        raise CaptureError(f"{host} is no address of this machine: {error.strerror}.") from None
    sock = socket.socket(family, kind, proto)
    try:
        if hasattr(socket, "SO_EXCLUSIVEADDRUSE"):  # Windows, where reuse would share the port
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_EXCLUSIVEADDRUSE, 1)
        else:
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind(address)
    except OSError as error:
        sock.close()
        if error.errno != errno.EADDRINUSE:
            raise CaptureError(f"cannot listen on {host}:{port}: {error.strerror}.") from None
        with contextlib.closing(bind(host, 0)) as other:
            free = other.getsockname()[1]
        raise PortTaken(
            f"port {port} on {host} is taken. Mend: --port {free} is free, and --port 0 picks one."
        ) from None
    return sock


def _plain(host: str) -> str | bytes:
    """As bytes where it is ASCII: for text, Python loads its tables of international names."""
    return host.encode() if host.isascii() else host


async def serve(
    settings: Settings,
    *,
    ready: Callable[[Listening], None],
    loaded: Callable[[], None] = lambda: None,
) -> None:
    """Captures and answers until a signal or ``Listening.stop``; calls ``ready`` once it listens,
    and ``loaded`` once nothing is left to load.

    Raises what ``bind`` and ``api.service.running`` raise.
    """
    sock = bind(settings.host, settings.port)
    with contextlib.closing(sock):
        async with running(settings) as service:
            app = Deferred(service)
            server = Server(_config(app), service, ready)
            serving = asyncio.create_task(server.serve([sock]))
            try:
                await app.load()
                loaded()
            except BaseException:
                server.stop()
                raise
            finally:
                await serving


class Deferred:
    """The web application, still being loaded or there."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._loading: asyncio.Task[ASGIApp] | None = None

    async def load(self) -> ASGIApp:
        """Loads it the first time, and gives it."""
        if self._loading is None:
            self._loading = asyncio.create_task(asyncio.to_thread(self._make))
        return await asyncio.shield(self._loading)

    def _make(self) -> ASGIApp:
        from api.app import make_app

        return make_app(self._service)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        await (await self.load())(scope, receive, send)


def _config(app: Deferred) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        loop="asyncio",
        http="httptools",
        ws="none",
        lifespan="off",
        log_level="warning",
        access_log=False,
        server_header=False,
        # The peer's address decides nothing here, so a proxy's word for it is not needed.
        proxy_headers=False,
        timeout_graceful_shutdown=GRACE_SECONDS,
    )
