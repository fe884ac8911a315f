"""What an instrument that types has typed: keys to text, and text to readings or named gaps."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from capture.instrument import Instrument
from capture.reading import Captured, Reading, Stamp, Undecodable
from drivers.bench import parse_bench
from drivers.keys.event import Events
from drivers.keys.names import CODES, changes_of, code_of, name_of
from drivers.keys.receiver import KeyReceiver
from drivers.keys.typist import LOST, Typist, mark
from drivers.profiles.load import load_shipped
from tests.key_events import DROPPED, ENTER, REPORT, SHIFT, change, event, tap, typed

GAUGE = parse_bench(
    '[[instrument]]\nid = "mike"\nkind = "micrometer"\nport = "keys:Gauge"\n'
    'profile = "decimal-line"\nunit = "mm"\nresolution = "0.001"\n',
    "b.toml",
    Path(),
).instruments[0]


def receiver(gauge: Instrument = GAUGE) -> KeyReceiver:
    return KeyReceiver(load_shipped("decimal-line"), "port", [gauge])


def told(items: Sequence[Captured]) -> list[str]:
    return [item.digits if isinstance(item, Reading) else whole(item).code for item in items]


def whole(item: Captured) -> Undecodable:
    assert isinstance(item, Undecodable)
    return item


def test_digits_signs_letters_blanks_and_enter() -> None:
    assert Typist().feed(typed("+25.400 mm\n-0,5\tX=1/2\n")) == b"+25.400 mm\n-0,5\tX=1/2\n"


def test_the_keypad_types_digits_too() -> None:
    pad = [CODES[f"keypad-{sign}"] for sign in "-+*/.0123456789"] + [CODES["keypad-enter"]]

    assert Typist().feed(b"".join(map(tap, pad))) == b"-+*/.0123456789\n"


def test_a_held_key_types_once_and_a_release_nothing() -> None:
    held = change(2, 1) + 40 * change(2, 2) + change(2, 0) + tap(ENTER)

    assert Typist().feed(held) == b"1\n"


def test_shift_counts_while_it_is_held_and_either_of_them() -> None:
    both = change(SHIFT, 1) + change(54, 1) + change(SHIFT, 0) + tap(30) + change(54, 0) + tap(30)

    assert Typist().feed(both) == b"Aa"


def test_what_types_no_character_is_named() -> None:
    typist = Typist()

    assert typist.feed(tap(CODES["f5"])) == mark("f5")
    assert typist.feed(tap(0x2F0)) == mark("key-752")
    assert typist.feed(change(29, 1) + tap(36) + change(29, 0) + tap(36)) == mark("ctrl+j") + b"j"
    assert typist.feed(tap(CODES["num-lock"]) + typed("1")) == b"1"


def test_lost_events_are_told_and_the_rest_of_their_report_is_left_out() -> None:
    lost = change(SHIFT, 1) + event(1, 30, 1) + DROPPED + event(1, 3, 1) + REPORT + tap(30)

    assert Typist().feed(lost) == b"A" + mark(LOST) + b"a"


def test_other_events_mean_nothing() -> None:
    assert Events().feed(event(2, 0, 5) + event(4, 4, 7) + event(0x11, 1, 1) + REPORT) == []


def test_half_an_event_waits_for_its_other_half() -> None:
    data = typed("7\n")
    events = Events()

    codes = [e.code for cut in (data[:25], data[25:47], data[47:]) for e in events.feed(cut)]

    assert codes == [8, 8, ENTER, ENTER]


def test_keys_that_type_something_else_on_this_instrument() -> None:
    changes = changes_of([("/", "-"), ("shift+1", "1"), ("enter", "\r")])
    typist = Typist(changes=changes)

    assert typist.feed(typed("/") + change(SHIFT, 1) + tap(2) + change(SHIFT, 0)) == b"-1"
    assert typist.feed(typed("\n1")) == b"\r1"


@pytest.mark.parametrize(
    ("key", "letter", "said"),
    [("slash", "-", "'slash' is no key"), ("/", "--", "not one character"), ("a", "é", "é")],
)
def test_what_keys_cannot_be_changed_to(key: str, letter: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        changes_of([(key, letter)])


def test_every_name_leads_to_its_key_and_back() -> None:
    for name, code in CODES.items():
        assert code_of(name) == code
        assert name_of(code) == name
    assert code_of("F13") == 183
    assert code_of("key-600") == 600
    assert code_of("key-9999") is None
    assert code_of("pedal") is None


def test_a_typed_message_is_a_reading() -> None:
    typist, reads = Typist(), receiver()

    items = reads.receive(typist.feed(typed("25.400 MM\n-0.010\n")), Stamp("now", 5))

    assert told(items) == ["25.400", "-0.010"]
    assert isinstance(items[0], Reading)
    assert items[0].raw == b"25.400 MM\n"
    assert items[0].unit == "mm"


def test_a_key_that_types_nothing_spoils_its_message_alone() -> None:
    reads = receiver()

    items = reads.receive(b"1.0\n2." + mark("f5") + b"5\n3.0\n", Stamp("now", 5))

    assert told(items) == ["1.0", "unknown-key", "3.0"]
    spoilt = whole(items[1])
    assert spoilt.raw == b"2.<f5>5\n"
    assert "f5" in spoilt.detail
    assert spoilt.instrument == "mike"


def test_lost_events_spoil_the_message_in_hand_up_to_its_end() -> None:
    reads = receiver()
    stamp = Stamp("now", 5)

    assert told(reads.receive(b"1", stamp)) == []
    assert told(reads.receive(mark(LOST), stamp)) == []
    assert told(reads.receive(b"2.5", stamp)) == []
    items = reads.receive(b"0\n7.000\n", stamp)

    assert told(items) == [LOST, "7.000"]
    assert whole(items[0]).raw == b"1<events-lost>2.50\n"


def test_lost_events_count_more_than_a_strange_key() -> None:
    items = receiver().receive(mark("f5") + mark(LOST) + b"1\n", Stamp("now", 5))

    assert told(items) == [LOST]


def test_a_spoilt_message_without_an_end_is_told_after_the_silence() -> None:
    reads = receiver()

    assert reads.receive(b"4" + mark("f5"), Stamp("now", 1_000)) == []
    due = reads.due

    assert due is not None
    assert due > 1_000
    assert reads.silence(due - 1) == []
    assert told(reads.silence(due)) == ["unknown-key"]
    assert reads.due is None
    assert told(reads.receive(b"4.5\n", Stamp("later", due))) == ["4.5"]


def test_a_spoilt_message_is_told_when_the_port_is_lost() -> None:
    reads = receiver()
    reads.receive(b"4" + mark("f5") + b"2", Stamp("now", 5))

    items = reads.drain()

    assert told(items) == ["unknown-key"]
    assert whole(items[0]).raw == b"4<f5>2"
