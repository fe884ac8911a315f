"""What an adapter needs from outside, each replaceable in a test."""

from __future__ import annotations

import asyncio
import random
from collections.abc import Awaitable, Callable
from concurrent.futures import Executor
from dataclasses import dataclass, field

from capture.reading import Clock, Sink
from drivers.transports.opening import Open, open_port
from drivers.transports.ports import ListPorts, system_ports


@dataclass(frozen=True, slots=True)
class Means:
    """Sink, clock, ports, waiting and chance."""

    sink: Sink
    clock: Clock
    executor: Executor
    """For what blocks: opening, closing and listing ports."""
    ports: ListPorts = system_ports
    open: Open = open_port
    sleep: Callable[[float], Awaitable[None]] = asyncio.sleep
    random: Callable[[], float] = random.random
    claims: dict[str, str] = field(default_factory=dict)
    """Port id → the USB serial number that is known to be its own; shared by all adapters."""
