"""A torque adapter that streams: what it measures, sample by sample, and the bytes it sends.

Written from the drawings at the head of the profiles ``torque-stream-text`` and
``torque-stream-block``, without the drivers. Both layouts, and all that is measured, are invented.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple, Protocol

from simulators.gauges import to_steps
from simulators.waveforms import Sensor, Tightening, pull, tightening
from simulators.wire import crc16

_HUNDREDTH, _TENTH = Decimal("0.01"), Decimal("0.1")
_DEGREES_PER_TORQUE = 0.9


def _in_steps(value: float, step: Decimal) -> Decimal:
    return to_steps(value, step) + 0  # no zero with a minus sign


class Sample(NamedTuple):
    """What the adapter measured at one moment."""

    torque: Decimal
    """N·m, in hundredths."""
    angle: Decimal
    """Degrees, in tenths: how far the fastener has turned in this pull."""


def brisk(kind: str, target: float) -> Tightening:
    """The named pull of ``waveforms.KINDS`` in a second or so."""
    how = tightening(kind, target)
    return replace(how, rise=min(how.rise, 0.4), go_on_seconds=0.1, let_go_seconds=0.1)


def pulled(
    how: Tightening, rate: float, word: str, *, offset: float = 0.0, left: bool = False
) -> list[Sample]:
    """One pull as measured: ``rate`` samples a second; to the other side where ``left``."""
    wave = pull(how, Sensor(rate=rate, noise=0.001), word)
    side = -1 if left else 1
    samples, furthest = [], 0.0
    for torque in wave.torques:
        furthest = max(furthest, torque)
        angle = _in_steps(side * _DEGREES_PER_TORQUE * furthest, _TENTH)
        samples.append(Sample(_in_steps(side * torque + offset, _HUNDREDTH), angle))
    return samples


def resting(seconds: float, rate: float, *, offset: float = 0.0) -> list[Sample]:
    """Nobody pulls: a hundredth comes and goes."""
    levels = (offset, offset + 0.01, offset, offset - 0.01)
    return [
        Sample(_in_steps(levels[number % 4], _HUNDREDTH), Decimal("0.0"))
        for number in range(round(seconds * rate))
    ]


class Layout(Protocol):
    """How samples are written."""

    together: int
    """Samples in one message."""

    def message(self, samples: Sequence[Sample]) -> bytes:
        """The next message; its counter counts on."""
        ...


class Lines:
    """``+12.34,+045.1,0123`` CR LF: one sample a line."""

    together = 1

    def __init__(self, number: int = 0) -> None:
        self._number = number

    def message(self, samples: Sequence[Sample]) -> bytes:
        (sample,) = samples
        number, self._number = self._number, (self._number + 1) % 10_000
        return f"{sample.torque:+06.2f},{sample.angle:+06.1f},{number:04d}\r\n".encode("ascii")


class Blocks:
    """Ten samples between start bytes and a CRC."""

    together = 10

    def __init__(self, number: int = 0, status: int = 0) -> None:
        self._number = number
        self.status = status

    def message(self, samples: Sequence[Sample]) -> bytes:
        body = struct.pack("<BH", self.status, self._number)
        self._number = (self._number + len(samples)) % 65_536
        for sample in samples:
            body += struct.pack("<hh", int(100 * sample.torque), int(10 * sample.angle))
        return b"\xd2\x4b" + body + struct.pack(">H", crc16(body))


class TorqueStream:
    """An adapter that has so much to measure, and sends it as time goes by."""

    def __init__(self, samples: Iterable[Sample], layout: Layout, rate: float) -> None:
        self.samples = list(samples)
        """All there is to send; what does not fill a last message is never sent."""
        self._layout = layout
        self._rate = rate
        self._at = 0
        self._losing: set[int] = set()

    @property
    def sent(self) -> list[Sample]:
        """What has been sent, or lost on the way."""
        return self.samples[: self._at]

    @property
    def over(self) -> bool:
        """Everything is sent."""
        return self._at + self._layout.together > len(self.samples)

    def lose(self, number: int) -> None:
        """The message with this sample does not arrive."""
        self._losing.add(number // self._layout.together)

    def due(self, elapsed: float) -> list[bytes]:
        """The messages until ``elapsed`` seconds from the start that were not given yet."""
        until = min(int(elapsed * self._rate), len(self.samples))
        together, messages = self._layout.together, []
        while self._at + together <= until:
            message = self._layout.message(self.samples[self._at : self._at + together])
            if self._at // together not in self._losing:
                messages.append(message)
            self._at += together
        return messages

    def rest_of_it(self) -> list[bytes]:
        """All messages left, at once."""
        return self.due(len(self.samples) / self._rate + 1)
