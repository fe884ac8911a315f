"""``python -m simulators line``: an RFC 2217 port with an instrument behind it, as a process."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from simulators.orders import Order, Orders
from simulators.rfc2217_server import Rfc2217Server
from simulators.uart import LineSettings

Say = Callable[[dict[str, Any]], None]


def settings(baud: int, data_bits: int, parity: str, stop_bits: float) -> LineSettings:
    """The instrument's own settings."""
    return LineSettings(baud, data_bits, parity, stop_bits)


def run(port: int, instrument: LineSettings, say: Say) -> int:
    """Serves until the orders end."""
    orders = Orders()
    orders.end_on_signals()
    return asyncio.run(_serve(port, instrument, orders, say))


async def _serve(port: int, instrument: LineSettings, orders: Orders, say: Say) -> int:
    server = Rfc2217Server(instrument)
    say({"event": "ready", "url": await server.start(port=port)})
    try:
        while True:
            try:
                order = await asyncio.to_thread(orders.next)
                if order is None:
                    return 0
                arrived = await server.send(_bytes(order))
                say({"event": "sent", "arrived_hex": arrived.hex()})
            except ValueError as error:
                say({"event": "error", "message": str(error)})
    finally:
        await server.stop()


def _bytes(order: Order) -> bytes:
    digits, text = order.get("send_hex"), order.get("send")
    if isinstance(digits, str):
        return bytes.fromhex(digits)
    if isinstance(text, str):
        return text.encode("utf-8")
    raise ValueError('An order needs "send" (text) or "send_hex".')
