"""The events of a Linux input device, as its node gives them.

::

    struct input_event       24 bytes on a 64-bit system, in the machine's own byte order
    ┌───────────┬───────────┬──────┬──────┬───────────┐
    │ seconds 8 │  micros 8 │ type │ code │ value   4 │
    └───────────┴───────────┴──2───┴──2───┴───────────┘

A key event's value is 1 for a press, 0 for a release, 2 for a repeat while it is held. Source: the
Linux kernel's Documentation/input/input.rst ("Event interface") and event-codes.rst; the numbers
are those of include/uapi/linux/input.h and input-event-codes.h.
"""

from __future__ import annotations

import struct
from typing import Final, NamedTuple

EVENT: Final = struct.Struct("@llHHi")
EV_SYN: Final = 0
EV_KEY: Final = 1
SYN_REPORT: Final = 0
SYN_DROPPED: Final = 3
PRESSED: Final = 1


class Event(NamedTuple):
    """One event."""

    time: int
    """Microseconds of the kernel's clock."""
    type: int
    code: int
    value: int


class Events:
    """Cuts what was read into events. The kernel gives whole ones; half of one, should a read ever
    bring it, waits for its other half."""

    def __init__(self) -> None:
        self._half = b""
        self._lost = False

    def feed(self, chunk: bytes) -> list[Event]:
        """The events that ``chunk`` completes, but for those that mean nothing.

        When the kernel's queue has overflowed (SYN_DROPPED), that event comes alone: what follows
        it up to the next report belongs to a change of which a part is missing, and is left out.
        """
        data = self._half + chunk
        whole = len(data) - len(data) % EVENT.size
        self._half = data[whole:]
        found = []
        for seconds, micros, kind, code, value in EVENT.iter_unpack(data[:whole]):
            if kind == EV_SYN and code == SYN_DROPPED:
                self._lost = True
            elif self._lost:
                self._lost = not (kind == EV_SYN and code == SYN_REPORT)
                continue
            elif kind != EV_KEY:
                continue
            found.append(Event(seconds * 1_000_000 + micros, kind, code, value))
        return found


def dropped(event: Event) -> bool:
    """Whether events before this one were lost, and with them what is known of held keys."""
    return event.type == EV_SYN
