"""Framing and decoding joined: bytes in, readings and undecodables out."""

from __future__ import annotations

from decimal import Decimal

from capture.instrument import Instrument
from capture.reading import Captured, Reading, Stamp, Undecodable
from drivers.adapters.receiver import Receiver
from drivers.profiles.load import load_shipped

SECOND = 1_000_000_000
NOW = Stamp("2026-03-01T10:00:00.000000Z", 5 * SECOND)


def instrument(name: str, unit: str = "mm", channel: str | None = None) -> Instrument:
    return Instrument(
        id=name, kind="micrometer", unit=unit, resolution=Decimal("0.001"), port="p",
        profile="x", channel=channel,
    )  # fmt: skip


def lines() -> Receiver:
    return Receiver(load_shipped("decimal-line"), "p", [instrument("mike", "in")])


def told(items: list[Captured]) -> list[str]:
    """Digits of the readings, codes of the rest."""
    return [item.digits if isinstance(item, Reading) else unread(item).code for item in items]


def unread(item: Captured) -> Undecodable:
    assert isinstance(item, Undecodable)
    return item


def test_a_reading_has_everything_one_press_sent() -> None:
    (item,) = lines().receive(b"+025.400 mm\r\n", NOW)

    assert type(item) is Reading
    assert item == Reading("mike", b"+025.400 mm\r", "25.400", "mm", (), NOW)
    assert item.value == Decimal("25.400")


def test_without_a_unit_word_it_is_the_instruments_unit() -> None:
    (item,) = lines().receive(b"1.0000\r", NOW)

    assert isinstance(item, Reading)
    assert item.unit == "in"


def test_what_cannot_be_read_keeps_its_bytes_reason_and_moment() -> None:
    (item,) = lines().receive(b"hello\r", NOW)

    assert item == Undecodable(
        "p", "mike", b"hello\r", "layout", "the message does not have the profile's layout", NOW
    )


def test_merged_messages_and_messages_around_garbage_are_all_read() -> None:
    assert told(lines().receive(b"1.0\r\n2.0\r\n\xff\xfe\r3.0\r", NOW)) == [
        "1.0", "2.0", "layout", "3.0",
    ]  # fmt: skip


def test_half_a_message_is_told_with_the_moment_of_its_last_byte() -> None:
    receiver = lines()
    assert receiver.receive(b"12.", NOW) == []
    assert receiver.due == NOW.mono + 2 * SECOND

    (item,) = receiver.silence(NOW.mono + 2 * SECOND)

    assert isinstance(item, Undecodable)
    assert (item.code, item.raw, item.stamp) == ("incomplete", b"12.", NOW)


def test_the_second_half_of_a_stalled_message_is_not_taken_for_a_size() -> None:
    receiver = lines()
    receiver.receive(b"12.", NOW)
    receiver.silence(NOW.mono + 2 * SECOND)

    late, after = receiver.receive(b"345 mm\r12.345 mm\r", NOW)

    assert isinstance(late, Undecodable)
    assert (late.code, late.raw) == ("incomplete", b"345 mm\r")
    assert "together they would read 12.345 mm" in late.detail
    assert isinstance(after, Reading)


def test_a_new_message_after_half_a_message_or_noise_is_read() -> None:
    for before in (b"12.3", b"\xff", b"mm"):
        receiver = lines()
        receiver.receive(before, NOW)
        receiver.silence(NOW.mono + 2 * SECOND)

        assert told(receiver.receive(b"+25.400 mm\r", NOW)) == ["25.400"]


def test_several_instruments_are_told_apart_by_channel() -> None:
    receiver = Receiver(
        load_shipped("channel-line"),
        "rx",
        [instrument("a", channel="1"), instrument("b", "in", channel="02")],
    )

    items = receiver.receive(b"C01 +1.0 mm\rC02 2.0\rC03 3.0\rC-1 4.0\r", NOW)

    assert [item.instrument for item in items] == ["a", "b", None, None]
    assert told(items) == ["1.0", "2.0", "unknown-channel", "layout"]
    assert isinstance(items[1], Reading)
    assert items[1].unit == "in"
    assert isinstance(items[2], Undecodable)
    assert "channel 3 belongs to no instrument on this port (known: 1, 2)" in items[2].detail


def test_a_long_run_of_garbage_is_kept_whole_in_few_items() -> None:
    garbage = b"\x80\x81\r" * 1000

    items = lines().receive(b"1.0\r" + garbage + b"2.0\r", NOW)

    assert told(items) == ["1.0", "noise", "2.0"]
    assert unread(items[1]).raw == garbage
    assert unread(items[1]).detail.startswith(
        "1000 pieces in a row that cannot be read; the first: "
    )


def test_a_very_long_run_comes_in_pieces_of_a_few_kilobytes() -> None:
    garbage = b"\x80\x81\r" * 10_000

    items = lines().receive(garbage, NOW)

    assert 7 <= len(items) <= 9
    assert b"".join(unread(item).raw for item in items) == garbage


def test_a_few_unreadable_messages_stay_apart() -> None:
    assert told(lines().receive(b"a\rb\rc\rd\r", NOW)) == ["layout"] * 4


def test_what_is_left_at_the_end_is_told() -> None:
    receiver = lines()
    receiver.receive(b"1.0\r2.", NOW)

    assert told(receiver.drain()) == ["incomplete"]
    assert receiver.drain() == []
