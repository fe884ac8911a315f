"""A person at the gauge: the presses asked for, then any others."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from simulators.formats.format import Format, Press
from simulators.formats.gauge import Scale
from simulators.formats.state import State

FURTHER = 50


class Asked(NamedTuple):
    """One press of the few."""

    block: str
    negative: bool = False
    switched: bool = False


@dataclass(slots=True)
class Session:
    """One gauge from being switched on."""

    format: Format
    drawn: random.Random
    state: State
    off: float = 0.9
    """How far a size may lie from what the person thinks, in steps of the display."""

    def press(self, size: Fraction, at: str) -> Press:
        """One press at ``size`` in the gauge's first unit."""
        shown = self.format.gauge.show(size, self.state.switched)
        self.state.press(shown, self.drawn)
        raw = self.format.message(shown, self.state)
        return Press(at, raw, shown.text, shown.scale.unit, self.state.switched)

    def asked(self, asked: Asked) -> Press:
        """One press at a size the person knows."""
        if asked.switched != self.state.switched:
            self.state.switched = asked.switched
            self.state.forget()
        if asked.negative:
            self.state.forget()
        scale = self.scale()
        size = Fraction(asked.block) * (-1 if asked.negative else 1)
        error = self._error() * Fraction(scale.step) * scale.size
        sign = "-" if asked.negative else ""
        return self.press(size + error, f"{sign}{asked.block} {self.format.gauge.first.unit}")

    def scale(self) -> Scale:
        """The unit shown now."""
        gauge = self.format.gauge
        return gauge.second if self.state.switched and gauge.second else gauge.first

    def any(self) -> Press:
        """One press at any size within the range, the unit switched now and then."""
        gauge, drawn = self.format.gauge, self.drawn
        if gauge.second is not None and drawn.random() < 0.3:
            self.state.switched = not self.state.switched
            self.state.forget()
        high = float(gauge.high)
        size = drawn.choice(
            [
                drawn.uniform(0, high),
                drawn.uniform(0, high),
                drawn.uniform(-high / 2, 0),
                drawn.uniform(-high / 100, high / 100),
            ]
        )
        return self.press(Fraction(size), "")

    def _error(self) -> Fraction:
        if self.drawn.random() < 0.3:
            return Fraction(0)
        return Fraction(self.drawn.uniform(-self.off, self.off))


def played(made: Format, drawn: random.Random) -> Format:
    """``made`` with five to seven presses and ``FURTHER`` others."""
    # Several counts to a step: half a step is as far as fair play goes.
    off = 0.5 if made.exactness == "a step" else 0.9
    while True:
        session = Session(made, drawn, State.draw(drawn), off)
        presses = tuple(session.asked(one) for one in plan(made, drawn))
        if made.exactness != "digits" or not _too_round(presses):
            break
    return replace(made, presses=presses, further=tuple(session.any() for _ in range(FURTHER)))


def _too_round(presses: tuple[Press, ...]) -> bool:
    """Where every display is as round as its block, nobody can tell 2000 from 0002 sent last
    first: that is a thin case of its own, not a format to be learned."""
    apart = [
        press
        for press in presses
        if not press.switched and Fraction(press.value) != Fraction(press.at.split(" ")[0])
    ]
    return len(apart) < 2


def plan(made: Format, drawn: random.Random) -> list[Asked]:
    """Closed jaws, blocks, one after zeroing on a block, one after the unit switch."""
    gauge = made.gauge
    count = drawn.randint(5, 7) - (3 if gauge.second is not None else 2)
    large = [block for block in gauge.blocks if Fraction(block) * 3 >= gauge.high]
    blocks = [drawn.choice(large)]
    others = [block for block in gauge.blocks if block not in blocks]
    blocks += drawn.sample(others, count - 1)
    if "max" in made.shape:
        blocks.sort(key=Fraction, reverse=True)  # rising sizes would be the maximum every time
    elif drawn.random() < 0.6:
        blocks.sort(key=Fraction)
    asked = [Asked("0"), *(Asked(block) for block in blocks)]
    zeroed = Asked(drawn.choice(gauge.blocks), negative=True)
    if gauge.second is None:
        return [*asked, zeroed]
    switched = Asked(drawn.choice(gauge.blocks[1:]), switched=True)
    return [*asked, *drawn.choice([[zeroed, switched], [switched, zeroed]])]
