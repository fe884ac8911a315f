"""Listens to a transport under test."""

from __future__ import annotations

from dataclasses import dataclass, field

from capture.errors import TransportError
from tests.support import eventually_async


@dataclass
class Ear:
    """What a transport told."""

    chunks: list[bytes] = field(default_factory=list)
    losses: list[TransportError] = field(default_factory=list)

    @property
    def data(self) -> bytes:
        return b"".join(self.chunks)

    async def has_heard(self, count: int) -> None:
        await eventually_async(lambda: len(self.data) >= count, f"{count} bytes arrived")
