"""Which run of the Bluetooth service a connection was made with (Linux).

Where the service ends and starts again, the library goes on believing in connections that are no
more. A device that can be asked something shows it; one that cannot, would stay silent for ever.
"""

from __future__ import annotations

import asyncio
import sys

_NAME = "org.bluez"
_PATIENCE = 2.0


async def running_service(platform: str = sys.platform) -> str | None:
    """The service's own name on the bus, another one after each start; None where none runs, or
    nobody can tell."""
    if not platform.startswith("linux"):
        return None
    from dbus_fast import BusType, Message, MessageType
    from dbus_fast.aio import MessageBus

    bus = MessageBus(bus_type=BusType.SYSTEM)
    try:
        async with asyncio.timeout(_PATIENCE):
            await bus.connect()
            answer = await bus.call(
                Message(
                    destination="org.freedesktop.DBus",
                    path="/org/freedesktop/DBus",
                    interface="org.freedesktop.DBus",
                    member="GetNameOwner",
                    signature="s",
                    body=[_NAME],
                )
            )
    except (OSError, EOFError, TimeoutError):
        return None
    finally:
        bus.disconnect()
    if answer.message_type is not MessageType.METHOD_RETURN:
        return None
    return str(answer.body[0])
