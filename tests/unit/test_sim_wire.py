"""The wire formats of simulators/wire.py: worked examples, byte by byte.

The layouts are this project's own inventions, so the examples are worked by hand from the drawings
at the head of each profile file; the CRC has a published check value.
"""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.wire import (
    ChannelLine,
    DecimalLine,
    FramedLineXor,
    IntegerLe,
    NotOnThisWire,
    PackedBcd,
    TorquePeakLine,
    Wire,
    crc16,
    wire_for,
)


@pytest.mark.parametrize(
    ("value", "unit", "expected"),
    [
        ("25.400", "mm", "2B 32 35 2E 34 30 30 20 6D 6D 0D 0A"),
        ("-0.012", "mm", "2D 30 2E 30 31 32 20 6D 6D 0D 0A"),
        ("0.000", "in", "2B 30 2E 30 30 30 20 69 6E 0D 0A"),
    ],
)
def test_decimal_line(value: str, unit: str, expected: str) -> None:
    assert DecimalLine().message(Decimal(value), unit) == bytes.fromhex(expected)


def test_decimal_line_without_its_unit() -> None:
    assert wire_for("decimal-line", with_unit=False).message(Decimal("3.3860"), "in") == (
        b"+3.3860\r\n"
    )


def test_channel_line() -> None:
    assert ChannelLine("3").message(Decimal("12.345"), "mm") == b"C03 +12.345 mm\r\n"
    assert ChannelLine("11").message(Decimal("-0.002"), "N·m") == b"C11 -0.002 N.m\r\n"


def test_framed_line_xor() -> None:
    # N^+^0^0^2^5^.^4^0^0^m^m^ETX: 4E^2B=65, ^30^30=65, ^32=57, ^35=62, ^2E=4C, ^34=78,
    # ^30^30=78, ^6D^6D=78, ^03=7B.
    assert FramedLineXor().message(Decimal("25.400"), "mm") == b"\x02N+0025.400mm\x037B"


def test_packed_bcd() -> None:
    # 80+02+54+00+03 = D9 (hexadecimal).
    assert PackedBcd().message(Decimal("-25.400"), "mm") == bytes.fromhex("AA 80 02 54 00 03 D9")
    assert PackedBcd().message(Decimal("3.3860"), "in") == bytes.fromhex("AA 01 03 38 60 04 A0")


def test_integer_le() -> None:
    # 25400 = 6338 hexadecimal; exponent -3 = FD.
    got = IntegerLe().message(Decimal("25.400"), "mm")
    assert got[:8] == bytes.fromhex("A5 5A 00 38 63 00 00 FD")
    assert int.from_bytes(got[8:], "little") == crc16(bytes.fromhex("00 38 63 00 00 FD"))
    below = IntegerLe().message(Decimal("-0.002"), "µm")
    assert below[2:8] == bytes.fromhex("02 FE FF FF FF FD")


def test_crc_check_value() -> None:
    # Published: CRC-16/IBM-3740 (poly 1021, init FFFF) of "123456789" is 29B1, in the catalogue of
    # parametrised CRC algorithms (reveng.sourceforge.io); from memory.
    assert crc16(b"123456789") == 0x29B1


def test_torque_peak_line_counts() -> None:
    adapter = TorquePeakLine()
    assert adapter.message(Decimal("85.4"), "N·m") == b"#0001 PEAK 85.4 N.m CW\r\n"
    assert adapter.message(Decimal("-12.70"), "lbf·ft") == b"#0002 PEAK 12.70 lbf.ft CCW\r\n"
    for _ in range(9997):
        adapter.message(Decimal("1.0"), "N·m")
    assert adapter.message(Decimal("1.0"), "N·m").startswith(b"#0001 ")


@pytest.mark.parametrize(
    ("wire", "value", "unit", "says"),
    [
        (FramedLineXor(), "12345.6789", "mm", "more than 8 characters"),
        (FramedLineXor(), "1.0", "N·m", "no word for 'N·m', only for mm, in"),
        (PackedBcd(), "1234.567", "mm", "more than 6 digits"),
        (IntegerLe(), "2147483648", "mm", "does not fit 32 bits"),
        (DecimalLine(), "NaN", "mm", "not a number"),
        (DecimalLine(), "1.0", "N·m", "cannot write 'N·m'"),
    ],
)
def test_what_has_no_room_is_named(wire: Wire, value: str, unit: str, says: str) -> None:
    with pytest.raises(NotOnThisWire, match=says):
        wire.message(Decimal(value), unit)


def test_unknown_profiles_and_channels_are_named() -> None:
    with pytest.raises(
        NotOnThisWire, match=r"No simulated gauge writes 'morse', only .*packed-bcd"
    ):
        wire_for("morse")
    with pytest.raises(NotOnThisWire, match="needs a channel"):
        wire_for("channel-line")
    with pytest.raises(NotOnThisWire, match="from 0 to 99"):
        wire_for("channel-line", "100")


@given(st.integers(0, 10_000))
def test_noise_holds_nothing_that_starts_or_ends_a_message(lot: int) -> None:
    drawn = random.Random(lot)
    for line in (DecimalLine(), ChannelLine("1"), TorquePeakLine()):
        noise = line.noise(drawn)
        assert noise.endswith(b"\r\n")
        assert not set(noise[:-2]) & set(b"\r\n0123456789")
    assert b"\xaa" not in PackedBcd().noise(drawn)
    assert b"\xa5" not in IntegerLe().noise(drawn)
    assert not set(FramedLineXor().noise(drawn)) & {2, 3}


@given(st.decimals(-999, 999, places=3))
def test_digits_go_out_as_displayed(value: Decimal) -> None:
    shown = format(abs(value), "f").encode()
    assert shown in DecimalLine().message(value, "mm")
    bcd = PackedBcd().message(value, "mm")
    assert int(bcd[2:5].hex()) == abs(int(value * 1000))
    assert int.from_bytes(IntegerLe().message(value, "mm")[3:7], "little", signed=True) == (
        value * 1000
    )
