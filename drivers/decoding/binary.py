"""What binary messages share: units, flags and channels that are bytes or bits.

Offsets count from the first byte of the message, start bytes included, as its drawing does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from drivers.decoding.message import known_unit, refuse


@dataclass(frozen=True, slots=True)
class Bit:
    """One bit of one byte; bit 0 is worth 1."""

    at: int
    bit: int

    def on(self, raw: bytes) -> bool:
        return bool(raw[self.at] >> self.bit & 1)


@dataclass(frozen=True, slots=True)
class Choice:
    """A byte, or some of its bits, that stands for one of several words."""

    at: int
    values: Mapping[int, str]
    """The masked byte → the word. The bits are not shifted."""
    mask: int = 0xFF

    def word(self, raw: bytes) -> str | None:
        return self.values.get(raw[self.at] & self.mask)


@dataclass(frozen=True, slots=True)
class SignByte:
    """A byte, or some of its bits, that says plus or minus."""

    at: int
    values: Mapping[int, bool]
    """The masked byte → whether it says minus. The bits are not shifted."""
    mask: int = 0xFF

    def negative(self, raw: bytes) -> bool:
        """Whether it says minus; raises ``DecodingError`` ``layout`` where it says neither."""
        value = raw[self.at] & self.mask
        negative = self.values.get(value)
        if negative is None:
            refuse("layout", f"{value:#04x} stands for no sign of the profile", raw)
        return negative


class Always(NamedTuple):
    """Bits of a byte that are the same in every message."""

    at: int
    mask: int
    value: int
    """The masked byte."""


@dataclass(frozen=True, slots=True)
class Span:
    """Some bytes in a row."""

    at: int
    count: int
    """Bytes."""
    order: Literal["big", "little"] = "big"
    signed: bool = False

    def integer(self, raw: bytes) -> int:
        return int.from_bytes(raw[self.at : self.at + self.count], self.order, signed=self.signed)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a binary message says beside the number."""

    unit: Choice | None = None
    flags: tuple[tuple[Bit, str], ...] = ()
    channel: Span | None = None
    fixed_unit: str | None = None
    """The unit of every message, where none is sent."""
    always: tuple[Always, ...] = ()
    """What every message must hold to be read."""
    unit_names: Mapping[int, str] = field(init=False)

    def __post_init__(self) -> None:
        values = self.unit.values if self.unit else {}
        names = {value: known_unit(word) for value, word in values.items()}
        object.__setattr__(self, "unit_names", names)

    def read(self, raw: bytes) -> tuple[str | None, tuple[str, ...], str | None]:
        """Unit, flags and channel of the message; raises ``DecodingError`` ``unit``, or ``layout``
        where a byte is not what it always is."""
        for at, mask, value in self.always:
            if raw[at] & mask != value:
                refuse("layout", f"byte {at} is {raw[at]:#04x}: the profile knows no such", raw)
        unit = self.fixed_unit
        if self.unit is not None:
            value = raw[self.unit.at] & self.unit.mask
            unit = self.unit_names.get(value)
            if unit is None:
                refuse("unit", f"{value:#04x} stands for no unit of the profile", raw)
        flags = tuple(flag for bit, flag in self.flags if bit.on(raw))
        channel = None if self.channel is None else str(self.channel.integer(raw))
        return unit, flags, channel


ALONE = Surroundings()
"""A number and nothing else."""


def long_enough(raw: bytes, length: int) -> None:
    """Refuses a message that ends before the last byte the profile reads."""
    if len(raw) < length:
        refuse("layout", f"{len(raw)} bytes, and the profile reads {length}", raw)
