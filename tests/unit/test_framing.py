"""Where messages begin and end."""

from __future__ import annotations

import pytest

from drivers.framing.frame import Fault, Framer, Item
from drivers.framing.framing import Framing

SECOND = 1_000_000_000
LINE = Framing("terminator", 16, terminators=(b"\r", b"\n"))
CRLF = Framing("terminator", 16, terminators=(b"\r\n",))
FRAME = Framing("start-stop", 16, start=b"\x02", stop=b"\x03", after_stop=1)
FIXED = Framing("fixed", 4, start=b"\xa5\x5a")
BARE = Framing("fixed", 4)
SILENT = Framing("silence", 8, gap=SECOND // 20)


def codes(items: list[Item]) -> list[bytes | tuple[str, bytes]]:
    """The messages, and code and bytes of the faults."""
    return [(item.code, item.raw) if isinstance(item, Fault) else item for item in items]


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n", b"\n\r"])
def test_a_line_may_end_with_cr_lf_or_both(end: bytes) -> None:
    items = LINE.framer().feed(b"1.0" + end + b"2.0" + end, 0)

    assert items == [b"1.0" + end[:1], b"2.0" + end[:1]]


def test_cr_alone_is_heard_at_once_and_a_late_lf_is_no_message() -> None:
    framer = LINE.framer()

    assert framer.feed(b"1.0\r", 0) == [b"1.0\r"]
    assert framer.feed(b"\n", 0) == []
    assert framer.due is None


def test_one_long_terminator_is_part_of_the_message() -> None:
    framer = CRLF.framer()

    assert framer.feed(b"1.0\r", 0) == []
    assert framer.feed(b"\n2\r0\r\n\r\n", 0) == [b"1.0\r\n", b"2\r0\r\n"]


def test_half_a_line_waits_and_is_given_up_after_the_silence() -> None:
    framer = LINE.framer()
    assert framer.feed(b"12.3", 5) == []
    due = framer.due
    assert due == 5 + 2 * SECOND

    assert framer.silence(due - 1) == []
    assert codes(framer.silence(due)) == [("incomplete", b"12.3")]
    assert framer.due is None
    assert framer.feed(b"4.5\r", due) == [b"4.5\r"]


def test_late_bytes_alone_give_nothing_up() -> None:
    framer = LINE.framer()
    framer.feed(b"12.", 0)

    assert framer.feed(b"345\r", 100 * SECOND) == [b"12.345\r"]


def test_a_line_longer_than_the_buffer_is_kept_whole_and_the_next_is_read() -> None:
    framer = LINE.framer()

    items = framer.feed(b"x" * 40 + b"\r1.0\r", 0)

    assert codes(items) == [
        ("too-long", b"x" * 16),
        ("too-long", b"x" * 24 + b"\r"),
        b"1.0\r",
    ]


def test_endless_garbage_comes_in_few_pieces_and_is_never_hoarded() -> None:
    framer = LINE.framer()

    items = [item for _ in range(100) for item in framer.feed(b"y" * 100, 0)]

    assert len(items) <= 11
    assert all(isinstance(item, Fault) and item.code == "too-long" for item in items)
    left = framer.drain()
    assert b"".join(item.raw for item in [*items, *left] if isinstance(item, Fault)) == b"y" * 10000


def test_a_line_of_just_the_limit_is_a_message() -> None:
    assert LINE.framer().feed(b"x" * 15 + b"\r", 0) == [b"x" * 15 + b"\r"]
    assert CRLF.framer().feed(b"x" * 14 + b"\r\n", 0) == [b"x" * 14 + b"\r\n"]


def test_a_long_terminator_over_the_limit_does_not_swallow_the_next_message() -> None:
    items = CRLF.framer().feed(b"x" * 15 + b"\r\n1.0\r\n", 0)

    assert codes(items) == [("too-long", b"x" * 15), b"1.0\r\n"]


def test_noise_between_frames_is_one_fault() -> None:
    items = FRAME.framer().feed(b"\x021\x03a???\x022\x03b", 0)

    assert codes(items) == [b"\x021\x03a", ("noise", b"???"), b"\x022\x03b"]


def test_a_frame_without_its_end_gives_way_to_the_next() -> None:
    items = FRAME.framer().feed(b"\x0212\x0234\x03c", 0)

    assert codes(items) == [("incomplete", b"\x0212"), b"\x0234\x03c"]


def test_a_frame_too_long_is_a_fault_and_the_search_goes_on() -> None:
    items = FRAME.framer().feed(b"\x02" + b"1" * 30 + b"\x022\x03c", 0)

    assert codes(items) == [
        ("too-long", b"\x02" + b"1" * 15),
        ("noise", b"1" * 15),
        b"\x022\x03c",
    ]


def test_a_fixed_frame_is_found_behind_noise_and_a_doubled_start_byte() -> None:
    framer = FIXED.framer()

    assert framer.feed(b"\x00\xa5\xa5", 0) == []
    items = framer.feed(b"\x5a\x01\x02", 0)
    assert codes(items) == [("noise", b"\x00\xa5"), b"\xa5\x5a\x01\x02"]


def test_noise_left_alone_is_told_after_the_silence() -> None:
    framer = FIXED.framer()
    framer.feed(b"\x00\x01\x02", 0)

    assert codes(framer.silence(2 * SECOND)) == [("noise", b"\x00\x01\x02")]


def test_without_start_bytes_only_a_silence_aligns() -> None:
    framer = BARE.framer()

    assert framer.feed(b"abcdef", 0) == [b"abcd"]
    assert codes(framer.silence(2 * SECOND)) == [("incomplete", b"ef")]
    assert framer.feed(b"ghij", 0) == [b"ghij"]


def test_silence_ends_a_message() -> None:
    framer = SILENT.framer()
    assert framer.feed(b"ab", 0) == []
    assert framer.feed(b"cd", SECOND // 40) == []
    due = framer.due
    assert due == SECOND // 40 + SECOND // 20

    assert framer.silence(due - 1) == []
    assert framer.silence(due) == [b"abcd"]
    assert framer.silence(due + SECOND) == []


def test_too_much_without_a_silence_is_one_long_fault() -> None:
    framer = SILENT.framer()

    assert codes(framer.feed(b"123456789", 0)) == [("too-long", b"12345678")]
    assert codes(framer.silence(SECOND)) == [("too-long", b"9")]
    framer.feed(b"ok", 2 * SECOND)
    assert framer.silence(3 * SECOND) == [b"ok"]


@pytest.mark.parametrize("framing", [LINE, CRLF, FRAME, FIXED, BARE, SILENT])
def test_drained_framer_is_as_new(framing: Framing) -> None:
    framer: Framer = framing.framer()
    framer.feed(b"\x02" * 3, 0)
    framer.drain()

    assert framer.due is None
    assert framer.drain() == []
