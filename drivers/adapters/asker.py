"""Asks instruments that send only when asked: on demand, or again and again."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Awaitable, Callable, Iterator

from capture.errors import RequestError, TransportError
from capture.instrument import Instrument
from drivers.adapters.announcer import Announcer
from drivers.adapters.connection import State
from drivers.adapters.port import Port
from drivers.transports.transport import Transport


class Asker:
    """Sends one port's requests, one at a time, and waits for something to come back."""

    def __init__(
        self, port: Port, news: Announcer, sleep: Callable[[float], Awaitable[None]]
    ) -> None:
        self._port = port
        self._news = news
        self._sleep = sleep
        self._transport: Transport | None = None
        self._turn = asyncio.Lock()
        self._silent = False
        self._answer: asyncio.Future[None] | None = None

    async def ask(self, instrument: Instrument) -> None:
        """Asks for a reading; returns when an answer came, which the sink has got by then.

        Raises ``RequestError`` where it cannot be asked or does not answer in time.
        """
        request = self._port.profile.request
        if request is None:
            raise RequestError(
                f"{instrument.id} cannot be asked: its profile {instrument.profile} has no request",
                mend="press SEND on it, or add a [request] to its profile",
            )
        async with self._turn:
            transport = self._transport
            if transport is None:
                mend = "see to its connection first"
                raise RequestError(f"{instrument.id}: {self._news.detail}", mend=mend)
            await self._send(transport, request.bytes_for(instrument.channel), instrument)

    async def _send(self, transport: Transport, data: bytes, instrument: Instrument) -> None:
        request = self._port.profile.request
        assert request is not None
        self._answer = asyncio.get_running_loop().create_future()
        try:
            async with asyncio.timeout(request.answer_seconds):
                transport.write(data)
                await self._answer
        except TimeoutError:
            said = f"{instrument.id} does not answer within {request.answer_seconds:g} s"
            mend = "switch it on, and check its cable and the profile's request"
            if self._transport is transport and self._news.state in (State.READY, State.SILENT):
                self._silent = True
                self._news.tell(State.SILENT, f"{said}; {mend}")
            raise RequestError(said, mend=mend) from None
        except TransportError as error:
            raise RequestError(f"{instrument.id}: {error}", mend=error.mend) from error
        finally:
            self._answer = None

    def heard(self) -> None:
        """Something came from the port."""
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(None)
        if self._silent and self._transport is not None and self._news.state is State.SILENT:
            self._silent = False
            self._news.tell(State.READY, f"on {self._transport.device}")

    @contextlib.contextmanager
    def connected(self, transport: Transport) -> Iterator[None]:
        """Asks over ``transport`` while inside, by itself where the port is polled."""
        self._transport = transport
        self._silent = False
        polling = None
        if self._port.poll_seconds is not None and self._port.profile.request is not None:
            polling = asyncio.get_running_loop().create_task(self._poll(self._port.poll_seconds))
        try:
            yield
        finally:
            self._transport = None
            if polling is not None:
                polling.cancel()
            if self._answer is not None and not self._answer.done():
                self._answer.set_exception(TransportError(f"{transport.device} was lost"))

    async def _poll(self, seconds: float) -> None:
        while True:
            for instrument in self._port.instruments:
                # what is wrong has been told as the instrument's state
                with contextlib.suppress(RequestError):
                    await self.ask(instrument)
            await self._sleep(seconds)
