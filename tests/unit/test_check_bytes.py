"""Check bytes, against the check values published for each algorithm."""

from __future__ import annotations

import binascii
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivers.framing.check import Check
from drivers.framing.frame import Fault
from drivers.framing.framing import Framing

NINE = b"123456789"


def crc(width: int, polynomial: int, initial: int, reflected: bool, final: int) -> Check:
    return Check(
        "crc",
        at=-(width // 8),
        cover=(0, -(width // 8)),
        width=width,
        polynomial=polynomial,
        initial=initial,
        reflected=reflected,
        final_xor=final,
    )


# The CRC of the nine ASCII digits 1 to 9, as catalogues of CRC algorithms list it for each
# ("check" value); from memory, reproduced here.
CATALOGUE = {
    "CRC-8 (07)": (crc(8, 0x07, 0, False, 0), 0xF4),
    "CRC-16, 8005 reflected, FFFF": (crc(16, 0x8005, 0xFFFF, True, 0), 0x4B37),
    "CRC-16, 8005 reflected": (crc(16, 0x8005, 0, True, 0), 0xBB3D),
    "CRC-16, 1021": (crc(16, 0x1021, 0, False, 0), 0x31C3),
    "CRC-16, 1021, FFFF": (crc(16, 0x1021, 0xFFFF, False, 0), 0x29B1),
    "CRC-16, 1021 reflected": (crc(16, 0x1021, 0, True, 0), 0x2189),
    "CRC-16, 1021 reflected, FFFF, FFFF": (crc(16, 0x1021, 0xFFFF, True, 0xFFFF), 0x906E),
    "CRC-16, 3D65, inverted": (crc(16, 0x3D65, 0, False, 0xFFFF), 0xC2B7),
    "CRC-24, 864CFB, B704CE": (crc(24, 0x864CFB, 0xB704CE, False, 0), 0x21CF02),
    "CRC-32": (crc(32, 0x04C11DB7, 0xFFFFFFFF, True, 0xFFFFFFFF), 0xCBF43926),
    "CRC-32C": (crc(32, 0x1EDC6F41, 0xFFFFFFFF, True, 0xFFFFFFFF), 0xE3069283),
}


@pytest.mark.parametrize("name", CATALOGUE)
def test_crc_of_the_nine_digits(name: str) -> None:
    check, published = CATALOGUE[name]

    assert check.compute(NINE) == published


@given(st.binary(max_size=80))
def test_crcs_agree_with_the_standard_library(data: bytes) -> None:
    assert CATALOGUE["CRC-32"][0].compute(data) == zlib.crc32(data)
    assert CATALOGUE["CRC-16, 1021"][0].compute(data) == binascii.crc_hqx(data, 0)
    assert CATALOGUE["CRC-16, 1021, FFFF"][0].compute(data) == binascii.crc_hqx(data, 0xFFFF)


def test_sum_and_xor_with_their_complements() -> None:
    # worked by hand: 0x80 + 0x90 + 0x0F = 0x11F; 0x80 ^ 0x90 ^ 0x0F = 0x1F
    data = bytes([0x80, 0x90, 0x0F])

    assert Check("sum", -1, (0, -1)).compute(data) == 0x1F
    assert Check("sum", -2, (0, -2), width=16).compute(data) == 0x011F
    assert Check("sum", -1, (0, -1), complement="ones").compute(data) == 0xE0
    assert Check("sum", -1, (0, -1), complement="twos").compute(data) == 0xE1
    assert Check("xor", -1, (0, -1)).compute(data) == 0x1F
    assert Check("xor", -2, (0, -2), width=16).compute(data) == 0x80 << 8 ^ 0x90 ^ 0x0F


def test_hexadecimal_check_takes_either_case_and_nothing_else() -> None:
    check = Check("xor", -2, (0, -2), written="hex")

    assert check.fault(b"ab03") is None
    assert check.fault(b"a\x0b6a") is None
    assert check.fault(b"a\x0b6A") is None
    for wrong in (b"+3", b" 3", b"3 ", b"_3", b"0x"):
        assert (
            check.fault(b"ab" + wrong) == "the check says no hexadecimal number, its bytes make 03"
        )


def test_wrong_check_is_a_fault_with_both_values() -> None:
    framing = Framing("fixed", 4, check=Check("sum", -1, (0, -1)))

    items = framing.framer().feed(b"\x01\x02\x03\x06\x01\x02\x03\x07", 0)

    assert items == [
        b"\x01\x02\x03\x06",
        Fault(b"\x01\x02\x03\x07", "check", "the check says 07, its bytes make 06"),
    ]


def test_a_good_frame_behind_a_broken_one_is_not_lost_with_it() -> None:
    # the first frame lost its check byte, so the start of the second stands in its place
    check = Check("xor", -1, (1, -1))
    framing = Framing("start-stop", 16, start=b"\x02", stop=b"\x03", after_stop=1, check=check)
    whole = b"\x025\x03" + bytes([ord("5") ^ 3])

    items = framing.framer().feed(b"\x025\x03" + whole, 0)

    assert [item if isinstance(item, bytes) else item.code for item in items] == ["check", whole]


def test_half_a_start_at_the_end_of_a_broken_frame_is_kept_for_the_next() -> None:
    check = Check("sum", -1, (2, -1))
    framing = Framing("fixed", 4, start=b"\xa5\x5a", check=check)

    items = framing.framer().feed(b"\xa5\x5a\x01\xa5\x5a\x07\x07", 0)

    assert items[1] == b"\xa5\x5a\x07\x07"


def test_a_message_too_short_for_its_check_is_a_fault() -> None:
    check = Check("crc", -5, (0, -5), width=16, written="hex", polynomial=0x1021)
    framing = Framing("terminator", 16, terminators=(b"\r",), check=check)

    (item,) = framing.framer().feed(b"1\r", 0)

    assert isinstance(item, Fault)
    assert item.detail == "2 bytes are too few to hold a check"
