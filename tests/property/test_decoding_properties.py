"""Any bytes decode to a message or to a decoding error, nothing else; what is written is read."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import DecodingError
from capture.instrument import Instrument
from capture.reading import Reading, Stamp, Undecodable
from drivers.adapters.receiver import Receiver
from drivers.profiles.load import load_shipped, shipped_names
from drivers.profiles.profile import Profile
from simulators.wire import NotOnThisWire, wire_for

PROFILES = {name: load_shipped(name) for name in shipped_names()}
PLAIN = re.compile(r"-?(?:0|[1-9][0-9]*)(?:\.[0-9]+)?")
names = st.sampled_from(sorted(PROFILES))


def instrument(profile: Profile) -> Instrument:
    return Instrument(
        id="gauge", kind="micrometer", unit="mm", resolution=Decimal("0.001"), port="p",
        profile=profile.name, channel="3" if profile.has_channels else None,
    )  # fmt: skip


@given(name=names, raw=st.binary(max_size=80))
def test_any_bytes_give_a_message_or_a_decoding_error(name: str, raw: bytes) -> None:
    profile = PROFILES[name]
    decode = profile.decoding.decoder(*profile.framing.edges)
    refused = None
    try:
        digits, unit, flags, channel = decode(raw)
    except DecodingError as error:
        refused = error
    if refused is not None:
        assert refused.frame == raw
        assert refused.code in {"layout", "not-a-digit", "not-known", "unit", "exponent"}
    else:
        assert PLAIN.fullmatch(digits)
        assert unit is None or unit
        assert all(flags)
        assert channel is None or not channel.startswith("0") or channel == "0"


@given(name=names, stream=st.binary(max_size=400), data=st.data())
def test_any_stream_gives_readings_and_undecodables_alone(
    name: str, stream: bytes, data: st.DataObject
) -> None:
    profile = PROFILES[name]
    receiver = Receiver(profile, "p", [instrument(profile)])
    stamp = Stamp("2026-01-01T00:00:00.000000Z", 0)
    cut = data.draw(st.integers(0, len(stream)))

    items = receiver.receive(stream[:cut], stamp) + receiver.receive(stream[cut:], stamp)
    items += receiver.drain()

    for item in items:
        if isinstance(item, Reading):
            assert PLAIN.fullmatch(item.digits)
        else:
            assert isinstance(item, Undecodable)
            assert item.raw
            assert item.code
    kept = b"".join(item.raw for item in items)
    assert kept.translate(None, b"\r\n") == stream.translate(None, b"\r\n")


@given(
    name=names,
    value=st.decimals(-90, 90, places=3),
    unit=st.sampled_from(["mm", "in", "N·m", "lbf·ft"]),
)
def test_what_a_gauge_writes_is_read_as_it_was_shown(name: str, value: Decimal, unit: str) -> None:
    # simulators.wire writes the layouts from their drawings, without our decoders
    profile = PROFILES[name]
    try:
        raw = wire_for(name, "3").message(value, unit)
    except NotOnThisWire:
        return
    receiver = Receiver(profile, "p", [instrument(profile)])

    (item,) = receiver.receive(raw, Stamp("", 0))

    assert isinstance(item, Reading)
    shown = format(abs(value) if name == "torque-peak-line" else value, "f")
    assert item.digits.removeprefix("-") == shown.removeprefix("-")
    assert Decimal(item.digits) == Decimal(shown)
    assert item.unit == unit


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_every_profile_reads_some_unit_the_simulators_write(name: str) -> None:
    units = ["mm", "N·m"]
    written = 0
    for unit in units:
        try:
            raw = wire_for(name, "3").message(Decimal("12.345"), unit)
        except NotOnThisWire:
            continue
        written += 1
        receiver = Receiver(PROFILES[name], "p", [instrument(PROFILES[name])])
        (item,) = receiver.receive(raw, Stamp("", 0))
        assert isinstance(item, Reading)
        assert (item.digits, item.unit) == ("12.345", unit)
    assert written > 0


@given(digits=st.from_regex(r"[0-9]{1,8}(\.[0-9]{0,6})?", fullmatch=True), minus=st.booleans())
def test_digits_keep_their_value_and_their_resolution(digits: str, minus: bool) -> None:
    decode = PROFILES["decimal-line"].decoding.decoder(0, 1)

    kept = decode(b"%b%b\r" % (b"-" if minus else b"+", digits.encode()))[0]

    sent = Decimal(digits)
    assert Decimal(kept) == (-sent if minus else sent)
    assert Decimal(kept).as_tuple().exponent == sent.as_tuple().exponent
