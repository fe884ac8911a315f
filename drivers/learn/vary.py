"""Messages that were not sent but could be: for asking whether two explanations would ever
disagree."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

_ROUNDS = 60


def variations(messages: Sequence[bytes], text: bool) -> Iterator[bytes]:
    """The messages themselves, then some with other digits, or with bytes of one another. The
    same for the same messages."""
    yield from messages
    drawn = random.Random(len(messages))
    for _ in range(_ROUNDS):
        message = drawn.choice(messages)
        yield _other_digits(message, drawn) if text else _crossed(message, messages, drawn)


def _other_digits(message: bytes, drawn: random.Random) -> bytes:
    made = bytearray(message)
    for at, byte in enumerate(message):
        if 0x30 <= byte <= 0x39 and drawn.random() < 0.5:
            made[at] = drawn.randrange(0x30, 0x3A)
    return bytes(made)


def _crossed(message: bytes, messages: Sequence[bytes], drawn: random.Random) -> bytes:
    made = bytearray(message)
    for at in range(len(made)):
        other = drawn.choice(messages)
        if drawn.random() < 0.4 and at < len(other):
            made[at] = other[at]
    return bytes(made)
