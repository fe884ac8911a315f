"""Torque adapters that stream: what a press is to them is a pull, whose peak carries its number."""

from __future__ import annotations

import asyncio
from collections import deque
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path

from simulators.torque_stream import Lines, Sample
from tests.soak.many.gauge import Gauge, Sent

RATE = 100
"""Samples a second: enough for a pull, and little enough for eight of them beside other work."""
_TICK = 0.05
_LOWEST = 10
_MAY_BE_WHOLE = 25
"""Resting samples at the end without which a pull is whole: half a second of rest ends it."""
_REST = Sample(Decimal("0.00"), Decimal("0.0"))

PROFILE = """\
title = "A torque adapter that streams a hundred lines a second (invented)"
[frame]
kind = "terminator"
terminators = ["\\r", "\\n"]
max_length = 48
[decode]
kind = "text"
layout = "{sign}{number},{other},{digits}"
unit = "N·m"
[stream]
interval_us = 10000
rise = "2.0"
[stream.angle]
kind = "text"
layout = "{other},{sign}{number},{digits}"
[stream.counter]
kind = "text"
layout = "{other},{other},{number}"
wraps = 10000
"""


def write_profile(folder: Path) -> str:
    """Puts the profile beside bench.toml; gives what bench.toml calls it."""
    (folder / "stream.toml").write_text(PROFILE, "utf-8")
    return "stream.toml"


def _pull(number: int) -> list[Sample]:
    """Up to the peak, down again, and rest."""
    peak = _LOWEST + Decimal(number).scaleb(-2)
    up = [peak * step / 40 for step in range(1, 41)]
    down = [peak * step / 10 for step in range(9, -1, -1)]
    return [
        Sample(torque.quantize(Decimal("0.01")), Decimal(min(at, 40)))
        for at, torque in enumerate([*up, *down])
    ] + [_REST] * 70


@dataclass
class Streaming(Gauge):
    """An adapter that sends at rest and in pulls."""

    _layout: Lines = field(default_factory=Lines)
    _coming: deque[tuple[Sample, int]] = field(default_factory=deque)
    """Each with the number of the pull it belongs to, 0 where none depends on it."""
    _began: dict[int, int] = field(default_factory=dict)
    """Pull → the spell of the line in which its first samples went out."""
    _pressing: asyncio.Lock = field(default_factory=asyncio.Lock)

    async def idle(self) -> None:
        while True:
            await asyncio.sleep(_TICK)
            going = [
                self._coming.popleft() if self._coming else (_REST, 0)
                for _ in range(round(_TICK * RATE))
            ]
            spell = self.line.spell
            message = b"".join(self._layout.message([sample]) for sample, _ in going)
            taken = await self.line.send(message)
            for number in {number for _, number in going if number}:
                if not taken or self._began.setdefault(number, spell) != spell:
                    # not whole within one spell
                    self.sent[number - 1] = replace(self.sent[number - 1], taken=False)

    async def press(self, *, torn: bool = False) -> None:
        """One pull. Torn: returns in the middle of it."""
        async with self._pressing:
            number, spell = len(self.sent) + 1, self.line.spell
            samples = _pull(number)
            # until it turns out otherwise, which may be after this has been cancelled
            self.sent.append(Sent(number, True, spell, torn))
            needed = len(samples) - _MAY_BE_WHOLE
            self._coming.extend(
                (sample, number if at < needed else 0) for at, sample in enumerate(samples)
            )
            await self._left(len(samples) - 25 if torn else 0)

    async def _left(self, most: int) -> None:
        """Returns when no more samples wait: they leave at the pace of their rate."""
        while len(self._coming) > most:  # noqa: ASYNC110 # there is nothing else to wait for
            await asyncio.sleep(_TICK)

    def number(self, digits: str) -> int:
        """The number that a whole pull carries."""
        number = (Decimal(digits) - _LOWEST).scaleb(2)
        assert number == int(number), f"{self.id} never sent {digits}"
        return int(number)
