"""Bytes of one port in, readings out: framing and decoding joined, for one connection.

No port, no clock, no loop: the time of arrival is handed in, once per chunk. Serial ports and
radios use the same receiver.
"""

from __future__ import annotations

from collections.abc import Sequence

from capture.errors import DecodingError
from capture.instrument import Instrument
from capture.reading import Captured, Reading, Stamp, Undecodable
from drivers.decoding.message import plain_channel
from drivers.framing.frame import Fault, Item
from drivers.profiles.profile import Profile

_RUN = 4
"""Undecodable items in a row that stay apart; a longer run in one chunk is noise, kept as one."""
_TOGETHER = 4096
"""Bytes of noise kept as one item."""

_new = tuple.__new__  # makes a named tuple in half the time; see capture.reading


class Receiver:
    """Reads the messages of the instruments on one port."""

    ended_by = ""
    """Why the connection ended; said before ``drain``."""

    def __init__(self, profile: Profile, port: str, instruments: Sequence[Instrument]) -> None:
        """``instruments``: one, or several with a channel each."""
        self._port = port
        self._framer = profile.framing.framer()
        self._decode = profile.decoding.decoder(*profile.framing.edges)
        self._alone = instruments[0].id if len(instruments) == 1 else None
        self._owner: dict[str | None, tuple[str, str]] = {
            plain_channel(instrument.channel): (instrument.id, instrument.unit)
            for instrument in instruments
            if instrument.channel is not None
        }
        if not profile.has_channels:
            self._owner[None] = (instruments[0].id, instruments[0].unit)
        self._stamp = Stamp("", 0)
        # only where nothing marks a beginning can a second half pass for a message
        self._beginnings_marked = profile.framing.kind != "terminator"
        self._half = b""

    def receive(self, chunk: bytes, stamp: Stamp) -> list[Captured]:
        """What ``chunk``, whose last byte arrived at ``stamp``, completes."""
        self._stamp = stamp
        frames = self._framer.feed(chunk, stamp.mono)
        if self._half and frames:
            return self._after_half(frames, stamp)
        return self._read(frames, stamp)

    @property
    def due(self) -> int | None:
        """When, in monotonic nanoseconds, ``silence`` may have something to say."""
        return self._framer.due

    def silence(self, mono: int) -> list[Captured]:
        """What the silence since the last bytes means; see ``Framer.silence``."""
        frames = self._framer.silence(mono)
        for frame in frames:
            if isinstance(frame, Fault) and frame.code == "incomplete":
                self._half = b"" if self._beginnings_marked else frame.raw
        return self._read(frames, self._stamp)

    def drain(self) -> list[Captured]:
        """What is left when the connection ends."""
        return self._read(self._framer.drain(), self._stamp)

    def _read(self, frames: list[Item], stamp: Stamp) -> list[Captured]:
        items: list[Captured] = []
        decode, owner = self._decode, self._owner
        faults = 0
        for frame in frames:
            if isinstance(frame, bytes):
                try:
                    digits, unit, flags, channel = decode(frame)
                    instrument, usual_unit = owner[channel]
                except DecodingError as error:
                    item = self._undecodable(frame, error.code, str(error), stamp)
                except KeyError:
                    item = self._stranger(frame, channel, stamp)
                else:
                    items.append(
                        _new(Reading, (instrument, frame, digits, unit or usual_unit, flags, stamp))
                    )
                    continue
            else:
                item = self._undecodable(frame.raw, frame.code, frame.detail, stamp)
            items.append(item)
            faults += 1
        return _joined(items) if faults > _RUN else items

    def _after_half(self, frames: list[Item], stamp: Stamp) -> list[Captured]:
        """Reads what follows half a message that was given up.

        ``12.`` and, long after, ``345 mm`` may be one stalled message: its second half must not be
        taken for a size of 345 mm. Where the two make a message together, nobody can tell, so the
        second is kept unread too. A new message with its sign, or noise before, makes none.
        """
        half, self._half = self._half, b""
        first = frames[0]
        if isinstance(first, bytes):
            try:
                digits, unit, _, _ = self._decode(half + first)
            except DecodingError:
                pass
            else:
                detail = (
                    "it may be the second half of a message that stopped midway; "
                    f"together they would read {digits} {unit or ''}".rstrip()
                )
                frames = [Fault(first, "incomplete", detail), *frames[1:]]
        return self._read(frames, stamp)

    def _undecodable(self, raw: bytes, code: str, detail: str, stamp: Stamp) -> Undecodable:
        return Undecodable(self._port, self._alone, raw, code, detail, stamp)

    def _stranger(self, raw: bytes, channel: str | None, stamp: Stamp) -> Undecodable:
        known = ", ".join(sorted(channel for channel in self._owner if channel is not None))
        detail = (
            f"channel {channel} belongs to no instrument on this port (known: {known}); "
            "add it to bench.toml"
        )
        return Undecodable(self._port, None, raw, "unknown-channel", detail, stamp)


def _joined(items: list[Captured]) -> list[Captured]:
    """The items, with long runs of noise made into few."""
    result: list[Captured] = []
    run: list[Undecodable] = []
    for item in items:
        if isinstance(item, Undecodable) and item.code not in ("not-known", "unknown-channel"):
            run.append(item)
        else:
            result += _together(run)
            run = []
            result.append(item)
    return result + _together(run)


def _together(run: list[Undecodable]) -> list[Undecodable]:
    if len(run) <= _RUN:
        return run
    result = []
    start = 0
    while start < len(run):
        end, size = start + 1, len(run[start].raw)
        while end < len(run) and size + len(run[end].raw) <= _TOGETHER:
            size += len(run[end].raw)
            end += 1
        raw = b"".join(item.raw for item in run[start:end])
        detail = (
            f"{end - start} pieces in a row that cannot be read; the first: {run[start].detail}"
        )
        result.append(run[start]._replace(raw=raw, code="noise", detail=detail))
        start = end
    return result
