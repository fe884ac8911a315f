"""A profile: what an instrument's messages look like, as a user's TOML file describes it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.framing.framing import Framing
from drivers.stream.bounds import Bounds

if TYPE_CHECKING:
    from drivers.decoding.bcd import BcdDecoding
    from drivers.decoding.floating import FloatDecoding
    from drivers.decoding.gatt import GattDecoding
    from drivers.decoding.integer import IntegerDecoding
    from drivers.decoding.text import TextDecoding

    Decoding = TextDecoding | BcdDecoding | IntegerDecoding | FloatDecoding | GattDecoding


@dataclass(frozen=True, slots=True)
class Request:
    """How an instrument is asked that sends only when asked."""

    send: bytes
    """``{channel}`` in it stands for the channel of the instrument that is asked."""
    answer_seconds: float
    """How long its answer may take."""

    def bytes_for(self, channel: str | None) -> bytes:
        return self.send.replace(b"{channel}", (channel or "").encode("ascii", "replace"))


@dataclass(frozen=True, slots=True)
class Block:
    """Where the samples of one message stand."""

    samples: int = 1
    at: int = 0
    """The first byte of the first sample."""
    size: int = 0
    """From one sample to the next."""


@dataclass(frozen=True, slots=True)
class Running:
    """A running counter in every message."""

    decoding: Decoding
    wraps: int
    """It begins again after so many values."""
    step: int
    """By how much it grows from one message to the next."""
    per_count: int
    """Samples that one step of it stands for."""


@dataclass(frozen=True, slots=True)
class Streaming:
    """How messages are samples of a stream. The torque is what ``Profile.decoding`` reads."""

    bounds: Bounds
    angle: Decoding | None = None
    """Reads the angle out of the same message."""
    counter: Running | None = None
    block: Block = Block()


@dataclass(frozen=True, slots=True)
class Profile:
    """How messages are cut, read and asked for."""

    name: str
    title: str
    text: str
    """The file, as it was read."""
    hash: str
    """SHA-256 of the file's bytes, hexadecimal."""
    framing: Framing
    decoding: Decoding
    request: Request | None = None
    stream: Streaming | None = None
    """Where messages are samples; None where each is a press."""

    @property
    def has_channels(self) -> bool:
        """Whether its messages say which instrument they come from."""
        return self.decoding.has_channel
