"""What an onlooker is shown of a pull under way: all of its samples, a few times a second."""

from __future__ import annotations

from collections.abc import Callable

from capture.reading import LiveTorque
from drivers.stream.segmenter import Segment, Segmenter

INTERVAL_NS = 62_500_000
"""Sixteen times a second at most; with the last one of each pull still under twenty."""

Show = Callable[[LiveTorque], None]


class Watched:
    """Tells of one instrument's pulls while they last."""

    def __init__(self, instrument: str, interval_us: int, show: Show) -> None:
        self._instrument = instrument
        self._interval_us = interval_us
        self._show = show
        self._shown = 0
        self._next = 0

    def under_way(self, pull: Segmenter, unit: str, mono: int) -> None:
        """A pull that goes on at ``mono`` (ns)."""
        if mono >= self._next:
            self._next = mono + INTERVAL_NS
            self._tell(False, unit, pull.torque, pull.angle if pull.has_angle else None, None)

    def ended(self, pull: Segment, unit: str) -> None:
        """A pull that has ended."""
        self._tell(True, unit, pull.torque, pull.angle, pull.incomplete)
        self._shown = 0

    def _tell(
        self,
        ended: bool,
        unit: str,
        torque: list[str],
        angle: list[str] | None,
        incomplete: str | None,
    ) -> None:
        first, self._shown = self._shown, len(torque)
        self._show(
            LiveTorque(
                self._instrument,
                ended,
                unit,
                self._interval_us,
                first,
                tuple(torque[first:]),
                None if angle is None else tuple(angle[first:]),
                incomplete,
            )
        )
