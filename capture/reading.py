"""What one press sent, and what came instead when it could not be read.

Named tuples, not dataclasses: these are made for every press of a flood, and a named tuple is
made four times faster than a frozen dataclass while being as immutable.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple, Protocol


class Stamp(NamedTuple):
    """One moment on two clocks: UTC for the record, monotonic for intervals."""

    at: str
    """RFC 3339 UTC text with microseconds and ``Z``."""
    mono: int
    """Nanoseconds of this process's monotonic clock; means nothing across a restart."""


class Clock(Protocol):
    """Where the time comes from; tests supply their own."""

    def now(self) -> Stamp: ...


class Reading(NamedTuple):
    """One message of an instrument, read. Immutable."""

    instrument: str
    """The instrument's id in bench.toml."""
    raw: bytes
    """The message's bytes as they came, with what frames them."""
    digits: str
    """Decimal text as sent (``25.400`` stays ``25.400``): ``-?digits[.digits]``; leading zeros
    and a plus sign are dropped, trailing zeros never."""
    unit: str
    """The unit the device used, by our name for it (``mm``); the device's own word if unknown."""
    flags: tuple[str, ...]
    """What else the message said, in the profile's words (``low-battery``, ``hold``)."""
    stamp: Stamp
    """When its last byte arrived."""

    @property
    def value(self) -> Decimal:
        return Decimal(self.digits)


class Undecodable(NamedTuple):
    """Bytes that make no reading, kept as they came."""

    port: str
    instrument: str | None
    """The instrument, where the port carries only one or the channel could be read."""
    raw: bytes
    code: str
    """A short word: ``noise``, ``too-long``, ``check``, ``incomplete``, ``no-number``…"""
    detail: str
    stamp: Stamp


class Pull(NamedTuple):
    """One pull, or one turning test, cut out of a stream of torque samples. Immutable."""

    port: str
    instrument: str
    unit: str
    interval_us: int
    """From one sample to the next."""
    torque: tuple[str, ...]
    """Decimal text as sent, from the rest before the rise to the rest after it."""
    angle: tuple[str, ...] | None
    """Degrees as sent; None where the device sends none."""
    gaps: tuple[tuple[int, int], ...]
    """(place, how many): so many samples are missing before the sample at this place."""
    flags: tuple[str, ...]
    """What any of its messages said, in the profile's words."""
    incomplete: str | None
    """Why samples of it may be missing; None where all of them are here."""
    missing: int | None
    """How many are missing; None where that is not known."""
    stamp: Stamp
    """When its last sample arrived."""


Captured = Reading | Undecodable | Pull
"""What a driver hands in."""


class LiveTorque(NamedTuple):
    """Samples of a pull under way, for whoever looks on. News, not history."""

    instrument: str
    ended: bool
    unit: str
    interval_us: int
    first: int
    """Number of the first sample here, counted from the pull's first one."""
    torque: tuple[str, ...]
    angle: tuple[str, ...] | None
    incomplete: str | None
    """Once ended: why samples may be missing."""


class DeviceState(NamedTuple):
    """What an instrument's connection is doing. Live news, not history."""

    instrument: str
    state: str
    """``closed``, ``opening``, ``scanning``, ``connecting``, ``ready``, ``lagging``, ``silent``,
    ``lost`` or ``faulted``."""
    detail: str
    """For a person: why, and the mend where there is one."""
    stamp: Stamp
    since: str | None = None
    """When this began (as ``Stamp.at``). A lost port's tries to open it again begin nothing new."""
    battery: int | None = None
    """Percent the instrument told last; None where it tells none."""
    low_battery: bool = False
    """Its battery is to be changed or charged, before it costs a reading."""


class Sink(Protocol):
    """Where a driver puts what it read. It does not know that this is a queue."""

    def take(self, items: Sequence[Captured]) -> bool:
        """Takes all of them, in order. False asks the caller to stop reading until ``room``."""
        ...

    async def room(self) -> None:
        """Returns when there is room again after ``take`` answered False."""
        ...

    def device(self, state: DeviceState) -> None:
        """Takes news of a connection."""
        ...

    def torque(self, live: LiveTorque) -> None:
        """Takes samples of a pull under way."""
        ...
