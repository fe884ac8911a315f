"""One port of the bench with everything that hangs on it."""

from __future__ import annotations

from dataclasses import dataclass

from capture.instrument import Instrument
from drivers.profiles.profile import Profile
from drivers.transports.settings import PortSettings


@dataclass(frozen=True, slots=True)
class Port:
    """A port, the profile of its messages and the instruments on it."""

    settings: PortSettings
    profile: Profile
    instruments: tuple[Instrument, ...]
    """One, or several told apart by their channels."""
    poll_seconds: float | None = None
    """How often the instruments are asked by themselves; None where never."""
