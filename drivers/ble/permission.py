"""macOS ends a process that asks for Bluetooth without being allowed to: a child asks first."""

from __future__ import annotations

import asyncio
import sys

from capture.errors import TransportError
from drivers.ble.trouble import trouble

_ASK = "import asyncio, bleak; asyncio.run(bleak.BleakScanner.discover(timeout=0.2))"
_PATIENCE = 30.0


async def ask_first(
    device: str, platform: str = sys.platform, command: tuple[str, ...] = ("-c", _ASK)
) -> None:
    """Raises ``TransportError`` where asking ended the child; does nothing on other systems."""
    if platform != "darwin":
        return
    child = await asyncio.create_subprocess_exec(
        sys.executable,
        *command,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.DEVNULL,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        async with asyncio.timeout(_PATIENCE):
            code = await child.wait()
    except TimeoutError:
        code = 0  # the system is asking the person: no harm done
    finally:
        if child.returncode is None:
            child.kill()
            await child.wait()
    if code < 0:
        denied = PermissionError("asking for Bluetooth ended the process that asked")
        error: TransportError = trouble(device, "asking for permission", denied, platform)
        raise error
