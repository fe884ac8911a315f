"""News that is not history: connections, and whether readings are being stored."""

from __future__ import annotations

from typing import NamedTuple

from capture.ledger.canonical import encode
from capture.reading import DeviceState, LiveTorque
from capture.stream import Event


class Condition(NamedTuple):
    """Whether readings are being stored."""

    state: str
    """``storing``, ``not_storing`` or ``unknown`` (a commit failed and is being looked into)."""
    detail: str
    held: int
    """Presses held in memory, not yet on disk."""
    since: str | None


STORING = Condition("storing", "", 0, None)


def device_event(state: DeviceState) -> Event:
    """News of a connection."""
    body = {
        "instrument": state.instrument,
        "state": state.state,
        "detail": state.detail,
        "at": state.stamp.at,
        "since": state.since,
        "battery": state.battery,
        "low_battery": state.low_battery,
    }
    return Event(None, "device", encode(body))


def torque_event(live: LiveTorque) -> Event:
    """Samples of a pull under way."""
    body = {
        "instrument": live.instrument,
        "state": "ended" if live.ended else "pulling",
        "unit": live.unit,
        "interval_us": live.interval_us,
        "from": live.first,
        "torque": list(live.torque),
        "angle": None if live.angle is None else list(live.angle),
        "incomplete": live.incomplete,
    }
    return Event(None, "torque", encode(body))


def condition_event(condition: Condition) -> Event:
    """News of whether readings are being stored."""
    return Event(None, "condition", encode(condition._asdict()))
