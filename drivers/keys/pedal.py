"""Foot pedals: keys that stand for something a hand would do. Knows no port and no clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from drivers.keys.event import PRESSED, Events, dropped

Does = Literal["send", "confirm", "void"]
BOUNCE: Final = 300_000
"""Microseconds after a press in which another one of the same pedal is a bounce of its switch, or
the rest of what one press types."""


@dataclass(frozen=True, slots=True)
class Pedal:
    """One pedal of bench.toml."""

    id: str
    device: str
    does: Does
    key: int | None = None
    """The key it types; None where any key of its device is meant."""
    instrument: str | None = None
    """The gauge that ``send`` asks; None for the one that suits the waiting step."""


class Presses:
    """From the events of one device to the presses of the pedals on it."""

    def __init__(self, pedals: Sequence[Pedal]) -> None:
        self._pedals = tuple(pedals)
        self._events = Events()
        self._last: dict[str, int] = {}

    def feed(self, chunk: bytes) -> list[Pedal | None]:
        """The pedals pressed, in order; None where presses may have been lost."""
        pressed: list[Pedal | None] = []
        for event in self._events.feed(chunk):
            if dropped(event):
                pressed.append(None)
                continue
            pedal = self._pedal(event.code)
            if event.value == PRESSED and pedal and not self._bounced(pedal, event.time):
                pressed.append(pedal)
        return pressed

    def _pedal(self, code: int) -> Pedal | None:
        return next((one for one in self._pedals if one.key in (None, code)), None)

    def _bounced(self, pedal: Pedal, time: int) -> bool:
        last = self._last.get(pedal.id)
        # either way: the kernel's clock may be set back in between
        if last is not None and abs(time - last) < BOUNCE:
            return True
        self._last[pedal.id] = time
        return False
