"""What a gauge remembers from press to press: counter, clock, battery, highest and lowest."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import datetime, timedelta

from simulators.formats.gauge import Shown


@dataclass(slots=True)
class State:
    """Everything that can stand beside a value in a message."""

    counter: int
    clock: datetime
    """The gauge's own, without a zone, as it shows it."""
    battery: int
    """Percent."""
    switched: bool = False
    highest: Shown | None = None
    """Since switched on, or since the unit was switched or the gauge zeroed."""
    lowest: Shown | None = None

    @classmethod
    def draw(cls, drawn: random.Random) -> State:
        """A gauge that has been used before."""
        first = datetime(2031, 1, 1)  # noqa: DTZ001 - a gauge's clock knows no zone
        return cls(
            counter=drawn.randrange(3, 900),
            clock=first + timedelta(seconds=drawn.randrange(0, 300 * 86_400)),
            battery=drawn.randrange(55, 99),
        )

    def forget(self) -> None:
        """Highest and lowest start anew."""
        self.highest = self.lowest = None

    def press(self, shown: Shown, drawn: random.Random) -> None:
        """Time passes, and the button is pressed at ``shown``."""
        self.counter += 1
        self.clock += timedelta(seconds=drawn.randrange(4, 90))
        if drawn.random() < 0.3:
            self.battery = max(5, self.battery - 1)
        if self.highest is None or shown.size > self.highest.size:
            self.highest = shown
        if self.lowest is None or shown.size < self.lowest.size:
            self.lowest = shown
