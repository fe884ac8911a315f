"""Finding check bytes: the ways of making one that give what every message carries.

A way is taken only where it is right in every message and the messages differ enough that it
cannot be right by accident.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from drivers.framing.check import Check

_CRCS = (
    # width, polynomial, initial, reflected, final exclusive or
    (8, 0x07, 0x00, False, 0x00),
    (8, 0x07, 0xFF, False, 0x00),
    (8, 0x07, 0x00, False, 0x55),
    (8, 0x07, 0xFF, True, 0x00),
    (8, 0x31, 0x00, True, 0x00),
    (8, 0x31, 0x00, False, 0x00),
    (8, 0x31, 0xFF, False, 0x00),
    (8, 0x1D, 0xFF, False, 0xFF),
    (8, 0x1D, 0x00, False, 0x00),
    (8, 0x2F, 0xFF, False, 0xFF),
    (8, 0x9B, 0xFF, False, 0x00),
    (8, 0x9B, 0x00, True, 0x00),
    (16, 0x1021, 0xFFFF, False, 0x0000),
    (16, 0x1021, 0x0000, False, 0x0000),
    (16, 0x1021, 0x1D0F, False, 0x0000),
    (16, 0x1021, 0xFFFF, False, 0xFFFF),
    (16, 0x1021, 0x0000, True, 0x0000),
    (16, 0x1021, 0xFFFF, True, 0xFFFF),
    (16, 0x1021, 0xFFFF, True, 0x0000),
    (16, 0x8005, 0x0000, True, 0x0000),
    (16, 0x8005, 0xFFFF, True, 0x0000),
    (16, 0x8005, 0xFFFF, True, 0xFFFF),
    (16, 0x8005, 0x0000, True, 0xFFFF),
    (16, 0x8005, 0x0000, False, 0x0000),
    (16, 0x8005, 0xFFFF, False, 0x0000),
    (16, 0x3D65, 0x0000, True, 0xFFFF),
    (16, 0x3D65, 0x0000, False, 0xFFFF),
    (32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF),
    (32, 0x04C11DB7, 0xFFFFFFFF, False, 0x00000000),
    (32, 0x04C11DB7, 0xFFFFFFFF, False, 0xFFFFFFFF),
    (32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF),
)
"""Parameter sets in common use since R. N. Williams, "A painless guide to CRC error detection
algorithms", 1993; from memory."""

_TRIALS = 40
_HEX = set(b"0123456789ABCDEFabcdef")


class Way(NamedTuple):
    """A check, and how well it explains the messages."""

    check: Check
    words: str
    """For a person: ``sum``, ``exclusive or``, ``CRC-16 …``."""
    sure: bool = True
    """False where another check fits every message as well: then none is computed."""


@lru_cache(maxsize=1)
def _makers() -> tuple[tuple[Check, str], ...]:
    """Every way of making a check, whatever it covers."""
    made: list[tuple[Check, str]] = []
    for complement, of in (("none", ""), ("twos", ", negated"), ("ones", ", complemented")):
        made.append((_check("sum", 8, complement=complement), f"sum of the bytes{of}"))
        if complement != "twos":
            made.append((_check("xor", 8, complement=complement), f"exclusive or{of}"))
    made.append((_check("sum", 8, mask=0x7F), "sum of the bytes, seven bits of it"))
    made.append((_check("xor", 8, mask=0x7F), "exclusive or, seven bits of it"))
    for complement, of in (("none", ""), ("twos", ", negated"), ("ones", ", complemented")):
        made.append((_check("sum", 16, complement=complement), f"16-bit sum{of}"))
    for width, polynomial, initial, reflected, final in _CRCS:
        crc = _check(
            "crc",
            width,
            polynomial=polynomial,
            initial=initial,
            reflected=reflected,
            final_xor=final,
        )
        made.append((crc, f"CRC-{width} of polynomial {polynomial:0{width // 4}X}"))
    return tuple(made)


def _check(kind: str, width: int, **more: object) -> Check:
    # ``more`` holds fields of a check, by name.
    return Check(kind=kind, at=-1, cover=(0, 0), width=width, **more)  # type: ignore[arg-type]


def find_check(messages: Sequence[bytes], first: int = 0) -> Way | None:
    """The check that every message carries, the one that covers most; None where there is none.
    ``first``: bytes before this one (an echo) belong to no message."""
    different = list(dict.fromkeys(messages))
    if len(different) < 3:
        return None
    shortest = min(map(len, different))
    made = _Made(different[0])
    found: list[tuple[int, Way]] = []
    for tail in range(4):
        for check, words in _makers():
            for written in ("bytes", "hex"):
                size = check.width // (4 if written == "hex" else 8)
                if shortest - tail - size - first < 2:
                    continue
                one = _placed(different, check, written, size, tail, first, made)
                if one is not None:
                    found.append((one.at - one.cover[1], Way(one, words)))
    if not found:
        return None
    least = min(gap for gap, _ in found)
    ways = [way for gap, way in found if gap == least]
    return ways[0]._replace(
        sure=not any(
            _differ(ways[0], way, different) or _differ(way, ways[0], different) for way in ways[1:]
        )
    )


class _Made(dict[tuple[int, int, int], int]):
    """The checks of the first message, each computed once."""

    def __init__(self, message: bytes) -> None:
        super().__init__()
        self._message = message

    def of(self, check: Check, start: int, end: int) -> int:
        key = id(check), start, end
        if key not in self:
            self[key] = check.compute(self._message[start : len(self._message) + end])
        return self[key]


def _differ(one: Way, two: Way, messages: Sequence[bytes]) -> bool:
    """Whether a message could come that is right by one and wrong by the other."""
    drawn = random.Random(1)
    (start, end), check = one.check.cover, one.check
    for _ in range(_TRIALS):
        made = bytearray(drawn.choice(messages))
        for at in range(max(start, two.check.cover[0]), len(made) + min(end, two.check.cover[1])):
            if drawn.random() < 0.7:
                made[at] = (
                    drawn.randrange(0x30, 0x3A) if check.written == "hex" else drawn.randrange(256)
                )
        at = len(made) + check.at
        value = check.compute(bytes(made[start : len(made) + end]))
        if check.written == "hex":
            made[at : at + check.size] = f"{value:0{check.size}X}".encode()
        else:
            made[at : at + check.size] = value.to_bytes(check.size, check.order)
        if two.check.fault(bytes(made)) is not None:
            return True
    return False


def _placed(
    messages: Sequence[bytes],
    check: Check,
    written: str,
    size: int,
    tail: int,
    first: int,
    made: _Made,
) -> Check | None:
    """The check at ``tail`` bytes before the end, covering as much as fits every message."""
    sent = [message[len(message) - tail - size : len(message) - tail] for message in messages]
    if len(set(sent)) < min(3, len(messages)):
        return None
    if written == "hex" and not all(_HEX.issuperset(piece) for piece in sent):
        return None
    orders = ("big", "little") if size > 1 and written == "bytes" else ("big",)
    said = [
        # ``order`` is one of the two byte orders.
        [int(piece, 16) if written == "hex" else int.from_bytes(piece, order) for piece in sent]  # type: ignore[arg-type]
        for order in orders
    ]
    for start, end in _covers(min(map(len, messages)), size, tail, first):
        first_made = made.of(check, start, end)
        for order, values in zip(orders, said, strict=True):
            if values[0] == first_made and all(
                value == check.compute(message[start : len(message) + end])
                for value, message in zip(values[1:], messages[1:], strict=True)
            ):
                return _at(check, -(tail + size), (start, end), written, order)
    return None


def _covers(shortest: int, size: int, tail: int, first: int) -> Iterator[tuple[int, int]]:
    at = tail + size
    for start in range(first, min(first + 8, shortest - at - 1)):
        for gap in range(3):
            if shortest - at - gap - start >= 2:
                yield start, -(at + gap)


def _at(check: Check, at: int, cover: tuple[int, int], written: str, order: str) -> Check:
    return Check(
        kind=check.kind,
        at=at,
        cover=cover,
        width=check.width,
        written=written,  # type: ignore[arg-type]  # one of the choices
        order=order,  # type: ignore[arg-type]  # one of the choices
        complement=check.complement,
        polynomial=check.polynomial,
        initial=check.initial,
        reflected=check.reflected,
        final_xor=check.final_xor,
        mask=check.mask,
    )
