"""Two witnesses to every shipped profile: what a simulated gauge writes, the drivers read.

The writers (simulators/wire.py) and the readers (drivers/) share no code, only the drawing at the
head of the profile file.
"""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.instrument import Instrument
from capture.reading import Reading, Stamp, Undecodable
from drivers.adapters.receiver import Receiver
from drivers.profiles.load import load_shipped, shipped_names
from simulators.wire import wire_for

STAMP = Stamp("2026-01-01T00:00:00.000000Z", 1)
UNITS = {"torque-peak-line": "N·m"}
PRESSED = [name for name in shipped_names() if load_shipped(name).stream is None]
"""Streams have tests of their own: test_torque_stream.py."""


def receiver(profile: str) -> Receiver:
    channel = "7" if profile == "channel-line" else None
    unit = UNITS.get(profile, "mm")
    gauge = Instrument("g", "gauge", unit, Decimal("0.001"), "port", profile, channel)
    return Receiver(load_shipped(profile), "port", [gauge])


def test_a_simulated_gauge_writes_every_shipped_profile() -> None:
    for name in PRESSED:
        assert wire_for(name, "7").message(Decimal("1.000"), UNITS.get(name, "mm"))


@pytest.mark.parametrize("profile", PRESSED)
@given(data=st.data())
def test_digits_as_displayed_arrive_as_sent(profile: str, data: st.DataObject) -> None:
    lowest = 0 if profile == "torque-peak-line" else -99
    values = data.draw(st.lists(st.decimals(lowest, 99, places=3), min_size=1, max_size=5))
    cuts = data.draw(st.lists(st.integers(1, 40), max_size=6))
    wire, reads = wire_for(profile, "7"), receiver(profile)
    unit = UNITS.get(profile, "mm")
    messages = [wire.message(value, unit) for value in values]
    stream, got = b"".join(messages), []
    for cut in [*cuts, len(stream)]:
        got += reads.receive(stream[:cut], STAMP)
        stream = stream[cut:]
    # What ends a line with CR LF is complete at the CR: the LF may be part of the message or not.
    assert all(isinstance(one, Reading) for one in got)
    assert [one.digits for one in got if isinstance(one, Reading)] == [
        format(value if value else abs(value), "f") for value in values
    ]
    assert {one.unit for one in got if isinstance(one, Reading)} == {unit}


@pytest.mark.parametrize("profile", PRESSED)
@given(lot=st.integers(0, 10_000))
def test_one_burst_of_noise_is_one_undecodable_and_spoils_nothing(profile: str, lot: int) -> None:
    wire, reads = wire_for(profile, "7"), receiver(profile)
    unit = UNITS.get(profile, "mm")
    before, after = wire.message(Decimal("1.000"), unit), wire.message(Decimal("2.000"), unit)
    got = reads.receive(before, STAMP)
    got += reads.receive(wire.noise(random.Random(lot)), STAMP)
    got += reads.receive(after, STAMP)
    kinds = [type(one) for one in got]
    assert kinds == [Reading, Undecodable, Reading]
