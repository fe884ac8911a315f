"""The invented formats: checks against Python's own, presses as said, values to be found again.

The decoders here are written apart from the generator, from what each shape is said to be.
"""

from __future__ import annotations

import binascii
import re
import struct
import zlib
from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from functools import cache

import pytest

from simulators.formats import Format, Press, ambiguous, corpus
from simulators.formats.checks import CHECKS
from simulators.formats.gauge import GAUGES

NINE = b"123456789"


@cache
def formats(word: str = "unit tests") -> tuple[Format, ...]:
    return tuple(corpus(word))


def shaped(shape: str) -> list[Format]:
    found = [made for made in formats() if made.shape == shape]
    assert found, shape
    return found


# ── checks ───────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("name", "value"),
    [
        # The usual check values over "123456789" (from memory).
        ("crc-8", 0xF4),
        ("crc-8, reflected 0x31", 0xA1),
        ("crc-16, 0x1021 from 0", 0x31C3),
        ("crc-16, 0x1021 from 0xFFFF", 0x29B1),
        ("crc-16, reflected 0x8005 from 0", 0xBB3D),
        ("crc-16, reflected 0x8005 from 0xFFFF", 0x4B37),
        ("crc-32", 0xCBF43926),
        # 0x31 + … + 0x39 = 477 = 0x1DD; exclusive or 0x31, by hand.
        ("sum", 0xDD),
        ("sum, complement", 0x22),
        ("sum, negative", 0x23),
        ("sum, 7 bits", 0x5D),
        ("sum, 16 bits", 0x1DD),
        ("xor", 0x31),
        ("xor, complement", 0xCE),
    ],
)
def test_check_values(name: str, value: int) -> None:
    assert CHECKS[name][1](NINE) == value


def test_every_check_has_a_value_here() -> None:
    assert len(CHECKS) == 14


def test_crcs_of_pythons_own() -> None:
    for made in formats():
        for press in made.presses:
            raw = press.raw
            assert CHECKS["crc-32"][1](raw) == zlib.crc32(raw)
            assert CHECKS["crc-16, 0x1021 from 0"][1](raw) == binascii.crc_hqx(raw, 0)
            assert CHECKS["crc-16, 0x1021 from 0xFFFF"][1](raw) == binascii.crc_hqx(raw, 0xFFFF)


def test_crc_32_stands_in_the_message() -> None:
    found = 0
    for made in formats():
        check = made.layout.check
        if check is None or check.name != "crc-32" or made.layout.parity:
            continue
        for press in made.presses:
            assert any(
                _written(zlib.crc32(press.raw[first:last])) & _heads(press.raw[last:])
                for first in range(len(press.raw))
                for last in range(first + 1, len(press.raw))
            ), made.description
        found += 1
    assert found >= 1


def _written(number: int) -> set[bytes]:
    raw = number.to_bytes(4, "big")
    return {raw, raw[::-1], raw.hex().encode(), raw.hex().upper().encode()}


def _heads(raw: bytes) -> set[bytes]:
    return {raw[:4], raw[:8]}


# ── the corpus ───────────────────────────────────────────────────────────────────────────────────


def test_as_many_as_asked_for_and_all_different() -> None:
    made = formats()
    assert len(made) >= 240
    assert len({one.name for one in made}) == len(made)
    assert len({one.description.partition(": ")[2] for one in made}) > 0.97 * len(made)


def test_the_same_word_the_same_corpus() -> None:
    again = tuple(corpus("unit tests"))
    assert [one.presses for one in again] == [one.presses for one in formats()]
    assert [one.further for one in again] == [one.further for one in formats()]
    other = tuple(corpus("another word"))
    assert all(one.presses != two.presses for one, two in zip(other, again, strict=True))


def test_a_part_of_the_corpus_is_the_same_formats() -> None:
    whole = {one.name: one for one in formats()}
    part = list(corpus("unit tests", 0.1))
    assert 30 <= len(part) <= 50
    assert all(whole[one.name].presses == one.presses for one in part)
    assert {one.shape for one in part} == {one.shape for one in formats()}


def test_every_gauge_is_used() -> None:
    assert {made.gauge.kind for made in formats()} == {gauge.kind for gauge in GAUGES}


def test_the_presses_a_person_is_asked_for() -> None:
    for made in formats():
        assert 5 <= len(made.presses) <= 7
        assert len(made.further) == 50
        sizes = [Fraction(press.at.split()[0]) for press in made.presses]
        assert 0 in sizes
        assert sum(size < 0 for size in sizes) == 1
        assert len(set(sizes)) >= 4
        switched = [press for press in made.presses if press.switched]
        assert len(switched) == (made.gauge.second is not None)
        for press in made.presses:
            assert ("unit" in press.line()) == press.switched
            assert bytes.fromhex(press.line()["hex"]) == press.raw


def test_displays_are_at_most_a_step_from_what_is_known() -> None:
    off = set()
    for made in formats():
        scales = {scale.unit: scale for scale in made.gauge.scales}
        for press in made.presses:
            size, unit = press.at.split(" ")
            scale = scales[press.unit]
            assert unit == made.gauge.first.unit
            step = Fraction(scale.step)
            away = Fraction(press.value) - Fraction(size) / scale.size
            # Half a step more where the size itself falls between two steps.
            assert abs(away) <= step * Fraction(3, 2)
            off.add(round(away / step))
    assert off >= {-1, 0, 1}


def test_further_presses_reach_all_over_the_range() -> None:
    for made in formats():
        values = [Fraction(press.value) for press in made.further]
        assert min(values) < 0 < max(values)
        assert all(made.right(press, press.value, press.unit) for press in made.further)


def test_what_is_right() -> None:
    made = next(one for one in shaped("sign leading") if one.gauge.second is not None)
    press = made.further[0]
    assert made.right(press, press.value + "0", press.unit)
    step = next(scale.step for scale in made.gauge.scales if scale.unit == press.unit)
    assert not made.right(press, str(Decimal(press.value) + step), press.unit)
    assert not made.right(press, str(-Decimal(press.value)), press.unit)
    other = next(scale.unit for scale in made.gauge.scales if scale.unit != press.unit)
    assert not made.right(press, press.value, other)
    assert not made.right(press, press.value, None)
    assert not made.right(press, "nan", press.unit)


# ── values found again by other means ────────────────────────────────────────────────────────────


@pytest.mark.parametrize(
    ("shape", "pattern"),
    [
        ("sign leading", r"(?P<sign>[+-]?)(?P<number>\d+\.\d+)"),
        ("sign trailing", r"(?P<number>\d+\.\d+)(?P<sign>-?)"),
        ("sign spaced", r"(?P<sign>[+-]?) *(?P<number>\d+\.\d+)"),
        ("decimal comma", r"(?P<sign>-?)(?P<number>\d+,\d+)(?P<behind>-?)"),
        ("unit word", r"(?P<sign>[+-]?)(?P<number>\d+\.\d+)"),
        ("echoed request", r"(?P<sign>[+-]?)(?P<number>\d+\.\d+)(?P<behind>-?)"),
    ],
)
def test_text_says_the_display(shape: str, pattern: str) -> None:
    for made in shaped(shape):
        if "implied" in str(made.layout):
            continue
        for press in (*made.presses, *made.further):
            found = re.search(pattern, press.raw.decode("latin-1"))
            assert found is not None, made.description
            parts = found.groupdict()
            number = Decimal(parts["number"].replace(",", "."))
            if "-" in (parts["sign"], parts.get("behind")):
                number = -number
            assert number == Decimal(press.value), made.description


def test_exponents_say_the_display() -> None:
    for made in shaped("exponent"):
        for press in (*made.presses, *made.further):
            found = re.search(rb"[+-][\d.]+E[+-]\d+", press.raw)
            assert found is not None
            assert Decimal(found[0].decode()) == Decimal(press.value)


def test_last_first_turned_round_says_the_display() -> None:
    for made in shaped("digits last-first"):
        for press in (*made.presses, *made.further):
            runs = re.findall(r"[\d.]{4,}", press.raw.decode("latin-1"))
            wanted = Decimal(press.value).copy_abs()
            places = len(press.value.partition(".")[2])
            said = [Decimal(run[::-1]).scaleb(0 if "." in run else -places) for run in runs]
            assert wanted in said, made.description


def _steps(press: Press) -> int:
    return int(press.value.replace(".", ""))


def _windows(made: Format, width: int) -> Iterator[tuple[int, list[bytes]]]:
    presses = (*made.presses, *made.further)
    shortest = min(len(press.raw) for press in presses)
    for at in range(shortest - width + 1):
        yield at, [press.raw[at : at + width] for press in presses]


def _readings(made: Format) -> Iterator[list[int]]:
    for width in (2, 3, 4):
        for _, windows in _windows(made, width):
            for order in ("big", "little"):
                yield [int.from_bytes(raw, order, signed=True) for raw in windows]


@pytest.mark.parametrize("shape", ["integer", "integer of 24 bits", "binary beside max and min"])
def test_integers_stand_in_the_message(shape: str) -> None:
    for made in shaped(shape):
        wanted = [_steps(press) for press in (*made.presses, *made.further)]
        assert wanted in list(_readings(made)), made.description


def test_sign_and_magnitude() -> None:
    for made in shaped("sign and magnitude"):
        presses = (*made.presses, *made.further)
        wanted = [abs(_steps(press)) for press in presses]
        read = [
            [abs(one) if plain else one & (1 << 8 * width - 1) - 1 for one in numbers]
            for width in (2, 3, 4)
            for numbers in _unsigned(made, width)
            for plain in (True, False)
        ]
        assert wanted in read, made.description
        negative = [press.raw for press in presses if press.value.startswith("-")]
        bits = _bits_alike(negative, 1)
        others = [press.raw for press in presses if not press.value.startswith("-")]
        assert bits & _bits_alike(others, 0), made.description


def _unsigned(made: Format, width: int) -> Iterator[list[int]]:
    for _, windows in _windows(made, width):
        yield [int.from_bytes(raw, "big") for raw in windows]
        yield [int.from_bytes(raw, "little") for raw in windows]


def _bits_alike(messages: list[bytes], value: int) -> set[tuple[int, int]]:
    length = min(map(len, messages))
    return {
        (at, bit)
        for at in range(length)
        for bit in range(8)
        if all(raw[at] >> bit & 1 == value for raw in messages)
    }


@pytest.mark.parametrize(("shape", "size"), [("float of 32 bits", "f"), ("float of 64 bits", "d")])
def test_floats_stand_in_the_message(shape: str, size: str) -> None:
    for made in shaped(shape):
        width = struct.calcsize(size)
        presses = (*made.presses, *made.further)
        assert any(
            all(
                made.right(press, _plain(struct.unpack(order + size, raw)[0]), press.unit)
                for press, raw in zip(presses, windows, strict=True)
            )
            for _, windows in _windows(made, width)
            for order in "<>"
        ), made.description


def _plain(number: float) -> str:
    return format(Decimal(number), "f")


@pytest.mark.parametrize(
    ("shape", "digits"),
    [
        ("decimal digits, two to a byte", bytes.hex),
        ("decimal digits, one to a byte", lambda raw: "".join(f"{one & 15:x}" for one in raw)),
    ],
)
def test_decimal_digits_stand_in_the_message(shape: str, digits: Callable[[bytes], str]) -> None:
    for made in shaped(shape):
        presses = (*made.presses, *made.further)
        for press in presses:
            wanted = str(abs(_steps(press))).zfill(5)
            both = digits(press.raw), digits(press.raw[::-1])
            assert any(wanted in one for one in both), made.description


@pytest.mark.parametrize("parity", ["even", "odd", "mark"])
def test_parity_left_in(parity: str) -> None:
    found = [made for made in formats() if made.layout.parity == parity]
    assert found
    for made in found:
        for press in made.presses:
            ones = [byte.bit_count() & 1 for byte in press.raw]
            if parity == "mark":
                assert all(byte & 0x80 for byte in press.raw)
            else:
                assert set(ones) == {int(parity == "odd")}


def test_value_max_and_min_are_told_apart() -> None:
    for made in shaped("max and min beside"):
        most = max(len(set(re.findall(rb"\d+\.\d+", press.raw))) for press in made.presses)
        assert most >= 3, made.description


# ── presses that settle nothing ──────────────────────────────────────────────────────────────────


@cache
def thin() -> dict[str, tuple[Press, ...]]:
    return {one.name: one.presses for one in ambiguous("unit tests")}


def test_thin_cases_are_many_and_say_why() -> None:
    cases = list(ambiguous("unit tests"))
    assert len(cases) >= 36
    assert len({case.name for case in cases}) == len(cases)
    assert all(len(case.why) > 15 for case in cases)
    assert [case.presses for case in cases] == list(thin().values())


def test_thin_cases_are_what_they_say() -> None:
    assert thin()["thin-no-press-0"] == ()
    assert len(thin()["thin-one-press-0"]) == 1
    assert len({press.raw for press in thin()["thin-frozen-0"]}) == 1
    for press in thin()["thin-either-end-0"]:
        assert press.raw[1] == press.raw[2]
    for press in thin()["thin-rising-with-highest-0"]:
        value, _, highest = press.raw.decode().strip().partition(",")
        assert value == highest
    for press in thin()["thin-rising-with-highest-binary-0"]:
        assert press.raw[1:4] == press.raw[4:7]
    for press in thin()["thin-no-negative-0"]:
        assert not press.at.startswith("-")
    for press in thin()["thin-counter-fits-0"]:
        assert float(press.raw[:5]) == float(press.raw[6:12]) == float(press.at.split()[0])


def test_a_unit_that_is_not_sent_changes_only_the_number() -> None:
    presses = thin()["thin-unit-not-sent-0"]
    assert {press.raw[:2] + press.raw[5:] for press in presses} == {presses[0].raw[:2] + b"\xff"}
    assert presses[-1].switched
    assert int.from_bytes(presses[-1].raw[2:5], "big") == _steps(presses[-1]) != 5000
