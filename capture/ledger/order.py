"""What the order of readings tells: where the clock was set back, where somebody else took over.

Each is kept as the presses where it changed, so that most presses write nothing of it.
"""

from __future__ import annotations

import sqlite3

from capture.ledger.moments import newest_moment, went_back


class Order:
    """Takes readings in order of their presses, and collects the rows of ``clock_back`` and
    ``shift``."""

    __slots__ = ("_any", "_newest", "_operator", "clock_back", "shifts")

    def __init__(self) -> None:
        self._newest = ""
        self._operator: str | None = None
        self._any = False
        """Whether there was a reading."""
        self.clock_back: list[tuple[int]] = []
        self.shifts: list[tuple[int, str | None]] = []

    def add(self, press: int, at: str, operator: str | None) -> None:
        """The next reading: when it came, and who was at the bench."""
        if at >= self._newest:
            self._newest = at
        elif went_back(self._newest, at):
            self._newest = at
            self.clock_back.append((press,))
        if operator != self._operator or not self._any:
            self._operator, self._any = operator, True
            self.shifts.append((press, operator))

    def going_on(self) -> Order:
        """One that goes on from here, with no rows yet."""
        made = Order()
        made._newest, made._operator, made._any = self._newest, self._operator, self._any
        return made


def order_of(connection: sqlite3.Connection) -> Order:
    """The order as a store's last reading leaves it."""
    made = Order()
    row = connection.execute("SELECT operator FROM reading ORDER BY press DESC LIMIT 1").fetchone()
    if row is not None:
        made._newest, made._operator, made._any = newest_moment(connection), row[0], True
    return made
