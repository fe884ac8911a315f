"""A gauge of the long run, and what it has sent: every press carries its number."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal

from tests.soak.many.lines import Line


@dataclass(frozen=True)
class Sent:
    """One press of a gauge."""

    number: int
    taken: bool
    """Whether the wire took all of it."""
    spell: int
    """How often its line had vanished before."""
    torn: bool = False
    """Whether its line vanished in the middle of it."""


@dataclass
class Gauge(ABC):
    """One instrument, and what it has sent so far."""

    id: str
    line: Line
    row: str
    """Its table in bench.toml."""
    sent: list[Sent] = field(default_factory=list, init=False)

    @abstractmethod
    async def press(self, *, torn: bool = False) -> None:
        """Sends the next number; torn: only its first half."""

    @abstractmethod
    def number(self, digits: str) -> int:
        """The number that a stored reading carries."""

    async def idle(self) -> None:  # noqa: B027 # most do nothing besides
        """What it does besides, until cancelled."""


@dataclass
class Pressed(Gauge):
    """It sends one message when it is pressed."""

    message: Callable[[int], bytes]
    places: int = 3

    async def press(self, *, torn: bool = False) -> None:
        number, spell = len(self.sent) + 1, self.line.spell
        message = self.message(number)
        self.sent.append(Sent(number, False, spell, torn))
        taken = await self.line.send(message[: len(message) // 2] if torn else message)
        self.sent[number - 1] = Sent(number, taken, spell, torn)

    def number(self, digits: str) -> int:
        number = Decimal(digits).scaleb(self.places)
        assert number == int(number), f"{self.id} never sent {digits}"
        return int(number)
