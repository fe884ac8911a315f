"""An invented torque adapter and what reads it, for tests of streams."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from capture.instrument import Instrument
from capture.reading import LiveTorque, Pull, Stamp
from drivers.adapters.stream_receiver import StreamReceiver
from drivers.profiles.load import load_shipped
from drivers.profiles.profile import Profile
from simulators.torque_stream import Blocks, Layout, Lines, Sample, TorqueStream

TEXT, BLOCK = "torque-stream-text", "torque-stream-block"
RATES = {TEXT: 1000.0, BLOCK: 500.0}


def adapter(profile: str = TEXT, name: str = "adapter", channel: str | None = None) -> Instrument:
    return Instrument(name, "torque-adapter", "N·m", Decimal("0.01"), "port", profile, channel)


def receiver(
    profile: str | Profile = TEXT,
    instruments: Sequence[Instrument] = (adapter(),),
    lives: list[LiveTorque] | None = None,
) -> StreamReceiver:
    """What reads a stream; ``lives`` gets what an onlooker would see."""
    made = load_shipped(profile) if isinstance(profile, str) else profile
    shown = [] if lives is None else lives
    return StreamReceiver(made, "port", instruments, shown.append)


def layout(profile: str) -> Layout:
    return Lines() if profile == TEXT else Blocks()


def stream(profile: str, samples: Sequence[Sample]) -> TorqueStream:
    return TorqueStream(samples, layout(profile), RATES[profile])


def stamp(seconds: float = 0.0) -> Stamp:
    return Stamp("2026-01-01T00:00:00.000000Z", round(seconds * 1e9))


def torques(samples: Sequence[Sample]) -> tuple[str, ...]:
    """As the drivers write them."""
    return tuple(format(one.torque, "f") for one in samples)


def angles(samples: Sequence[Sample]) -> tuple[str, ...]:
    return tuple(format(one.angle, "f") for one in samples)


def place_of(pull: Pull, samples: Sequence[Sample], start: int = 0) -> int:
    """Where a pull's samples stand, one after the other, among those that were sent."""
    sent = list(zip(torques(samples), angles(samples), strict=True))
    assert pull.angle is not None
    wanted = list(zip(pull.torque, pull.angle, strict=True))
    return next(at for at in range(start, len(sent)) if sent[at : at + len(wanted)] == wanted)


SPEC = """
format = 1
id = "stream-pump"
title = "Invented pump"
revision = "1"
invented = true
notice = "Invented."

[decision]
repeat_window_ms = 0

[[part]]
id = "lid-bolt"
title = "Lid bolt"
count = 2

[[part]]
id = "shaft"
title = "Shaft"

[[fastener]]
id = "lid-bolts"
title = "Lid bolts"
part = "lid-bolt"
order = [1, 2]
lubricant = "oil"
instruments = ["torque-adapter"]

  [[fastener.stage]]
  id = "final"
  title = "Final"
  unit = "N·m"
  target = "25"
  permissible_deviation_percent = "10"

[[turning_test]]
id = "turns"
title = "Turning torque"
part = "shaft"
unit = "N·m"
lower_limit = "2"
upper_limit = "15"
instruments = ["torque-adapter"]

[[operation]]
tighten = "lid-bolts"

[[operation]]
turn = "turns"
after = ["tighten-lid-bolts"]
"""
"""Two bolts to 25 N·m, then a turning test, all by a torque adapter. Invented."""
