"""The line model of simulators/uart.py: what arrives with right and with wrong settings."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.uart import (
    Character,
    LineSettings,
    OnError,
    across,
    delivered,
    parity_bit,
    receive,
    transmit,
)

EVERY_BYTE = bytes(range(256))
LINE = b"+25.400 mm\r\n"
COMMON = LineSettings()


def test_a_capital_u_is_a_square_wave_of_half_the_baud_rate() -> None:
    # 0x55 least significant bit first between start and stop alternates 0 1 0 1…: a fact of the
    # asynchronous character form used to measure speeds (common practice, no source).
    edges = transmit(b"U", LineSettings(9600)).edges()
    assert [level for _, level in edges] == [0, 1] * 5
    gaps = [later - earlier for (earlier, _), (later, _) in pairwise(edges)]
    assert gaps == pytest.approx([1 / 9600] * 9)


@pytest.mark.parametrize("baud", [300, 1200, 9600, 19200, 115200])
@pytest.mark.parametrize("parity", ["none", "even", "odd", "mark", "space"])
@pytest.mark.parametrize("stop_bits", [1, 1.5, 2])
def test_same_settings_pass_every_byte(baud: int, parity: str, stop_bits: float) -> None:
    both = LineSettings(baud, 8, parity, stop_bits)
    characters = receive(transmit(EVERY_BYTE, both), both)
    assert bytes(each.value for each in characters) == EVERY_BYTE
    assert not any(each.parity_error or each.framing_error for each in characters)


@given(
    st.binary(max_size=40),
    st.sampled_from([5, 6, 7, 8]),
    st.sampled_from(["none", "even", "odd"]),
    st.floats(0, 0.01),
)
def test_same_settings_pass_any_bits_at_any_pause(
    data: bytes, data_bits: int, parity: str, pause: float
) -> None:
    both = LineSettings(9600, data_bits, parity)
    low = bytes(byte & ((1 << data_bits) - 1) for byte in data)
    assert delivered(receive(transmit(data, both, pause), both), OnError.DROP) == low


@pytest.mark.parametrize("baud", [300, 4800, 19200, 38400, 115200])
def test_a_wrong_speed_gives_other_bytes(baud: int) -> None:
    got = across(LINE, COMMON, LineSettings(baud))
    assert got
    assert got != LINE
    assert b"25.400" not in got


def test_too_fast_and_too_slow_give_different_garbage() -> None:
    slow = across(LINE, COMMON, LineSettings(4800))
    fast = across(LINE, COMMON, LineSettings(19200))
    assert slow != fast
    assert len(slow) < len(LINE) < len(fast)


def test_a_null_byte_at_double_the_speed_is_a_break() -> None:
    # Nine low bits (start and eight zeros) last eighteen of the receiver's: its stop bit is low.
    (first, *_) = receive(transmit(b"\x00", LineSettings(9600)), LineSettings(19200))
    assert first.is_break


def test_speeds_may_differ_by_half_a_bit_in_nine_and_a_half() -> None:
    # The stop bit's middle is 9.5 bits from the edge, so half a bit is 5.3 % (arithmetic); one
    # sixteenth goes to finding the edge. Just inside passes, just outside does not.
    for factor in (0.96, 1.04):
        assert across(EVERY_BYTE, COMMON, LineSettings(9600 * factor)) == EVERY_BYTE
    for factor in (0.93, 1.07):
        assert across(EVERY_BYTE, COMMON, LineSettings(9600 * factor)) != EVERY_BYTE


def test_wrong_parity_is_seen_on_every_character() -> None:
    even, odd = LineSettings(parity="even"), LineSettings(parity="odd")
    characters = receive(transmit(LINE, even), odd)
    assert bytes(each.value for each in characters) == LINE
    assert all(each.parity_error for each in characters)
    assert delivered(characters, OnError.KEEP) == LINE
    assert delivered(characters, OnError.DROP) == b""
    assert delivered(characters, OnError.NUL) == bytes(len(LINE))


def test_parity_where_none_is_sent_breaks_characters() -> None:
    characters = receive(transmit(LINE, COMMON), LineSettings(parity="even"))
    assert any(each.parity_error for each in characters)
    assert any(each.framing_error for each in characters)
    assert delivered(characters, OnError.DROP) != LINE


def test_seven_bits_with_even_parity_read_as_eight_set_the_top_bit() -> None:
    # The parity bit lands where the eighth data bit is looked for: letters with an odd number of
    # ones come out with 128 added. 'A' is 1000001 (two ones), 'C' 1000011 (three).
    got = across(b"ACE", LineSettings(9600, 7, "even"), COMMON)
    assert got == bytes((0x41, 0xC3, 0xC5))


def test_eight_bits_without_parity_read_as_seven_with_parity_lose_the_top_bit() -> None:
    got = across(b"\xc1A", COMMON, LineSettings(9600, 7, "even"))
    assert got == b"AA"


def test_two_stop_bits_read_as_one_are_harmless() -> None:
    assert across(EVERY_BYTE, LineSettings(stop_bits=2), COMMON) == EVERY_BYTE


def test_noise_spikes_shorter_than_half_a_bit_are_no_characters() -> None:
    line = transmit(b"", COMMON)
    line.hold(0, 0.001)
    line.hold(1, 0.001 + 0.4 / 9600)
    assert receive(line, COMMON) == []


@pytest.mark.parametrize(("value", "even"), [(0x00, 0), (0x01, 1), (0x03, 0), (0x7F, 1), (0xFF, 0)])
def test_parity_bits(value: int, even: int) -> None:
    assert parity_bit(value, "even") == even
    assert parity_bit(value, "odd") == 1 - even


def test_impossible_settings_are_named() -> None:
    with pytest.raises(ValueError, match="data_bits must be 5, 6, 7 or 8, not 9"):
        LineSettings(data_bits=9)
    with pytest.raises(ValueError, match="parity must be one of none, even"):
        LineSettings(parity="both")
    with pytest.raises(ValueError, match="stop_bits"):
        LineSettings(stop_bits=3)
    with pytest.raises(ValueError, match="baud"):
        LineSettings(baud=0)


def test_a_break_is_a_zero_byte_to_the_program() -> None:
    assert delivered([Character(0, framing_error=True)]) == b"\x00"
