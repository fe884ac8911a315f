"""One instrument's stream on one connection: counted, cut into pulls, shown."""

from __future__ import annotations

from collections.abc import Sequence

from capture.reading import Captured, Pull, Stamp, Undecodable
from drivers.stream.bounds import Bounds
from drivers.stream.counter import REPEATED, RESTARTED, Counter
from drivers.stream.segmenter import Segment, Segmenter
from drivers.stream.watched import Show, Watched

SILENT_NS = 1_000_000_000
"""A pull under way is given up after so long without a sample."""
_LOST = "samples are missing"
_ODD = 3
"""Messages in a row whose counter does not fit, each told; then it is told once of the profile."""
_NO_COUNTER = (
    "the running counter does not count as the profile says, so nobody knows what is missing: "
    "correct [stream.counter]"
)
_A_PULL_US = 100_000
"""So long a hole may hide a whole pull; common practice, no source: no hand is quicker."""


class Lane:
    """Takes messages of one instrument, gives pulls."""

    def __init__(
        self,
        port: str,
        instrument: str,
        bounds: Bounds,
        counter: Counter | None,
        per_count: int,
        show: Show,
        *,
        has_angle: bool,
    ) -> None:
        """``per_count``: samples that one step of the counter stands for."""
        self._port = port
        self._instrument = instrument
        self._bounds = bounds
        self._counter = counter
        self._per_count = per_count
        self._has_angle = has_angle
        self._cutter = Segmenter(bounds, has_angle=has_angle)
        self._watched = Watched(instrument, bounds.interval_us, show)
        self._silent = max(SILENT_NS, 20_000 * bounds.interval_us)
        self._unit = ""
        self._flags: dict[str, None] = {}
        self._stamp = Stamp("", 0)
        self._samples: Sequence[tuple[str, str]] = ()
        """Of the message before."""
        self._repeated = False
        """It was that message once more: a third one is a counter that stands still."""
        self._odd = 0
        """Messages in a row whose counter did not fit."""

    @property
    def due(self) -> int | None:
        """When (ns) ``silence`` has something to say; None while no pull is under way."""
        return self._stamp.mono + self._silent if self._cutter.pulling else None

    def message(
        self,
        samples: Sequence[tuple[str, str]],
        number: int | None,
        unit: str,
        flags: tuple[str, ...],
        stamp: Stamp,
    ) -> list[Captured]:
        """The pulls that a message's samples, (torque, angle) each, complete."""
        pulls: list[Captured] = []
        if self._counter is not None and number is not None:
            missed = self._counter.missed(number)
            again = missed == REPEATED and samples == self._samples
            if again and not self._repeated and not self._odd:
                self._repeated = True
                return pulls
            self._repeated = again
            pulls += self._missed(missed, stamp)
        self._samples = samples
        if unit != self._unit and self._unit:
            pulls += self._ended(f"the unit changed from {self._unit} to {unit}")
            self._cutter = Segmenter(self._bounds, has_angle=self._has_angle)
        self._unit, self._stamp = unit, stamp
        cutter = self._cutter
        for torque, angle in samples:
            done = cutter.sample(torque, angle)
            if cutter.pulling and flags:
                self._flags.update(dict.fromkeys(flags))
            if done is not None:
                pulls.append(self._pull(done))
        if cutter.pulling:
            self._watched.under_way(cutter, unit, stamp.mono)
        return pulls

    def _missed(self, missed: int, stamp: Stamp) -> list[Undecodable]:
        """What the counter says before a message; a counter that never fits is told of once."""
        self._odd = self._odd + 1 if missed else 0
        if not missed:
            return []
        if self._odd > _ODD + 1:
            self._cutter.lost(None, _NO_COUNTER)
            return []
        if self._odd == _ODD + 1:
            self._cutter.lost(None, _NO_COUNTER)
            return [Undecodable(self._port, self._instrument, b"", "gap", _NO_COUNTER, stamp)]
        if missed == RESTARTED:
            return self._hole(None, f"{_LOST}: the counter went back", stamp)
        if missed == REPEATED:
            return self._hole(None, f"{_LOST}: the counter stood still", stamp)
        count = missed * self._per_count
        return self._hole(count, f"{_LOST} (the counter jumped)", stamp)

    def _hole(self, count: int | None, why: str, stamp: Stamp) -> list[Undecodable]:
        """Samples are missing: a pull under way is told of it, and the record of a hole between
        pulls that may have swallowed a whole one."""
        at_rest = not self._cutter.pulling
        self._cutter.lost(count, why)
        if not at_rest or (count is not None and count * self._bounds.interval_us < _A_PULL_US):
            return []
        how_many = "" if count is None else f"{count} "
        detail = f"{how_many}{why}; a pull made meanwhile is missing too"
        return [Undecodable(self._port, self._instrument, b"", "gap", detail, stamp)]

    def unreadable(self, detail: str) -> None:
        """Bytes came that make no sample. A counter tells better what is missing, if anything."""
        if self._counter is None:
            self._cutter.lost(None, f"bytes came in between that could not be read ({detail})")

    def silence(self, mono: int) -> list[Pull]:
        """What the silence until ``mono`` (ns) means."""
        due = self.due
        if due is None or mono < due:
            return []
        return self._ended(f"nothing more came for {self._silent / 1e9:g} s")

    def drain(self, why: str) -> list[Pull]:
        """What is left when the connection ends, and why it did."""
        return self._ended(why or "the connection ended")

    def _ended(self, why: str) -> list[Pull]:
        segment = self._cutter.end(why)
        return [] if segment is None else [self._pull(segment)]

    def _pull(self, segment: Segment) -> Pull:
        self._watched.ended(segment, self._unit)
        flags, self._flags = tuple(self._flags), {}
        return Pull(
            self._port,
            self._instrument,
            self._unit,
            self._bounds.interval_us,
            tuple(segment.torque),
            None if segment.angle is None else tuple(segment.angle),
            tuple(segment.gaps),
            flags,
            segment.incomplete,
            segment.missing,
            self._stamp,
        )
