"""macOS ends a process that asks for Bluetooth without being allowed to: a child asks first."""

from __future__ import annotations

import asyncio
import sys
import weakref

from capture.errors import TransportError
from drivers.ble.trouble import trouble

PLATFORM = sys.platform
ASK: tuple[str, ...] = (
    "-c",
    "import asyncio, bleak; asyncio.run(bleak.BleakScanner.discover(timeout=0.2))",
)
"""What the child runs."""
PATIENCE = 30.0
"""Seconds; the system may be asking the person meanwhile."""

_turns: weakref.WeakKeyDictionary[asyncio.AbstractEventLoop, asyncio.Lock] = (
    weakref.WeakKeyDictionary()
)
_allowed: set[tuple[str, ...]] = set()
"""What asked and lived, once in this process: it need not be tried again."""


async def ask_first(
    device: str, platform: str | None = None, command: tuple[str, ...] | None = None
) -> None:
    """Raises ``TransportError`` where asking ended the child; does nothing on other systems.

    One child at a time, however many instruments wait; none any more once one has lived.
    """
    if (platform or PLATFORM) != "darwin":
        return
    words = command or ASK
    async with _turns.setdefault(asyncio.get_running_loop(), asyncio.Lock()):
        if words in _allowed:
            return
        if not await _lives(words):
            denied = PermissionError("asking for Bluetooth ended the process that asked")
            error: TransportError = trouble(device, "asking for permission", denied, "darwin")
            raise error
        _allowed.add(words)


async def _lives(words: tuple[str, ...]) -> bool:
    """Whether a child that asks for Bluetooth ends by itself, or is still waiting for a person."""
    child = await asyncio.create_subprocess_exec(
        sys.executable,
        *words,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.DEVNULL,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        async with asyncio.timeout(PATIENCE):
            return await child.wait() >= 0
    except TimeoutError:
        return True  # the system is asking the person: no harm done
    finally:
        if child.returncode is None:
            child.kill()
            await child.wait()
