"""The states of a connection, and which may follow which.

::

    closed ──► opening ──► ready ◄──► lagging
       ▲          │ ▲      │ ▲ │         │
       │          ▼ │      │ ▼ ▼         ▼
       ╰────────  lost ◄───┼─ faulted ◄──╯
                           ╰► (any) ──► closed

``lost``: not connected, and tried again. ``lagging``: the rest of the program has no room, the
port is not read. ``faulted``: the port is open and the instrument does not do what it should, or
reading it went wrong here.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class State(StrEnum):
    """What a connection is doing."""

    CLOSED = "closed"
    OPENING = "opening"
    READY = "ready"
    LAGGING = "lagging"
    LOST = "lost"
    FAULTED = "faulted"


MAY_FOLLOW: Final[dict[State, frozenset[State]]] = {
    State.CLOSED: frozenset({State.OPENING}),
    State.OPENING: frozenset({State.READY, State.LOST, State.FAULTED, State.CLOSED}),
    State.READY: frozenset({State.LAGGING, State.LOST, State.FAULTED, State.CLOSED}),
    State.LAGGING: frozenset({State.READY, State.LOST, State.FAULTED, State.CLOSED}),
    State.LOST: frozenset({State.OPENING, State.CLOSED}),
    State.FAULTED: frozenset({State.READY, State.LAGGING, State.LOST, State.OPENING, State.CLOSED}),
}
"""State → the states that may come next. A state may always be told again with other words."""
