"""The profile of instruments that need none, because their characteristics describe themselves."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Sequence
from typing import Final

from capture.instrument import Instrument
from drivers.adapters.receiver import Receiver
from drivers.decoding.gatt import GattDecoding
from drivers.framing.frame import Framer, Item
from drivers.framing.framing import Framing
from drivers.profiles.profile import Profile

_TEXT = """\
# Nothing to say here: each value is one notification of a Bluetooth characteristic, which says
# itself (descriptor 0x2904, or a measurement of service 0x185A) how it is read.
"""
_LONGEST = 512
"""Bytes of the longest value a characteristic may have."""

DESCRIBED: Final = Profile(
    name="self-describing",
    title="A Bluetooth instrument whose characteristics describe themselves",
    text=_TEXT,
    hash=hashlib.sha256(_TEXT.encode()).hexdigest(),
    framing=Framing("silence", _LONGEST, gap=1_000_000),
    decoding=GattDecoding(0x10, 0, 0x2700),
)
"""Its decoding is replaced by what the characteristic says, once connected."""


class ValueFramer(Framer):
    """One notification is one message, and is whole at once."""

    def __init__(self) -> None:
        super().__init__(limit=_LONGEST, patience=0)

    def _cut(self, data: bytes, at: int) -> tuple[Item | None, int]:
        return data[at:], len(data)


class ValueReceiver(Receiver):
    """Reads the values of one characteristic."""

    def __init__(
        self, decoding: GattDecoding, port: str, instruments: Sequence[Instrument]
    ) -> None:
        super().__init__(dataclasses.replace(DESCRIBED, decoding=decoding), port, instruments)
        self._framer = ValueFramer()
