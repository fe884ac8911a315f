"""The states of a connection, and which may follow which.

::

    closed ──► opening ───────────────► ready ◄──► lagging
       ▲          │ ▲ ╰► scanning          │ ▲ │         │
       │          │ │     connecting ──►   │ │ │         │
       │          ▼ │                      │ ▼ ▼         ▼
       ╰────────  lost ◄───────────────────┼─ silent, faulted
                                           ╰► (any) ──► closed

``scanning``, ``connecting``: a radio's two parts of opening. ``lost``: not connected, and tried
again. ``lagging``: the rest of the program has no room, the port is not read. ``silent``: the port
is open and the instrument does not answer. ``faulted``: reading it went wrong here.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class State(StrEnum):
    """What a connection is doing."""

    CLOSED = "closed"
    OPENING = "opening"
    SCANNING = "scanning"
    CONNECTING = "connecting"
    READY = "ready"
    LAGGING = "lagging"
    SILENT = "silent"
    LOST = "lost"
    FAULTED = "faulted"


_ENDS: Final = frozenset({State.LOST, State.FAULTED, State.CLOSED})

MAY_FOLLOW: Final[dict[State, frozenset[State]]] = {
    State.CLOSED: frozenset({State.OPENING}),
    State.OPENING: frozenset({State.SCANNING, State.READY, *_ENDS}),
    State.SCANNING: frozenset({State.CONNECTING, *_ENDS}),
    State.CONNECTING: frozenset({State.READY, *_ENDS}),
    State.READY: frozenset({State.LAGGING, State.SILENT, *_ENDS}),
    State.LAGGING: frozenset({State.READY, State.SILENT, *_ENDS}),
    State.SILENT: frozenset({State.READY, State.LAGGING, *_ENDS}),
    State.LOST: frozenset({State.OPENING, State.CLOSED}),
    State.FAULTED: frozenset({State.READY, State.LAGGING, State.LOST, State.OPENING, State.CLOSED}),
}
"""State → the states that may come next. A state may always be told again with other words."""

NOT_CONNECTED: Final = frozenset({State.OPENING, State.SCANNING, State.CONNECTING, State.LOST})
"""States of a port that is being opened, or opened again: one spell, however often it is tried."""
