"""Profiles of every shape a number comes in: what they read, and what is told when they are wrong.

The messages are drawn by hand; the floats' bytes are those IEEE 754 gives (25.4 as a 32-bit float
is 41CB3333, 0.1 as a 64-bit float is 3FB999999999999A).
"""

from __future__ import annotations

import re
import struct
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest

from capture.errors import BenchError, DecodingError
from drivers.profiles.load import SHIPPED, parse_profile
from drivers.profiles.profile import Profile

SILENCE = '[frame]\nkind = "silence"\ngap_seconds = "0.05"\n'


def text(keys: str, frame: str = SILENCE) -> Profile:
    return parse_profile(f'{frame}[decode]\nkind = "text"\n{keys}'.encode(), "t", "t.toml")


def binary(kind: str, keys: str) -> Profile:
    return parse_profile(f'{SILENCE}[decode]\nkind = "{kind}"\n{keys}'.encode(), "b", "b.toml")


def read(profile: Profile, raw: bytes) -> tuple[str, str | None]:
    framer = profile.framing.framer()
    (item,) = [*framer.feed(raw, 0), *framer.drain()]
    assert item == raw
    return profile.decoding.decoder(*profile.framing.edges)(raw)[:2]


def refusal(profile: Profile, raw: bytes) -> str:
    with pytest.raises(DecodingError) as caught:
        profile.decoding.decoder(*profile.framing.edges)(raw)
    assert caught.value.frame == raw
    return caught.value.code


def wrong(body: str) -> list[tuple[int, str, str]]:
    with pytest.raises(BenchError) as caught:
        parse_profile(body.encode(), "w", "w.toml")
    assert all(problem.file == "w.toml" and problem.mend for problem in caught.value.problems)
    return [(p.line, p.key, p.message) for p in caught.value.problems]


# text ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "raw", "value", "unit"),
    [
        ('layout = "{number}{sign} {unit}"', b"025.400- mm", "-25.400", "mm"),
        ('layout = "{sign?} {number}"\nunit = "mm"', b"-   3.10", "-3.10", "mm"),
        ('layout = "{sign}{number}"\nsigns = { P = "plus", N = "minus" }', b"N1.50", "-1.50", None),
        ('layout = "{sign:1}{number}"\nsigns = { " " = "plus", M = "minus" }', b" 1.5", "1.5",
         None),
        ('layout = " {sign?}{number}{close?} "\nsigns = { "(" = "minus" }', b" (1.5)", "-1.5",
         None),
        ('layout = " {sign?}{number}{close?} "\nsigns = { "(" = "minus" }', b" 1.5 ", "1.5", None),
        ('layout = "{number}"\ndecimal_mark = ","', b"10,250", "10.250", None),
        ('layout = "{sign?}{number}"\nexponent = true', b"+1.0250E+01", "10.250", None),
        ('layout = "{sign?}{number}"\nexponent = true', b"-1025E-2", "-10.25", None),
        ('layout = "{sign?}{number}"\nexponent = true', b"-0.10250e+02", "-10.250", None),
        ('layout = "{number}"\nexponent = true', b"12E2", "1200", None),
        ('layout = "{sign?}{number}"\nplaces = 3', b"-025400", "-25.400", None),
        ('layout = "{number}"\nnumber_base = "hex"\nplaces = 3', b"6338", "25.400", None),
        ('layout = "{number}"\nnumber_base = "hex"\nhex_negative = "twos"\nplaces = 1', b"ff9c",
         "-10.0", None),
        ('layout = "{number}"\nnumber_base = "hex"\nhex_negative = "top-bit"\nplaces = 1', b"8064",
         "-10.0", None),
        ('layout = "{sign?}{number}"\nlast_first = true', b"-004.520", "-25.400", None),
        ('layout = "{number}"\nlast_first = true\nplaces = 3', b"004520", "25.400", None),
        ('layout = "{digits:2}:{digits:2} {other} {number} {other}"', b"12:59 -1.50 2.25 +9.75",
         "2.25", None),
        ('layout = "{number}{hex:2}"\nplaces = 2', b"1025F0", "10.25", None),
        ('layout = "{number} {unit:1}"\nunits = { A = "mm", B = "in" }', b"1.5 B", "1.5", "in"),
        ('layout = "{number},{unit}"\nunits = { "04" = "mm", "06" = "in" }', b"1.5,06", "1.5",
         "in"),
        ('layout = " {number} {unit?} "\npadding = "*_"', b"**1.5__", "1.5", None),
        ('layout = "{number:8}"\npadding = "*"', b"***1.5**", "1.5", None),
        ('layout = "V {number}\\r\\nH {other}\\r\\n"', b"V 1.5\r\nH 2.5\r\n", "1.5", None),
    ],
)  # fmt: skip
def test_text_of_any_shape(keys: str, raw: bytes, value: str, unit: str | None) -> None:
    assert read(text(keys), raw) == (value, unit)


def test_what_does_not_fit_the_shape_is_refused() -> None:
    bracket = text('layout = "{sign?}{number}{close?}"\nsigns = { "(" = "minus" }')
    power = text('layout = "{number}"\nexponent = true')

    assert refusal(bracket, b"(1.5") == "layout"
    assert refusal(bracket, b"1.5)") == "layout"
    assert refusal(power, b"1E31") == "exponent"
    assert refusal(power, b"1E" + b"9" * 200) == "exponent"
    assert refusal(text('layout = "{number}"\nnumber_base = "hex"'), b"1" * 17) == "exponent"
    assert refusal(text('layout = "{number} {digits:4}"'), b"1.5 12a4") == "layout"


@pytest.mark.parametrize(
    "layout",
    ["{other} {other} {sign?}{number} {unit?}", "{skip}{other} {digits} {hex} {number} {unit?}"],
)
@pytest.mark.timeout(5)
def test_noise_of_digits_is_refused_at_once(layout: str) -> None:
    # trying every way of sharing the digits among the fields would take minutes
    assert refusal(text(f'layout = "{layout}"'), b"1" * 256 + b"$") == "layout"


def test_a_sign_between_two_numbers_belongs_to_the_second() -> None:
    assert read(text('layout = "{other}{sign?}{number}"'), b"+1.25-3.50") == ("-3.50", None)


def test_places_follow_the_unit() -> None:
    profile = text(
        'layout = "{sign}{number}{unit}"\nunits = { M = "mm", I = "in" }\n'
        "by_unit = { mm = { places = 2 }, in = { places = 4 } }"
    )

    assert read(profile, b"+002540M") == ("25.40", "mm")
    assert read(profile, b"-010000I") == ("-1.0000", "in")


@pytest.mark.parametrize("parity", ["even", "odd", "mark"])
def test_parity_bit_left_in_the_byte(parity: str) -> None:
    profile = text(
        'layout = "{sign}{number}{unit}"',
        '[frame]\nkind = "terminator"\nterminators = ["\\r", "\\n"]\nseven_bits = true\n',
    )

    def with_parity(line: bytes) -> bytes:
        tops = {"even": 0, "odd": 1, "mark": 2}
        kind = tops[parity]
        return bytes(
            b | 0x80 if kind == 2 else b | ((bin(b).count("1") + kind) % 2) << 7 for b in line
        )

    lines = [with_parity(b"+25.400mm\r\n"), with_parity(b"-0.010mm\r\n")]
    framer = profile.framing.framer()
    found = [item for b in b"".join(lines) for item in framer.feed(bytes([b]), 0)]
    decode = profile.decoding.decoder(*profile.framing.edges)

    assert found == [line[:-1] for line in lines]
    assert [decode(item)[0] for item in found if isinstance(item, bytes)] == ["25.400", "-0.010"]
    assert framer.drain() == []


def test_an_echoed_request_belongs_to_the_message() -> None:
    profile = text(
        'layout = "{sign}{number}"',
        '[frame]\nkind = "start-stop"\nstart = "?\\r"\nstop = "\\r"\n',
    )

    assert read(profile, b"?\r+1.50\r") == ("1.50", None)


def test_the_check_before_what_ends_a_silent_message_is_no_part_of_the_body() -> None:
    frame = SILENCE + '[check]\nkind = "sum"\nmask = 0x7F\nat = -3\ncover = [1, -3]\n'
    profile = text('layout = "${number}"', frame)
    body = b"12.5"
    raw = b"$" + body + bytes([sum(body) & 0x7F]) + b"\r\n"

    assert read(profile, raw) == ("12.5", None)


# binary -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "keys", "raw", "value"),
    [
        ("integer", 'number = { at = 0, bytes = 3, signed = true }\nplaces = 3', "FF9CC8",
         "-25.400"),
        ("integer", 'number = { at = 0, bytes = 3, order = "little", signed = true }\nplaces = 3',
         "C89CFF", "-25.400"),
        ("integer", "number = { at = 0, bytes = 3 }\nnegative = { at = 0, bit = 7 }\nplaces = 3",
         "806338", "-25.400"),
        ("integer", "number = { at = 1, bytes = 2 }\nplaces = { at = 3, max = 6 }\n"
         'sign = { at = 0, values = { 0x2B = "plus", 0x2D = "minus" } }', "2D633803", "-25.400"),
        ("bcd", 'number = { at = 0, bytes = 6, order = "little", digits_per_byte = 1 }\nplaces = 3',
         "303034353230", "25.400"),
        ("bcd", 'number = { at = 0, bytes = 3 }\nsign_nibble = "last"\nplaces = 3', "25400D",
         "-25.400"),
        ("bcd", 'number = { at = 0, bytes = 3 }\nsign_nibble = "first"\nplaces = 3', "F25400",
         "-25.400"),
        ("bcd", "number = { at = 0, bytes = 2 }\nexponent = { at = 2 }", "2540FE", "25.40"),
        ("float", 'number = { at = 0, bytes = 4 }\nresolution = "0.001"', "41CB3333", "25.400"),
        ("float", 'number = { at = 0, bytes = 4, order = "little" }\nresolution = "0.01"',
         "3333CBC1", "-25.40"),
        ("float", 'number = { at = 0, bytes = 8 }\nresolution = "0.0005"', "3FB999999999999A",
         "0.1000"),
        ("float", 'number = { at = 0, bytes = 8 }\nresolution = "0.01"', "BF50624DD2F1A9FC",
         "0.00"),
    ],
)  # fmt: skip
def test_binary_of_any_shape(kind: str, keys: str, raw: str, value: str) -> None:
    assert read(binary(kind, keys), bytes.fromhex(raw))[0] == value


def test_counts_to_the_inch_are_rounded_once_to_the_stated_resolution() -> None:
    number = "number = { at = 0, bytes = 3, signed = true }\n"
    in_mm = binary("integer", number + 'scale = "25.4/20480"\nresolution = "0.01"\nunit = "mm"')
    inches = binary("integer", number + 'counts_per_unit = "20480"\nunit = "in"')

    for count in (0, 1, 4, 5, 20480, -20480, 8_000_000, -3, 4032):
        raw = count.to_bytes(3, "big", signed=True)
        exact = Decimal(count) * Decimal("25.4") / Decimal(20480)
        shown = exact.quantize(Decimal("0.01"), ROUND_HALF_UP)
        assert read(in_mm, raw) == (format(shown if shown else abs(shown), "f"), "mm")
        assert Decimal(read(inches, raw)[0]) == Decimal(count) / 20480
    assert read(inches, (5120).to_bytes(3, "big")) == ("0.250000000000", "in")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_float_that_is_no_number_is_no_value(value: float) -> None:
    profile = binary("float", 'number = { at = 0, bytes = 8 }\nresolution = "0.01"')

    assert refusal(profile, struct.pack(">d", value)) == "not-known"
    assert refusal(profile, struct.pack(">d", 1e300)) == "exponent"


def test_bytes_that_stand_for_no_sign_or_digit_are_refused() -> None:
    sign = binary(
        "integer",
        'number = { at = 1, bytes = 1 }\nsign = { at = 0, values = { 0 = "plus", 1 = "minus" } }',
    )
    ones = binary("bcd", "number = { at = 0, bytes = 3, digits_per_byte = 1 }")

    assert read(sign, b"\x01\x05")[0] == "-5"
    assert refusal(sign, b"\x02\x05") == "layout"
    assert refusal(ones, b"\x31\x02\x33") == "not-a-digit"
    assert refusal(ones, b"\x31\x3a\x33") == "not-a-digit"


# what is wrong with a profile ---------------------------------------------------------------------

INTEGER = SILENCE + '[decode]\nkind = "integer"\nnumber = { at = 0, bytes = 2, signed = true }\n'
FLOAT = SILENCE + '[decode]\nkind = "float"\n'
TEXT = SILENCE + '[decode]\nkind = "text"\nlayout = "{number}"\n'


@pytest.mark.parametrize(
    ("body", "line", "key"),
    [
        (INTEGER + 'scale = "25.4/12288"', 7, "decode.scale"),
        (INTEGER + 'counts_per_unit = "3"', 7, "decode.counts_per_unit"),
        (INTEGER + 'scale = "1/0"', 7, "decode.scale"),
        (INTEGER + 'scale = "one/two"', 7, "decode.scale"),
        (INTEGER + 'scale = "1E-400"', 7, "decode.scale"),
        (INTEGER + 'places = 2\nscale = "0.5"', 8, "decode.scale"),
        (INTEGER + 'resolution = "-1"', 7, "decode.resolution"),
        (INTEGER + "negative = { at = 0, bit = 7 }", 7, "decode.negative"),
        (INTEGER + 'by_unit = { parsec = { places = 1 } }', 7, "decode.by_unit.parsec"),
        (INTEGER + 'by_unit = { mm = { plaices = 1 } }', 7, "decode.by_unit.mm.plaices"),
        (INTEGER + 'unit = "parsec"', 7, "decode.unit"),
        (FLOAT + "number = { at = 0, bytes = 4 }", 4, "decode.resolution"),
        (FLOAT + 'number = { at = 0, bytes = 3 }\nresolution = "1"', 6, "decode.number"),
        (TEXT + 'hex_negative = "twos"', 7, "decode.hex_negative"),
        (TEXT + 'number_base = "hex"\nexponent = true', 8, "decode.exponent"),
        (TEXT + "last_first = true\nexponent = true", 8, "decode.exponent"),
        (TEXT + 'signs = { N = "less" }', 7, "decode.signs"),
        ('[frame]\nkind = "start-stop"\nstart = "?\\r!"\nstop = "\\r"\n[decode]\nkind = "text"\n'
         'layout = "{number}"', 4, "frame.stop"),
        (INTEGER.replace("[decode]", "seven_bits = true\n[decode]"), 4, "frame.seven_bits"),
    ],
)  # fmt: skip
def test_one_mistake_one_problem_with_its_line(body: str, line: int, key: str) -> None:
    assert [(where, what) for where, what, _ in wrong(body)] == [(line, key)]


def test_floats_need_a_resolution_for_every_unit() -> None:
    body = FLOAT + (
        "number = { at = 0, bytes = 4 }\n"
        'unit = { at = 4, values = { 0 = "mm", 1 = "in" } }\n'
        'by_unit = { mm = { resolution = "0.01" } }'
    )

    ((line, key, message),) = wrong(body)
    assert (line, key) == (8, "decode.by_unit")
    assert "in" in message
    whole = body.replace('"0.01" }', '"0.01" }, in = { resolution = "0.0005" }')
    profile = parse_profile(whole.encode(), "f", "f.toml")
    assert read(profile, struct.pack(">f", 1.00049) + b"\1") == ("1.0005", "in")
    assert read(profile, struct.pack(">f", 1.006) + b"\0") == ("1.01", "mm")


# the page -----------------------------------------------------------------------------------------

PAGE = (SHIPPED / "FORMAT.md").read_text("utf-8")


def test_the_page_has_every_key() -> None:
    source = "".join(
        path.read_text("utf-8") for path in Path(SHIPPED).glob("*_table.py")
    ) + (SHIPPED / "load.py").read_text("utf-8")  # fmt: skip
    keys = set(
        re.findall(
            r"(?:text|flag|integer|choice|decimal|texts|items|table|raw|wire_bytes|wire_bytes_list"
            r"|_ratio|_bit|_span|_written)\((?:table, |inner, |root, )?\"([a-z_]+)\"",
            source,
        )
    )

    assert len(keys) > 40
    missing = {key for key in keys if not re.search(rf"\b{key}\b", PAGE)}
    assert missing - {"characteristic"} == set()


def test_the_examples_on_the_page_are_sound() -> None:
    whole, text_part, binary_part, stream = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    for example in (whole, SILENCE + stream, SILENCE + text_part, binary_part):
        parse_profile(example.encode(), "e", "e.toml")
    profile = parse_profile((SILENCE + text_part).encode(), "e", "e.toml")

    assert read(profile, b"#0012 (10,25)A*** 03,99 17,20") == ("-10.25", "mm")
