"""What hears a gauge's presses on a port of any kind."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from drivers.learn.line.setting import Setting

SILENCE = 0.4
"""Seconds without a byte after which what came was one press."""


Ready = Callable[[], None]


def nobody() -> None:
    """Where nobody waits for the moment to press."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What came from one press."""

    raw: bytes = b""
    """Of a cable; of a radio what its likeliest characteristic sent."""
    wrong: frozenset[int] | None = None
    """Which bytes came with an error of parity or stop bit; None where that is not told."""
    faults: bool | None = None
    """Whether any came with one; None where that is not told."""
    parts: dict[str, bytes] = field(default_factory=dict)
    """Of a radio: what each characteristic sent, by UUID."""


class Ear(Protocol):
    """An open port that is listened to, one press after another."""

    tunable: bool
    """Whether speed and form of characters can be set from here."""

    def tune(self, setting: Setting) -> None:
        """Listens with these settings from now on."""
        ...

    def press(self, wait: float, ask: bytes = b"", ready: Ready = nobody) -> Heard:
        """What one press sends; nothing where nothing comes within ``wait`` seconds. What came
        before is no part of it; ``ready`` is called once it is listened to. Then ``ask`` is sent,
        where there is anything to ask. Raises ``TransportError`` where the port is lost."""
        ...

    def again(self, wait: float) -> None:
        """Opens the lost port again as soon as it is back; raises ``TransportError`` where it is
        not within ``wait`` seconds."""
        ...

    def close(self) -> None:
        """Lets it go."""
        ...
