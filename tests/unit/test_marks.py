"""Which bytes are what: hand-made messages of every shipped profile, and shapes that none of them
has. The layouts are invented; see the drawing in each profile's head."""

from __future__ import annotations

import pytest

from drivers.profiles.load import load_shipped, parse_profile, shipped_names
from drivers.profiles.marks import ORDER, marked
from drivers.profiles.profile import Profile

SHIPPED = {
    "decimal-line": (
        b"  -0.012 mm\r",
        "- - sign number*5 - unit*2 end",
    ),
    "asked-decimal-line": (b"+25.400\r", "sign number*6 end"),
    "channel-line": (b"C07 0.5000 in HB\n", "- channel*2 - number*6 - unit*2 - flags*2 end"),
    "framed-line-xor": (
        b"\x02N+0025.400mm\x037B",
        "start flags sign number*8 unit*2 end check*2",
    ),
    "packed-bcd": (
        bytes.fromhex("AA 80 02 54 00 03 D9"),
        "start flags,no_value,sign,unit number*3 point check",
    ),
    "integer-le": (
        bytes.fromhex("A5 5A 00 00 00 00 00 FD A2 30"),
        "start*2 flags,unit number*4 point check*2",
    ),
    "torque-peak-line": (
        b"#0012 PEAK 85.4 N.m CCW\r",
        "-*11 number*4 - unit*3 - flags*3 end",
    ),
    "torque-stream-text": (
        b"+12.34,-045.1,0123\r",
        "sign number*5 - angle*6 - counter*4 end",
    ),
    "torque-stream-block": (
        bytes.fromhex("D24B 01 0100") + bytes.fromhex("E803 6400") * 10 + b"\x00\x00",
        "start*2 flags,unit counter*2" + " number*2 angle*2" * 10 + " check*2",
    ),
}


def drawn(profile: Profile, raw: bytes) -> list[str]:
    """What each byte is for."""
    return [",".join(mark.names) or "-" for mark in marked(profile, raw) for _ in range(*mark[:2])]


def meant(drawing: str) -> list[str]:
    found = []
    for word in drawing.split():
        name, _, count = word.partition("*")
        found += [name] * int(count or 1)
    return found


def test_every_shipped_profile_is_drawn() -> None:
    assert set(SHIPPED) == set(shipped_names())


@pytest.mark.parametrize("name", sorted(SHIPPED))
def test_a_message_of_a_shipped_profile(name: str) -> None:
    raw, drawing = SHIPPED[name]
    assert drawn(load_shipped(name), raw) == meant(drawing)


def made(text: str) -> Profile:
    return parse_profile(text.encode(), "mine", "mine.toml")


LINE = '[frame]\nkind = "terminator"\nterminators = ["\\r"]\n'


@pytest.mark.parametrize(
    ("text", "raw", "drawing"),
    [
        pytest.param(
            LINE + '[decode]\nkind = "text"\nlayout = "{sign?}{number}{close?}{skip}"\n'
            'signs = { "(" = "minus" }\ndecimal_mark = ","\nunit = "mm"\n',
            b"(10,25) xx\r",
            "sign number*5 sign -*3 end",
            id="brackets",
        ),
        pytest.param(
            '[frame]\nkind = "terminator"\nterminators = ["\\r"]\nseven_bits = true\n'
            '[decode]\nkind = "text"\nlayout = "{number}"\nunit = "mm"\n',
            bytes.fromhex("B2 35 AE 35 8D"),
            "number*4 end",
            id="parity-left-in",
        ),
        pytest.param(
            LINE + '[check]\nkind = "xor"\nwritten = "hex"\nat = -3\ncover = [0, -3]\n'
            '[decode]\nkind = "text"\nlayout = "{number}"\nunit = "mm"\n',
            b"25.529\r",
            "number*4 check*2 end",
            id="check-before-the-terminator",
        ),
        pytest.param(
            '[frame]\nkind = "fixed"\nlength = 5\n[decode]\nkind = "bcd"\n'
            'number = { at = 1, bytes = 3, order = "little" }\nsign_nibble = "last"\nplaces = 2\n'
            'unit = "mm"\nchannel = { at = 0, bytes = 1 }\nalways = { 4 = "0A" }\n',
            bytes.fromhex("07 3C 12 00 0A"),
            "channel sign,number number*2 fixed",
            id="sign-in-a-half-byte",
        ),
        pytest.param(
            '[frame]\nkind = "silence"\ngap_seconds = "0.05"\n[decode]\nkind = "float"\n'
            'number = { at = 1, bytes = 4, order = "little" }\nresolution = "0.001"\nunit = "mm"\n'
            'sign = { at = 0, values = { 0x2B = "plus", 0x2D = "minus" } }\n',
            bytes.fromhex("2D 33 33 CB 41 99"),
            "sign number*4 -",
            id="float",
        ),
    ],
)
def test_a_shape_of_ones_own(text: str, raw: bytes, drawing: str) -> None:
    assert drawn(made(text), raw) == meant(drawing)


def test_a_message_of_another_shape_has_its_frame_alone() -> None:
    assert drawn(load_shipped("decimal-line"), b"E 2\r") == ["-", "-", "-", "end"]
    assert drawn(load_shipped("packed-bcd"), b"\xaa\x01") == ["start", "check"]
    assert marked(load_shipped("decimal-line"), b"") == []


def test_a_value_that_describes_itself() -> None:
    from drivers.decoding.gatt import GattDecoding
    from drivers.decoding.marks import Field, fields

    decoding = GattDecoding(0x10, -3, 0x2701)
    assert fields(decoding, b"\x01\x02\x03\x04", 0, 0) == [Field("number", 0, 4)]
    assert fields(decoding, b"\x01", 0, 0) == []


def test_every_name_is_known_to_the_page() -> None:
    from api.labels.catalogue import labels

    assert all(f"history.field.{name}" in labels("en").texts for name in ORDER)
