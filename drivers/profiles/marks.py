"""A message, byte by byte: what each of its bytes is to the profile it was read with."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple

from drivers.decoding.marks import Field, fields
from drivers.framing.framing import Framing
from drivers.profiles.profile import Profile, Streaming

_SEVEN = bytes(byte & 0x7F for byte in range(256))
ORDER = (
    "start", "channel", "flags", "no_value", "sign", "number", "point", "unit",
    "angle", "counter", "fixed", "check", "end",
)  # fmt: skip
"""What a byte may be for; a byte that is for several things names them in this order."""


class Mark(NamedTuple):
    """Bytes in a row that are for the same. The marks of a message never overlap."""

    first: int
    end: int
    """The byte after the last."""
    names: tuple[str, ...]
    """Of ``ORDER``; empty where the bytes are not read."""


def marked(profile: Profile, raw: bytes) -> list[Mark]:
    """The whole message as marks, in its order, with no byte left out.

    A message that does not have the profile's shape has the marks of its frame alone.
    """
    names: list[set[str]] = [set() for _ in raw]
    for field in _all(profile, raw):
        for at in range(max(0, field.first), min(field.end, len(raw))):
            names[at].add(field.name)
    ordered = [tuple(name for name in ORDER if name in own) for own in names]
    found, at = [], 0
    for own, group in groupby(ordered):
        count = len(list(group))
        found.append(Mark(at, at + count, own))
        at += count
    return found


def _all(profile: Profile, raw: bytes) -> Iterator[Field]:
    yield from _frame(profile.framing, raw)
    head, tail = profile.framing.edges
    yield from fields(profile.decoding, raw, head, tail)
    if profile.stream is not None:
        yield from _samples(profile, profile.stream, raw)


def _frame(framing: Framing, raw: bytes) -> Iterator[Field]:
    """What frames the body: start, stop or terminator, check bytes."""
    seen = raw.translate(_SEVEN) if framing.seven_bits else raw
    if framing.start and seen.startswith(framing.start):
        yield Field("start", 0, len(framing.start))
    if framing.kind == "start-stop":
        end = len(raw) - framing.after_stop
        if seen[:end].endswith(framing.stop):
            yield Field("end", end - len(framing.stop), end)
    for mark in sorted(framing.terminators, key=len, reverse=True):
        if seen.endswith(mark):
            yield Field("end", len(raw) - len(mark), len(raw))
            break
    check = framing.check
    if check is not None and len(raw) + check.at >= 0:
        at = len(raw) + check.at
        yield Field("check", at, at + check.size)


def _samples(profile: Profile, stream: Streaming, raw: bytes) -> Iterator[Field]:
    """Angle and counter, and every sample of a block."""
    head, tail = profile.framing.edges
    one = [field for field in fields(profile.decoding, raw, head, tail) if field.name == "number"]
    if stream.angle is not None:
        one += _numbers("angle", fields(stream.angle, raw, head, tail))
    for number in range(stream.block.samples):
        by = number * stream.block.size
        yield from (Field(each.name, each.first + by, each.end + by) for each in one)
    if stream.counter is not None:
        yield from _numbers("counter", fields(stream.counter.decoding, raw, head, tail))


def _numbers(name: str, found: list[Field]) -> list[Field]:
    """The number that another decoding reads out of the same message, with its sign, by another
    name."""
    return [field._replace(name=name) for field in found if field.name in ("number", "sign")]
