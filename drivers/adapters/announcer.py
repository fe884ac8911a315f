"""Tells what a connection is doing, and remembers the last news."""

from __future__ import annotations

from collections.abc import Sequence

from capture.instrument import Instrument
from capture.reading import Clock, DeviceState, Sink
from drivers.adapters.connection import MAY_FOLLOW, NOT_CONNECTED, State


class Announcer:
    """The state of one port's connection, told for each instrument on it."""

    def __init__(self, instruments: Sequence[Instrument], sink: Sink, clock: Clock) -> None:
        self._instruments = instruments
        self._sink = sink
        self._clock = clock
        self.state = State.CLOSED
        self.detail = ""
        self.battery: int | None = None
        """Percent, where the instrument tells; goes out with the next news."""
        self.low_battery = False
        self._stamp = clock.now()
        self._since = self._stamp.at

    @property
    def names(self) -> str:
        """The instruments' ids, for a log."""
        return ", ".join(instrument.id for instrument in self._instruments)

    def tell(self, state: State, detail: str) -> None:
        """Hands news to the sink; telling the same again is no news."""
        if (state, detail) == (self.state, self.detail):
            return
        if state is not self.state and state not in MAY_FOLLOW[self.state]:
            raise AssertionError(f"{state} may not follow {self.state}")
        self._stamp = self._clock.now()
        if state is not self.state and not NOT_CONNECTED.issuperset((state, self.state)):
            self._since = self._stamp.at
        self.state, self.detail = state, detail
        for news in self.states():
            self._sink.device(news)

    def states(self) -> list[DeviceState]:
        """The last news, one for each instrument."""
        return [
            DeviceState(
                instrument.id,
                self.state.value,
                self.detail,
                self._stamp,
                self._since,
                self.battery,
                self.low_battery,
            )
            for instrument in self._instruments
        ]
