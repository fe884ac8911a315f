"""One explanation of everything: it reads a message and can be told to a person."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from drivers.learn.binary import BinaryReading
from drivers.learn.bytes_seen import Seen
from drivers.learn.scale import Scaling
from drivers.learn.text import TextReading, native


class Read(NamedTuple):
    """What a message says."""

    size: Fraction
    unit: str


@dataclass(frozen=True, slots=True)
class Explanation:
    """How the messages are taken, and how they are read then."""

    seen: Seen
    reading: TextReading | BinaryReading

    @property
    def scaling(self) -> Scaling:
        return self.reading.scaling

    def reader(self) -> Callable[[bytes], Read | None]:
        """A function that reads a message as ``seen.messages`` has them."""
        if isinstance(self.reading, TextReading):
            return _text_reader(self.seen, self.reading)
        return _binary_reader(self.reading)


def _text_reader(seen: Seen, reading: TextReading) -> Callable[[bytes], Read | None]:
    shape = native(reading)
    scaling, writing = reading.scaling, reading.writing
    groups = shape.groupindex

    def read(raw: bytes) -> Read | None:
        found = shape.fullmatch(seen.text(raw))
        if found is None:
            return None
        count = writing.count(found["number"])
        if count is None:
            return None
        word = found["unit"] if "unit" in groups else None
        worth = scaling.base
        if word is not None and reading.units.get(word) and scaling.switched:
            worth = scaling.switched
        size = worth.size(count)
        if "sign" in groups and found["sign"] in reading.minus:
            size = -size
        return Read(size, worth.unit)

    return read


def _binary_reader(reading: BinaryReading) -> Callable[[bytes], Read | None]:
    place, scaling = reading.place, reading.scaling
    sign, unit = reading.sign, reading.unit
    needs = place.at + place.size

    def read(raw: bytes) -> Read | None:
        if len(raw) < needs:
            return None
        count = place.count(raw)
        if count is None:
            return None
        worth = scaling.base
        if unit is not None and scaling.switched is not None:
            said = raw[unit.at] & unit.mask
            if said == unit.on:
                worth = scaling.switched
            elif said != unit.off:
                return None
        size = worth.size(count)
        if sign is not None:
            said = raw[sign.at] & sign.mask
            if said == sign.on:
                size = -size
            elif said != sign.off:
                return None
        return Read(size, worth.unit)

    return read
