"""Any bytes decode to a message or to a decoding error, nothing else; what is written is read."""

from __future__ import annotations

import re
import struct
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture.errors import DecodingError
from capture.instrument import Instrument
from capture.reading import Reading, Stamp, Undecodable
from drivers.adapters.receiver import Receiver
from drivers.framing.frame import Fault
from drivers.profiles.load import load_shipped, parse_profile, shipped_names
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

    kept = b""
    for item in items:
        if isinstance(item, Reading):
            assert PLAIN.fullmatch(item.digits)
        else:
            assert isinstance(item, Undecodable)
            assert item.raw
            assert item.code
        kept += item.raw
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


@pytest.mark.parametrize("name", [name for name in sorted(PROFILES) if not PROFILES[name].stream])
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


# shapes that no shipped profile has ---------------------------------------------------------------

SILENCE = '[frame]\nkind = "silence"\ngap_seconds = "0.05"\n[decode]\n'
LINE = '[frame]\nkind = "terminator"\nterminators = ["\\r"]\n{more}[decode]\n'
TEXT = 'kind = "text"\nlayout = '


def _figures(value: Decimal, whole: int = 6) -> str:
    """Digits and point without a sign, ``whole`` of them before the point."""
    return f"{abs(value):0{whole + 4}.3f}"


def _count(value: Decimal) -> int:
    return int(value.scaleb(3))


def _minus(value: Decimal, plus: str = "+", minus: str = "-") -> str:
    return minus if value < 0 else plus


def _parity(line: bytes) -> bytes:
    return bytes(byte | (bin(byte).count("1") % 2) << 7 for byte in line)


def _nibbles(digits: str, turn: bool) -> bytes:
    raw = bytes(int(digits[at : at + 2], 16) for at in range(0, len(digits), 2))
    return raw[::-1] if turn else raw


SHAPES: dict[str, tuple[str, Callable[[Decimal], bytes]]] = {
    "sign behind": (
        SILENCE + TEXT + '"{number}{sign} {unit}"',
        lambda v: f"{_figures(v)}{_minus(v)} mm".encode(),
    ),
    "sign in a column, padded": (
        SILENCE + TEXT + '"{sign} {number}{unit}"\npadding = "*"',
        lambda v: f"{_minus(v)}**{_figures(v, 1)}mm".encode(),
    ),
    "brackets": (
        SILENCE + TEXT + '" {sign?}{number}{close?} "\nsigns = { "(" = "minus" }\nunit = "mm"',
        lambda v: (f"({_figures(v)})" if v < 0 else f" {_figures(v)} ").encode(),
    ),
    "comma": (
        SILENCE + TEXT + '"{sign}{number}{unit}"\ndecimal_mark = ","',
        lambda v: f"{_minus(v)}{_figures(v)}mm".replace(".", ",").encode(),
    ),
    "exponent": (
        SILENCE + TEXT + '"{sign}{number}"\nexponent = true\nunit = "mm"',
        lambda v: f"{_minus(v)}{abs(_count(v))}E-03".encode(),
    ),
    "implied": (
        SILENCE + TEXT + '"{sign}{number}{unit:1}"\nplaces = 3\nunits = { A = "mm" }',
        lambda v: f"{_minus(v)}{abs(_count(v)):07d}A".encode(),
    ),
    "hex, two's complement": (
        SILENCE + TEXT + '"{number}"\nnumber_base = "hex"\nhex_negative = "twos"\nplaces = 3\n'
        'unit = "mm"',
        lambda v: f"{_count(v) % 16**6:06X}".encode(),
    ),
    "hex, top bit": (
        SILENCE + TEXT + '"{number}"\nnumber_base = "hex"\nhex_negative = "top-bit"\nplaces = 3\n'
        'unit = "mm"',
        lambda v: f"{abs(_count(v)) | (v < 0) << 23:06x}".encode(),
    ),
    "last first": (
        SILENCE + TEXT + '"{sign}{number}{unit}"\nlast_first = true',
        lambda v: f"{_minus(v)}{_figures(v)[::-1]}mm".encode(),
    ),
    "others beside": (
        SILENCE + TEXT + '"#{digits} {digits:2}:{digits:2} {other},{sign}{number},{other}{unit}"',
        lambda v: f"#12 09:30 -1.250,{_minus(v)}{_figures(v)},+99.125mm".encode(),
    ),
    "parity left in": (
        LINE.format(more="seven_bits = true\n") + TEXT + '"{sign}{number}{unit}"',
        lambda v: _parity(f"{_minus(v)}{_figures(v)}mm\r".encode()),
    ),
    "sum of seven bits": (
        LINE.format(more='[check]\nkind = "sum"\nwritten = "hex"\nmask = 0x7F\n')
        + TEXT
        + '"{sign}{number}{unit}*"',
        lambda v: (
            (line := f"{_minus(v)}{_figures(v)}mm*".encode()) + f"{sum(line) % 128:02X}\r".encode()
        ),
    ),
    "24 bits": (
        SILENCE + 'kind = "integer"\nplaces = 3\nunit = "mm"\n'
        'number = { at = 1, bytes = 3, order = "little", signed = true }',
        lambda v: b"M" + struct.pack("<i", _count(v))[:3],
    ),
    "magnitude": (
        SILENCE + 'kind = "integer"\nplaces = 3\nunit = "mm"\nnumber = { at = 0, bytes = 4 }\n'
        "negative = { at = 0, bit = 7 }",
        lambda v: struct.pack(">I", abs(_count(v)) | (v < 0) << 31),
    ),
    "sign byte": (
        SILENCE + 'kind = "bcd"\nplaces = 3\nunit = "mm"\nnumber = { at = 1, bytes = 4 }\n'
        'sign = { at = 0, values = { 0x2B = "plus", 0x2D = "minus" } }',
        lambda v: _minus(v).encode() + _nibbles(f"{abs(_count(v)):08d}", False),
    ),
    "first half byte, turned": (
        SILENCE + 'kind = "bcd"\nplaces = 3\nunit = "mm"\nsign_nibble = "first"\n'
        'number = { at = 0, bytes = 4, order = "little" }',
        lambda v: _nibbles(_minus(v, "0", "F") + f"{abs(_count(v)):07d}", True),
    ),
    "last half byte": (
        SILENCE + 'kind = "bcd"\nplaces = 3\nunit = "mm"\nsign_nibble = "last"\n'
        "number = { at = 0, bytes = 4 }",
        lambda v: _nibbles(f"{abs(_count(v)):07d}" + _minus(v, "C", "D"), False),
    ),
    "one digit to a byte": (
        SILENCE + 'kind = "bcd"\nplaces = 3\nunit = "mm"\nnegative = { at = 0, bit = 2 }\n'
        'number = { at = 1, bytes = 8, order = "little", digits_per_byte = 1 }',
        lambda v: bytes([4 * (v < 0)]) + f"{abs(_count(v)):08d}"[::-1].encode(),
    ),
    "float of 32 bits": (
        SILENCE + 'kind = "float"\nresolution = "0.001"\nunit = "mm"\n'
        'number = { at = 0, bytes = 4, order = "little" }',
        lambda v: struct.pack("<f", float(v)),
    ),
    "float of 64 bits": (
        SILENCE + 'kind = "float"\nresolution = "0.001"\nunit = "mm"\n'
        "number = { at = 0, bytes = 8 }",
        lambda v: struct.pack(">d", float(v)),
    ),
    "counts": (
        SILENCE + 'kind = "integer"\nscale = "25.4/65536"\nresolution = "0.001"\nunit = "mm"\n'
        "number = { at = 0, bytes = 4, signed = true }",
        lambda v: struct.pack(">i", round(v * 65536 / Decimal("25.4"))),
    ),
}
"""The profile, and a writer of its messages that knows nothing of our decoders."""
SHAPED = {name: parse_profile(text.encode(), name, name) for name, (text, _) in SHAPES.items()}
shapes = st.sampled_from(sorted(SHAPES))
SHOWN = {"layout", "not-a-digit", "not-known", "unit", "exponent"}


def _decoded(profile: Profile, raw: bytes) -> tuple[str, str | None]:
    return profile.decoding.decoder(*profile.framing.edges)(raw)[:2]


@given(name=shapes, value=st.decimals(-90, 90, places=3))
def test_what_is_written_in_any_shape_is_read(name: str, value: Decimal) -> None:
    raw = SHAPES[name][1](value)
    framer = SHAPED[name].framing.framer()

    (item,) = [*framer.feed(raw, 0), *framer.drain()]

    assert item == raw
    digits, unit = _decoded(SHAPED[name], raw)
    # half a count of 25.4/65536 mm is less than half a step: the same digits come back
    assert Decimal(digits) == value
    assert digits.lstrip("-") == f"{abs(value):.3f}"
    assert unit == "mm"


def _value_or_named_error(profile: Profile, raw: bytes) -> None:
    refused = None
    try:
        digits, unit = _decoded(profile, raw)
    except DecodingError as error:
        refused = error
    if refused is not None:
        assert refused.code in SHOWN
        assert refused.frame == raw
    else:
        assert PLAIN.fullmatch(digits)
        assert unit is None or unit


@given(name=shapes, value=st.decimals(-90, 90, places=3), data=st.data())
def test_any_bytes_in_any_shape_give_a_value_or_an_error_with_a_name(
    name: str, value: Decimal, data: st.DataObject
) -> None:
    sound = SHAPES[name][1](value)
    cut = data.draw(st.integers(0, len(sound)))
    raw = sound[:cut] + data.draw(st.binary(max_size=12)) + sound[data.draw(st.integers(cut, 99)) :]
    framer = SHAPED[name].framing.framer()

    items = [*framer.feed(raw, 0), *framer.drain()]

    for item in [*(item for item in items if isinstance(item, bytes)), raw]:
        _value_or_named_error(SHAPED[name], item)
    codes = {item.code for item in items if isinstance(item, Fault)}
    assert codes <= {"noise", "too-long", "check", "incomplete"}


@given(
    count=st.integers(-(2**31), 2**31 - 1),
    over=st.decimals("0.001", 1000, places=3),
    under=st.integers(1, 10**6),
    step=st.sampled_from(["0.001", "0.01", "0.05", "0.0005", "2", "10"]),
)
def test_a_scale_is_rounded_once_to_a_multiple_of_the_step(
    count: int, over: Decimal, under: int, step: str
) -> None:
    text = (
        f'{SILENCE}kind = "integer"\nscale = "{over}/{under}"\nresolution = "{step}"\n'
        "number = { at = 0, bytes = 4, signed = true }"
    )
    profile = parse_profile(text.encode(), "p", "p.toml")

    digits, _ = _decoded(profile, struct.pack(">i", count))

    exact = Fraction(count) * Fraction(over) / under
    steps = Fraction(digits) / Fraction(step)
    assert steps.denominator == 1
    assert abs(Fraction(digits) - exact) <= Fraction(step) / 2
    assert PLAIN.fullmatch(digits)
    places = max(0, -int(Decimal(step).as_tuple().exponent))
    assert len(digits.partition(".")[2]) == places
