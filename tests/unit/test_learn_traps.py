"""Presses that look like one thing and are another: what once was read wrongly while sure."""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from decimal import Decimal

import pytest

from drivers.learn.learn import Learned, decoded, learn
from drivers.learn.press import Press, press_of
from drivers.profiles.load import parse_profile

SIZES = ("0", "50", "30.02", "-37.33", "44.97", "12.5")
Write = Callable[[Decimal, int], bytes]


def pressed(write: Write, sizes: Sequence[str] = SIZES, unit: str = "mm") -> list[Press]:
    """``write`` gets the size and the number of the press."""
    return [press_of(f"{s} {unit}", write(Decimal(s), n)) for n, s in enumerate(sizes)]


def said(learned: Learned, raw: bytes) -> tuple[str, str | None] | None:
    """What the profile says of a message; None where it refuses it."""
    assert learned.sure, learned.reasons
    assert learned.profile is not None
    return decoded(parse_profile(learned.profile.encode(), "learned", "learned"), raw)


def test_a_counter_behind_the_number_is_not_its_lowest_byte() -> None:
    def write(size: Decimal, count: int) -> bytes:
        return bytes([2 * count + 3]) + int(size * 100).to_bytes(3, "little", signed=True)

    learned = learn(pressed(write))
    assert said(learned, write(Decimal("62.48"), 9)) == ("62.48", "mm")
    assert said(learned, write(Decimal("-9.75"), 90)) == ("-9.75", "mm")


def test_so_many_counts_are_not_taken_for_coarse_steps() -> None:
    def write(size: Decimal, count: int) -> bytes:
        noise = (1, 0, 1, 0, 2, 0, 1)[count]
        return b"\x02\x01" + (int(size * 512) + noise).to_bytes(3, "little", signed=True)

    learned = learn(pressed(write, ("0", "10", "50", "60", "100", "-10", "20")))
    value = said(learned, write(Decimal("6.15"), 1))
    assert value is not None
    assert abs(Decimal(value[0]) - Decimal("6.15")) < Decimal("0.005")


def test_a_byte_that_never_changed_must_not() -> None:
    def write(size: Decimal, count: int, unit: int = 0) -> bytes:
        return bytes([0xAA, unit]) + int(size * 100).to_bytes(3, "little", signed=True)

    learned = learn(pressed(write))
    assert said(learned, write(Decimal("4.75"), 0)) == ("4.75", "mm")
    assert said(learned, write(Decimal("4.75"), 0, unit=1)) is None
    assert any("never changed" in line for line in learned.found)


def test_a_battery_may_fall_after_the_presses() -> None:
    def write(size: Decimal, count: int, battery: int = 87) -> bytes:
        return bytes([0xAA, battery]) + int(size * 100).to_bytes(3, "little", signed=True)

    learned = learn(pressed(write))
    assert said(learned, write(Decimal("4.75"), 0, battery=86)) == ("4.75", "mm")


def test_a_figure_that_says_the_decimals_must_stay() -> None:
    def write(size: Decimal, count: int, places: int = 2) -> bytes:
        return f"{'-' if size < 0 else '+'}{int(abs(size) * 10**places):06d}{places}\r".encode()

    learned = learn(pressed(write))
    assert said(learned, write(Decimal("17.38"), 0)) == ("17.38", "mm")
    assert said(learned, write(Decimal("117.3"), 0, places=1)) is None


def test_the_unit_is_not_a_battery_that_fell_just_then() -> None:
    def write(size: Decimal, inches: bool, battery: int) -> bytes:
        places = 4 if inches else 2
        number = int(size * 10**places).to_bytes(3, "big", signed=True)
        return b"\xd2" + battery.to_bytes(2, "little") + number + bytes([0x82 if inches else 0x02])

    presses = [
        press_of(f"{s} mm", write(Decimal(s), False, 2896)) for s in ("0", "10", "25.4", "-12.7")
    ]
    presses.append(press_of("50.8 mm", write(Decimal(2), True, 2888), "in"))
    learned = learn(presses)
    assert said(learned, write(Decimal("7.31"), False, 2880)) == ("7.31", "mm")
    assert said(learned, write(Decimal("0.7312"), True, 2880)) == ("0.7312", "in")


@pytest.mark.parametrize(("one", "two"), [("T23.0", "T23.1"), ("2.94V", "2.93V")])
def test_the_unit_is_not_a_temperature_that_changed_just_then(one: str, two: str) -> None:
    def write(size: str, beside: str, status: str) -> bytes:
        return f"{beside}/{size}/S{status}\r".encode()

    sizes = ("+000.0", "+100.0", "+159.9", "-064.3", "+073.6")
    presses = [press_of(f"{Decimal(s)} mm", write(s, one, "04")) for s in sizes]
    presses.append(press_of("75 mm", write("+002.95", two, "05"), "in"))
    learned = learn(presses)
    assert said(learned, write("-050.3", two, "04")) == ("-50.3", "mm")
    assert said(learned, write("+001.25", one, "05")) == ("1.25", "in")


def test_the_last_digit_of_a_display_that_steps_by_five_is_kept() -> None:
    def write(size: Decimal, count: int) -> bytes:
        digits = f"{int(abs(size) * 1000):04d}"
        return b"\x07" + bytes(0xF0 | int(d) for d in digits) + (b"\xb0" if size < 0 else b"\x30")

    sizes = ("0", "0.5", "0.955", "-0.11", "0.84", "-0.505")
    learned = learn(pressed(write, sizes, "in"))
    assert said(learned, write(Decimal("0.425"), 0)) == ("0.425", "in")


def test_a_check_that_may_be_either_of_two_is_not_verified() -> None:
    def write(size: Decimal, count: int) -> bytes:
        body = b"\x02" + int(size * 10).to_bytes(2, "big", signed=True)
        return body + bytes([sum(body) & 0x7F])

    learned = learn(pressed(write, ("0", "1.6", "25.6", "51.2", "5", "-25.6")))
    assert said(learned, write(Decimal(20), 0)) == ("20.0", "mm")
    assert any("not verified" in line for line in learned.found)


def test_a_sign_may_be_a_figure() -> None:
    def write(size: Decimal, count: int) -> bytes:
        return f"#{int(size < 0)}{abs(size):06.2f}MM\r\n".encode()

    learned = learn(pressed(write))
    assert said(learned, write(Decimal("-61.03"), 0)) == ("-61.03", "mm")


@pytest.mark.parametrize("turned", [False, True])
def test_digits_may_begin_within_a_byte(turned: bool) -> None:
    def write(size: Decimal, count: int) -> bytes:
        digits = f"{int(abs(size) * 100):06d}"
        halves = ("8" if size < 0 else "0") + (digits[::-1] if turned else digits) + "2"
        return b"\xff" + bytes.fromhex(halves) + b"\x03"

    learned = learn(pressed(write))
    assert said(learned, write(Decimal("-61.03"), 0)) == ("-61.03", "mm")
    assert said(learned, write(Decimal("10.43"), 0)) == ("10.43", "mm")


def test_hex_digits_without_a_negative_press_leave_the_sign_open() -> None:
    learned = learn(
        pressed(
            lambda size, n: f"{int(size * 100):06X}\r".encode(),
            ("0", "10", "63.7", "5.21", "17.38"),
        )
    )
    assert not learned.sure
    assert any("negative" in reason for reason in learned.reasons)


def test_a_float_has_its_sign_without_a_negative_press() -> None:
    def write(size: Decimal, count: int) -> bytes:
        return b"\xe4" + struct.pack(">f", float(size)) + bytes([count])

    learned = learn(pressed(write, ("0", "10", "63.7", "5.21", "17.38")))
    value = said(learned, write(Decimal("-12.5"), 0))
    assert value is not None
    assert Decimal(value[0]) == Decimal("-12.5")


def test_a_number_sent_twice_is_no_rival_of_itself() -> None:
    def write(size: Decimal, count: int) -> bytes:
        return f"{size:+07.2f};{size:+07.2f}\r".encode()

    learned = learn(pressed(write))
    assert said(learned, write(Decimal("7.12"), 0)) == ("7.12", "mm")


def test_a_clock_that_turned_over_at_the_negative_press_may_be_the_sign() -> None:
    def write(size: Decimal, clock: int, inches: bool = False) -> bytes:
        number = bytes.fromhex(f"{int(abs(size) * (10000 if inches else 100)):06d}")
        return (
            b"\x02" + clock.to_bytes(2, "little") + number + bytes([0x40 * inches + 2 * (size < 0)])
        )

    clocks = (0xFC16, 0xFC57, 0xFC6B, 0xFCBF)
    presses = [
        press_of(f"{s} mm", write(Decimal(s), n))
        for s, n in zip(("0", "75", "25", "9.99"), clocks, strict=True)
    ]
    presses.append(press_of("25.4 mm", write(Decimal(1), 0xFCEB, inches=True), "in"))
    presses.append(press_of("-60 mm", write(Decimal(-60), 0xFD2B)))
    learned = learn(presses)
    assert not learned.sure
    assert learned.next_press
    presses.append(press_of("30 mm", write(Decimal(30), 0xFD2F)))
    assert said(learn(presses), write(Decimal("-7.31"), 0xFD40)) == ("-7.31", "mm")
