"""Bytes of one port in, pulls out: for profiles whose messages are samples of a stream.

A class of its own beside ``Receiver``, so that presses pay nothing for it.
"""

from __future__ import annotations

from collections.abc import Sequence

from capture.errors import DecodingError
from capture.instrument import Instrument
from capture.reading import Captured, Stamp, Undecodable
from drivers.adapters.receiver import Receiver
from drivers.decoding.message import Message, refuse
from drivers.framing.frame import Item
from drivers.profiles.profile import Profile
from drivers.stream.counter import Counter
from drivers.stream.lane import Lane
from drivers.stream.watched import Show

_APART = 4
"""Pieces that cannot be read which are kept one by one in a second; more are kept together."""
_SECOND = 1_000_000_000
_TOGETHER = 4096
"""Bytes kept as one item."""


class StreamReceiver(Receiver):
    """Reads the samples of the instruments on one port and cuts them into pulls."""

    def __init__(
        self, profile: Profile, port: str, instruments: Sequence[Instrument], show: Show
    ) -> None:
        """``show`` is told of the pulls while they last."""
        super().__init__(profile, port, instruments)
        stream = profile.stream
        assert stream is not None
        edges = profile.framing.edges
        self._angle = None if stream.angle is None else stream.angle.decoder(*edges)
        running = stream.counter
        self._count = None if running is None else running.decoding.decoder(*edges)
        block = stream.block
        self._first, self._steps = block.at, [n * block.size for n in range(1, block.samples)]

        def lane(instrument: str) -> Lane:
            counter = None if running is None else Counter(running.wraps, running.step)
            per_count = 1 if running is None else running.per_count
            return Lane(
                port, instrument, stream.bounds, counter, per_count, show,
                has_angle=stream.angle is not None,
            )  # fmt: skip

        self._lanes = {channel: lane(name) for channel, (name, _) in self._owner.items()}
        self._unread = _Unread()

    def _read(self, frames: list[Item], stamp: Stamp) -> list[Captured]:
        items: list[Captured] = []
        for frame in frames:
            if not isinstance(frame, bytes):
                self._keep(self._undecodable(frame.raw, frame.code, frame.detail, stamp), items)
                continue
            try:
                (torque, unit, flags, channel), more = self._samples(frame)
                angle = self._turned(frame)
                number = self._number(frame)
                lane, usual_unit = self._lanes[channel], self._owner[channel][1]
            except DecodingError as error:
                self._keep(self._undecodable(frame, error.code, str(error), stamp), items)
            except KeyError:
                items += self._unread.take(self._stranger(frame, channel, stamp))
            else:
                samples = [(torque, angle)]
                for cut, (digits, _, others, _) in more:
                    samples.append((digits, self._turned(cut)))
                    flags += others
                items += lane.message(samples, number, unit or usual_unit, flags, stamp)
        if self._unread.due is not None and stamp.mono >= self._unread.due:
            items += self._unread.give()
        return items

    def _samples(self, frame: bytes) -> tuple[Message, list[tuple[bytes, Message]]]:
        """The first sample, and the others each with the message as if it stood first."""
        head, at = frame[: self._first], self._first
        decode = self._decode
        cuts = [head + frame[at + step :] for step in self._steps]
        return decode(frame), [(cut, decode(cut)) for cut in cuts]

    def _turned(self, frame: bytes) -> str:
        return "" if self._angle is None else self._angle(frame)[0]

    def _number(self, frame: bytes) -> int | None:
        if self._count is None:
            return None
        digits = self._count(frame)[0]
        if not digits.isdecimal():
            refuse("layout", f"{digits} is no running number", frame)
        return int(digits)

    def _keep(self, item: Undecodable, items: list[Captured]) -> None:
        for lane in self._lanes.values():
            lane.unreadable(item.code)
        items += self._unread.take(item)

    @property
    def due(self) -> int | None:
        """When (ns) ``silence`` may have something to say."""
        known = [self._framer.due, self._unread.due, *(lane.due for lane in self._lanes.values())]
        return min((due for due in known if due is not None), default=None)

    def silence(self, mono: int) -> list[Captured]:
        """What the silence since the last bytes means: half a message, a pull that stopped."""
        items = super().silence(mono)
        for lane in self._lanes.values():
            items += lane.silence(mono)
        if self._unread.due is not None and mono >= self._unread.due:
            items += self._unread.give()
        return items

    def drain(self) -> list[Captured]:
        """What is left when the connection ends; a pull under way is incomplete by that."""
        items = super().drain()
        for lane in self._lanes.values():
            items += lane.drain(self.ended_by)
        return items + self._unread.give()


class _Unread:
    """Keeps what cannot be read from filling the record: a stream under a wrong profile would
    make a thousand entries a second."""

    def __init__(self) -> None:
        self._until = 0
        self._apart = 0
        self._held: list[Undecodable] = []
        self._bytes = 0

    @property
    def due(self) -> int | None:
        """When (ns) what is held is to be given."""
        return self._until if self._held else None

    def take(self, item: Undecodable) -> list[Captured]:
        """One more; gives what is to be kept now."""
        given: list[Captured] = []
        if item.stamp.mono >= self._until:
            given = self.give()
            self._until, self._apart = item.stamp.mono + _SECOND, 0
        if self._apart < _APART:
            self._apart += 1
            return [*given, item]
        if self._held and (
            item.instrument != self._held[0].instrument or self._bytes + len(item.raw) > _TOGETHER
        ):
            given += self.give()
        self._held.append(item)
        self._bytes += len(item.raw)
        return given

    def give(self) -> list[Captured]:
        """What is held, as one."""
        held, self._held, self._bytes = self._held, [], 0
        if len(held) < 2:
            return list(held)
        first = held[0]
        detail = f"{len(held)} pieces that cannot be read; the first: {first.detail}"
        raw = b"".join(item.raw for item in held)
        return [first._replace(raw=raw, code="noise", detail=detail)]


def receiver_for(
    profile: Profile, port: str, instruments: Sequence[Instrument], show: Show
) -> Receiver:
    """What reads messages of this profile."""
    if profile.stream is None:
        return Receiver(profile, port, instruments)
    return StreamReceiver(profile, port, instruments, show)
