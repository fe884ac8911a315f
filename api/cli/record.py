"""The bytes of one port with their times, as JSON lines, for someone who will look at them later.

A head line says how the port was opened; then one line for each burst, and a remark where the port
was lost. Nothing in it names a person, a computer or a path but the port's own.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import os
import signal
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from api.cli.output import emit
from capture.errors import CaptureError, TransportError

if TYPE_CHECKING:
    from drivers.ble.choose import Offered
    from drivers.reach.bursts import Burst
    from drivers.transports.settings import PortSettings

FORMAT = 1
"""Of the head line's ``capture``; raised when a line's meaning changes."""
AGAIN = 1.0
SEARCH = 30.0
"""Seconds a Bluetooth device is listened for."""


def record(settings: PortSettings, gap: float, save: Path | None, count: int | None) -> None:
    """Records until Ctrl-C, or ``count`` bursts. Raises CaptureError where the port cannot be
    opened at all; once it was, it is opened again whenever it is lost."""
    logging.getLogger("bleak").setLevel(logging.CRITICAL)  # we say what is wrong ourselves
    out = _File(save) if save is not None else _Output()
    recorder = Recorder(settings, gap, out, count)
    try:
        with contextlib.suppress(KeyboardInterrupt, asyncio.CancelledError):
            asyncio.run(recorder.run())
    finally:
        out.close()
    if save is not None:
        click.echo(f"{recorder.taken} bursts in {save}.", err=True)


class Recorder:
    """One port, and where its bytes go."""

    def __init__(
        self, settings: PortSettings, gap: float, out: _Output | _File, count: int | None
    ) -> None:
        from capture.clock import SystemClock
        from drivers.reach.bursts import Bursts

        self.taken = 0
        self._settings = settings
        self._gap = gap
        self._out = out
        self._count = count
        self._clock = SystemClock()
        self._bursts = Bursts(gap, self._take, lambda: self._clock.now().at)
        self._opened = False

    async def run(self) -> None:
        """Until cancelled, or enough has come."""
        from drivers.ble.address import is_ble

        self._enough = asyncio.Event()
        self._out.failed = self._enough.set
        _end_on_sigterm()
        radio = is_ble(self._settings.device)
        executor = ThreadPoolExecutor(4, thread_name_prefix="port")
        try:
            while not self._enough.is_set():
                error = await (self._radio() if radio else self._cable(executor))
                if error is not None:
                    await self._lost(error)
        finally:
            self._bursts.end()
            executor.shutdown(wait=False, cancel_futures=True)

    async def _cable(self, executor: ThreadPoolExecutor) -> TransportError | None:
        """Listens until it is lost, and gives the reason; None where enough has come."""
        from drivers.reach.ears import cable

        try:
            async with cable(self._settings, executor, self._bursts.take) as gone:
                self._begun()
                return await self._until(gone)
        except TransportError as error:
            if not self._opened:
                raise
            return error

    async def _radio(self) -> TransportError | None:
        from drivers.ble.address import target
        from drivers.ble.permission import ask_first
        from drivers.ble.radio import Radio
        from drivers.reach.ears import radio

        settings = self._settings
        try:
            await ask_first(settings.device)
            if not self._opened:
                click.echo(f"Listening for {settings.device}…", err=True)
            found = await Radio().find(settings.device, target(settings.device), SEARCH)
            async with radio(settings.device, found) as ear:
                senders = await ear.listen(self._heard, settings.notify)
                self._begun([one.uuid for one in senders])
                return await self._until(ear.gone)
        except TransportError as error:
            if not self._opened:
                raise
            return error

    def _heard(self, one: Offered, data: bytes) -> None:
        self._bursts.take(data, one.uuid)

    async def _until(self, gone: asyncio.Future[TransportError]) -> TransportError | None:
        enough = asyncio.get_running_loop().create_task(self._enough.wait())
        either: set[asyncio.Future[Any]] = {gone, enough}
        try:
            await asyncio.wait(either, return_when=asyncio.FIRST_COMPLETED)
        finally:
            enough.cancel()
        return gone.result() if gone.done() else None

    def _begun(self, characteristics: list[str] | None = None) -> None:
        if not self._opened:
            self._opened = True
            self._out.line(self._head(characteristics))
            end = "" if self._count else " Ctrl-C ends it."
            click.echo(f"{self._settings.device} is open: press the gauge's button.{end}", err=True)
            return
        self._remark("it is back")

    def _head(self, characteristics: list[str] | None) -> dict[str, Any]:
        settings = self._settings
        head: dict[str, Any] = {"capture": FORMAT, "witnessmark": _version()}
        head |= {"time": self._clock.now().at, "port": settings.device}
        if characteristics is not None:
            head["characteristics"] = characteristics
        elif not settings.device.startswith("socket:"):
            head |= {"baud": settings.baud, "data_bits": settings.data_bits}
            head |= {"parity": settings.parity, "stop_bits": settings.stop_bits}
        return {**head, "gap_ms": round(self._gap * 1000, 3)}

    def _take(self, burst: Burst) -> None:
        from drivers.reach.bursts import shown

        if self._count is not None and self.taken >= self._count:
            return
        line: dict[str, Any] = {"time": burst.time, "hex": burst.raw.hex(" ")}
        if burst.source is not None:
            line["characteristic"] = burst.source
        if not burst.whole:
            line["goes_on"] = True
        self._out.line(line)
        self.taken += 1
        click.echo(f"{burst.time}  {len(burst.raw)} bytes  {shown(burst.raw)}", err=True)
        if self.taken == self._count:
            self._enough.set()

    async def _lost(self, error: TransportError) -> None:
        self._bursts.end()
        self._remark(str(error), error.mend)
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(AGAIN):
                await self._enough.wait()

    def _remark(self, words: str, mend: str = "") -> None:
        """Says it once, however often it is tried again."""
        if words != self._out.remarked:
            self._out.remarked = words
            self._out.line({"time": self._clock.now().at, "remark": words})
            click.echo(f"{words}. Mend: {mend}" if mend else words, err=True)


def _version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("witnessmark")
    except PackageNotFoundError:  # run from its source
        return "unknown"


class _Output:
    """Standard output, a line at a time."""

    def __init__(self) -> None:
        self.remarked = ""
        self.failed: Callable[[], None] = _nothing
        self._error: OSError | None = None

    def line(self, body: dict[str, Any]) -> None:
        try:
            emit(body)
        except OSError as error:  # called by the loop, which would only log it
            self._error = error
            self.failed()

    def close(self) -> None:
        if self._error is not None:
            raise self._error


class _File:
    """A file that lines are added to, each whole and on the disk before the next. A thread of its
    own waits for the disk, so that the times of what comes meanwhile stay true."""

    def __init__(self, path: Path) -> None:
        self.remarked = ""
        self.failed: Callable[[], None] = _nothing
        self._path = path
        self._error: OSError | None = None
        self._file = _appending(path)
        self._disk = ThreadPoolExecutor(1, thread_name_prefix="disk")

    def line(self, body: dict[str, Any]) -> None:
        text = json.dumps(body, ensure_ascii=False, separators=(",", ":")) + "\n"
        loop = asyncio.get_running_loop()

        def noted(done: Future[None]) -> None:
            error = done.exception()
            if isinstance(error, OSError) and self._error is None:
                self._error = error
                with contextlib.suppress(RuntimeError):  # it has ended
                    loop.call_soon_threadsafe(self.failed)

        self._disk.submit(self._write, text.encode()).add_done_callback(noted)

    def close(self) -> None:
        self._disk.shutdown(wait=True)
        os.close(self._file)
        if self._error is not None:
            raise OSError(self._error.errno, self._error.strerror, str(self._path))

    def _write(self, line: bytes) -> None:
        if self._error is not None:  # half a line may be there: nothing is added to it
            return
        while line:
            line = line[os.write(self._file, line) :]
        os.fsync(self._file)


def _appending(path: Path) -> int:
    """The file, open for adding to it. Raises CaptureError where something else is in it."""
    new = not path.exists()
    file = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o644)
    try:
        if not new and os.fstat(file).st_size:
            _check_capture(path)
            os.lseek(file, -1, os.SEEK_END)
            if os.read(file, 1) != b"\n":  # a computer that lost its power wrote half a line
                os.write(file, b"\n")
        elif new and os.name == "posix":
            folder = os.open(path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
    except BaseException:
        os.close(file)
        raise
    return file


def _check_capture(path: Path) -> None:
    with path.open("rb") as file:
        first = file.readline(65536)
    try:
        head = json.loads(first)
    except ValueError:
        head = None
    if not isinstance(head, dict) or not ({"capture", "hex"} & set(head)):
        raise CaptureError(
            f"{path} is there already and is no capture. Mend: name another file; captures are "
            "added to, nothing else is written over."
        )


def _nothing() -> None:
    """Nobody is to be told that writing failed."""


def _end_on_sigterm() -> None:
    """Ends as on Ctrl-C, so that what came last is still written."""
    task = asyncio.current_task()
    assert task is not None
    with contextlib.suppress(NotImplementedError):  # Windows
        asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, task.cancel)
