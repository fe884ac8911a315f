"""How a profile says that its messages are framed, and the framer for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from drivers.framing.check import Check
from drivers.framing.fixed import FixedFramer
from drivers.framing.frame import Framer
from drivers.framing.seven_bits import SevenBitFramer
from drivers.framing.silence import SilenceFramer
from drivers.framing.start_stop import StartStopFramer
from drivers.framing.terminator import TerminatorFramer

PATIENCE = 2_000_000_000
"""Nanoseconds. Long, because the second half of a number is a number too: a pause on the way (a
network, a USB hub) must not cut a message in two."""


@dataclass(frozen=True, slots=True)
class Framing:
    """A profile's ``[frame]`` and ``[check]``, checked when the profile was loaded."""

    kind: Literal["terminator", "fixed", "start-stop", "silence"]
    limit: int
    """Bytes of the longest message; of every message where the length is fixed."""
    terminators: tuple[bytes, ...] = ()
    start: bytes = b""
    stop: bytes = b""
    after_stop: int = 0
    gap: int = 0
    """Nanoseconds of silence that end a message."""
    patience: int = PATIENCE
    """Nanoseconds after which half a message is given up."""
    check: Check | None = None
    seven_bits: bool = False
    """Whether the eighth bit of every byte is not looked at."""

    def framer(self) -> Framer:
        """A new framer, for one port."""
        bare = self._framer()
        return SevenBitFramer(bare, self.terminators) if self.seven_bits else bare

    def _framer(self) -> Framer:
        if self.kind == "terminator":
            return TerminatorFramer(
                terminators=self.terminators,
                limit=self.limit,
                patience=self.patience,
                check=self.check,
            )
        if self.kind == "fixed":
            return FixedFramer(
                length=self.limit, start=self.start, patience=self.patience, check=self.check
            )
        if self.kind == "start-stop":
            return StartStopFramer(
                start=self.start,
                stop=self.stop,
                after_stop=self.after_stop,
                limit=self.limit,
                patience=self.patience,
                check=self.check,
            )
        return SilenceFramer(gap=self.gap, limit=self.limit, check=self.check)

    @property
    def edges(self) -> tuple[int, int]:
        """How many bytes stand before and after the body of every message."""
        size = self.check.size if self.check else 0
        if self.kind == "terminator":
            return 0, size + len(self.terminators[0])
        if self.kind == "start-stop":
            inside = size if self.after_stop < size else 0
            return len(self.start), inside + len(self.stop) + self.after_stop
        if self.check and self.check.at <= -size and self.check.cover[1] == self.check.at:
            size = -self.check.at  # with what follows the check
        return len(self.start), size
