"""What messages mean."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.errors import DecodingError
from drivers.decoding.bcd import BcdDecoding
from drivers.decoding.binary import Bit, Choice, Span, Surroundings
from drivers.decoding.digits import placed, plain
from drivers.decoding.integer import IntegerDecoding
from drivers.decoding.layout import LayoutError
from drivers.decoding.message import Decode
from drivers.decoding.text import TextDecoding

LINE = TextDecoding(" {sign?} {number} {unit?} ").decoder(0, 1)


def refusal(decode: Decode, raw: bytes) -> str:
    """The code of the error the message gives."""
    with pytest.raises(DecodingError) as caught:
        decode(raw)
    assert caught.value.frame == raw
    return caught.value.code


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("25.400", "25.400"),
        ("0025.400", "25.400"),
        ("000", "0"),
        ("0.000", "0.000"),
        (".5", "0.5"),
        ("25.", "25"),
        ("0.", "0"),
        ("00.10", "0.10"),
        ("100", "100"),
    ],
)
def test_leading_zeros_go_and_trailing_zeros_stay(sent: str, kept: str) -> None:
    assert plain(False, sent) == kept
    assert plain(True, sent) == "-" + kept
    assert Decimal(kept) == Decimal(sent)


@pytest.mark.parametrize(
    ("digits", "places", "kept"),
    [("025400", 3, "25.400"), ("5", 3, "0.005"), ("000", 3, "0.000"), ("12", 0, "12"),
     ("12", -1, "120"), ("000000", 6, "0.000000")],
)  # fmt: skip
def test_the_point_is_put_where_the_message_says(digits: str, places: int, kept: str) -> None:
    assert placed(False, digits, places) == kept


@pytest.mark.parametrize(
    ("raw", "digits", "unit"),
    [
        (b"+25.400 mm\r", "25.400", "mm"),
        (b"  -0.012\n", "-0.012", None),
        (b"- 1.5in\r", "-1.5", "in"),
        (b"\t3 MM \r", "3", "mm"),
        (b"+85.4 N.m\r", "85.4", "N·m"),
        (b"45.0 \xb0\r", "45.0", "°"),
        (b"7 furlong\r", "7", "furlong"),
        (b"-0.000 mm\r", "-0.000", "mm"),
    ],
)
def test_decimal_lines(raw: bytes, digits: str, unit: str | None) -> None:
    assert LINE(raw) == (digits, unit, (), None)


@pytest.mark.parametrize(
    "raw",
    [b"\r", b"mm\r", b"1.2.3 mm\r", b"--1\r", b"1 2\r", b"\xff25.4\r", b"1e5\xff\x01\r", b"+\r",
     b"25.4 mm mm\r", b"NaN\r", b"\xb2\r"],
)  # fmt: skip
def test_what_is_no_decimal_line_is_refused(raw: bytes) -> None:
    assert refusal(LINE, raw) == "layout"


def test_fields_of_a_stated_width_may_be_padded_but_not_overrun() -> None:
    decode = TextDecoding("{number:8}{unit:4}", units={"mm": "mm", "in": "in"}).decoder(0, 0)

    assert decode(b"  25.400  mm")[:2] == ("25.400", "mm")
    assert decode(b"25.40000in  ")[:2] == ("25.40000", "in")
    assert refusal(decode, b"25.400  5 mm") == "layout"
    assert refusal(decode, b" 25.400mm   ") == "layout"
    assert refusal(decode, b"        mm  ") == "layout"


def test_decimal_comma_and_a_point_that_is_not_sent() -> None:
    assert TextDecoding("{number}", decimal_mark=",").decoder(0, 0)(b"025,40")[0] == "25.40"
    assert TextDecoding("{sign}{number}", places=3).decoder(0, 0)(b"-025400")[0] == "-25.400"


def test_flags_channel_skip_and_head_and_tail() -> None:
    decode = TextDecoding(
        "{channel:2};{skip}; {number}[{flags?}]",
        flags={"H": "hold", "B": "low-battery", "N": "", "HB": "both"},
    ).decoder(1, 2)

    assert decode(b"\x0207;12:30; 1.5[B, N H]\x03x") == ("1.5", None, ("low-battery", "hold"), "7")
    assert decode(b"\x02A1;;1[]\x03x") == ("1", None, (), "A1")
    assert decode(b"\x0200;;1[HB]\x03x")[2:] == (("both",), "0")
    assert refusal(decode, b"\x0207;12:30; 1.5[X]\x03x") == "layout"


def test_a_message_without_a_value_says_why() -> None:
    decode = TextDecoding("{number}", not_known={"------": "over range"}).decoder(0, 1)

    assert refusal(decode, b" ------\r") == "not-known"
    with pytest.raises(DecodingError, match="over range"):
        decode(b"------\r")


def test_words_are_read_in_the_profiles_encoding() -> None:
    utf8 = TextDecoding("{number}{unit}", encoding="utf-8").decoder(0, 0)
    cp437 = TextDecoding("{number}{unit}", units={"µm": "µm"}, encoding="cp437").decoder(0, 0)

    assert utf8("5µm".encode())[1] == "µm"
    assert utf8(b"5\xff")[1] == "\\xff"
    assert cp437(b"5\xe6m")[1] == "µm"


def test_noise_words_do_not_fill_the_memory() -> None:
    seen = {LINE(b"1 q%d\r" % i)[1] for i in range(2000)}

    assert len(seen) == 2000
    assert LINE(b"1 q7\r")[1] == "q7"


@pytest.mark.parametrize(
    ("layout", "said"),
    [
        ("{sign}", "no {number}"),
        ("{number}{number}", "stands twice"),
        ("{number}{size}", "{size} is no field"),
        ("{number", "a single '{'"),
        ("{number}}", "a single '}'"),
        ("{number?}", "cannot be missing"),
        ("{number:0}", "0 bytes wide"),
        ("{number}{flags}", "needs a table"),
        ("{number}€", "more than one byte"),
    ],
)
def test_a_layout_that_cannot_be_read_says_why(layout: str, said: str) -> None:
    with pytest.raises(LayoutError) as caught:
        TextDecoding(layout).compiled()
    assert said in str(caught.value)


BCD = BcdDecoding(
    Span(1, 2), 5, places_at=3, places_max=4, negative=Bit(0, 7), not_known=Bit(0, 6),
    not_known_says="no value",
    surroundings=Surroundings(Choice(4, {0: "mm", 1: "in"}, 0x0F), ((Bit(4, 7), "hold"),)),
)  # fmt: skip


def test_packed_digits() -> None:
    decode = BCD.decoder(0, 0)

    assert decode(bytes.fromhex("00 2540 02 00")) == ("25.40", "mm", (), None)
    assert decode(bytes.fromhex("80 0005 03 81")) == ("-0.005", "in", ("hold",), None)
    assert refusal(decode, bytes.fromhex("00 25A0 02 00")) == "not-a-digit"
    assert refusal(decode, bytes.fromhex("00 2540 05 00")) == "exponent"
    assert refusal(decode, bytes.fromhex("00 2540 02 02")) == "unit"
    assert refusal(decode, bytes.fromhex("40 2540 02 00")) == "not-known"
    assert refusal(decode, bytes.fromhex("00 2540 02")) == "layout"


def test_packed_digits_the_other_way_round_and_with_a_sign_nibble() -> None:
    little = BcdDecoding(Span(0, 3, "little"), 3, places=3).decoder(0, 0)
    signed = BcdDecoding(Span(0, 2), 2, places=1, sign_nibble=True).decoder(0, 0)

    assert little(bytes.fromhex("00 54 02"))[0] == "25.400"
    assert signed(bytes.fromhex("12 3D"))[0] == "-12.3"
    assert signed(bytes.fromhex("12 3C"))[0] == "12.3"
    assert refusal(signed, bytes.fromhex("12 34")) == "not-a-digit"


def test_integers() -> None:
    little = IntegerDecoding(Span(0, 4, "little", True), 4, places=3).decoder(0, 0)
    big = IntegerDecoding(Span(0, 2, "big", True), 3, exponent=Span(2, 1, signed=True)).decoder(
        0, 0
    )

    assert little((25400).to_bytes(4, "little"))[0] == "25.400"
    assert little((-25400).to_bytes(4, "little", signed=True))[0] == "-25.400"
    assert big(b"\x00\x0c\xff")[0] == "1.2"
    assert big(b"\xff\xf4\x02")[0] == "-1200"
    assert refusal(big, b"\x00\x0c\x7f") == "exponent"
    assert refusal(big, b"\x00\x0c") == "layout"


def test_integer_with_a_scale_that_is_no_power_of_ten() -> None:
    half_thou = IntegerDecoding(Span(0, 2, "big", True), 2, scale=Decimal("0.0005")).decoder(0, 0)

    assert half_thou(b"\x00\x03")[0] == "0.0015"
    assert half_thou(b"\xff\xfe")[0] == "-0.0010"


@pytest.mark.parametrize("order", ["big", "little"])
def test_sign_and_magnitude(order: str) -> None:
    at = 0 if order == "big" else 1
    decode = IntegerDecoding(
        Span(0, 2, "big" if order == "big" else "little"), 2, places=2, negative=Bit(at, 7)
    ).decoder(0, 0)
    raw = b"\x80\x7b" if order == "big" else b"\x7b\x80"

    assert decode(raw)[0] == "-1.23"


def test_integer_that_stands_for_no_value() -> None:
    special = IntegerDecoding(Span(0, 1), 1, not_known=((255, "over range"),)).decoder(0, 0)
    by_bit = IntegerDecoding(
        Span(1, 1), 2, not_known_bit=Bit(0, 0), not_known_says="no value"
    ).decoder(0, 0)

    assert refusal(special, b"\xff") == "not-known"
    assert special(b"\xfe")[0] == "254"
    assert refusal(by_bit, b"\x01\x05") == "not-known"
