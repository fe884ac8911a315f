"""The simulated workbench as a child process: lines of JSON in, lines of JSON out."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
from collections.abc import AsyncIterator
from pathlib import Path
from types import TracebackType
from typing import Any

from capture.errors import CaptureError

START_SECONDS = 30.0
END_SECONDS = 5.0
LONGEST_LINE = 1 << 20


class Workbench:
    """Use as an async context: the process ends with it."""

    def __init__(self, scenario: str, folder: Path) -> None:
        self._arguments = ["bench", "--scenario", scenario, "--dir", str(folder)]
        self._process: asyncio.subprocess.Process | None = None

    async def __aenter__(self) -> Workbench:
        self._process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "simulators",
            *self._arguments,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            limit=LONGEST_LINE,
            # Ctrl-C is for us: we tell the workbench to end when the service has.
            start_new_session=sys.platform != "win32",
        )
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        process = self._child
        assert process.stdin is not None
        process.stdin.close()  # it ends when its orders do
        try:
            async with asyncio.timeout(END_SECONDS):
                await process.wait()
        except TimeoutError:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()

    @property
    def _child(self) -> asyncio.subprocess.Process:
        assert self._process is not None
        return self._process

    async def tell(self, order: dict[str, Any]) -> None:
        """Gives an order. Raises CaptureError if nobody takes it."""
        stdin = self._child.stdin
        assert stdin is not None
        try:
            stdin.write(json.dumps(order).encode() + b"\n")
            await stdin.drain()
        except OSError as error:
            raise CaptureError(f"the workbench does not listen: {error}.") from None

    async def events(self) -> AsyncIterator[dict[str, Any]]:
        """What it says, until it ends. Raises CaptureError when it reports an error."""
        stdout = self._child.stdout
        assert stdout is not None
        while line := await stdout.readline():
            event: dict[str, Any] = json.loads(line)
            if event.get("event") == "error":
                raise CaptureError(f"the workbench cannot go on: {event.get('message')}")
            yield event

    async def expect(self, name: str) -> dict[str, Any]:
        """The next event of this name. Raises CaptureError if there is none in time."""
        try:
            async with asyncio.timeout(START_SECONDS):
                async for event in self.events():
                    if event.get("event") == name:
                        return event
        except TimeoutError:
            raise CaptureError(f"the workbench did not say '{name}' in time.") from None
        raise CaptureError(f"the workbench ended without saying '{name}'.")
