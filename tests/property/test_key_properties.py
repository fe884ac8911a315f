"""However keys overlap and however reads are cut, the same text comes out; and no press is lost
without a word."""

from __future__ import annotations

import itertools
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from capture.reading import Reading, Stamp, Undecodable
from drivers.bench import parse_bench
from drivers.keys.pedal import BOUNCE, Pedal, Presses
from drivers.keys.receiver import KeyReceiver
from drivers.keys.typist import CLOSE, OPEN, Typist
from drivers.profiles.load import load_shipped
from tests.key_events import DROPPED, REPORT, change, keys_of

LETTERS = "0123456789-.,abcxyz \n"
FAR = 5
"""Events by which a release may come after its press: fast typing overlaps."""


@st.composite
def recordings(draw: st.DrawFn) -> tuple[str, bytes]:
    """A text and one of the many ways a keyboard may send it."""
    text = draw(st.text(LETTERS, max_size=30))
    due: list[tuple[int, bytes]] = []
    data = b""
    for place, (code, _) in enumerate(keys_of(text)):
        for _, release in [one for one in due if one[0] <= place]:
            data += release
        due = [one for one in due if one[0] > place]
        pressed_still = [one for one in due if one[1] == change(code, 0)]
        data += b"".join(release for _, release in pressed_still)
        due = [one for one in due if one not in pressed_still]
        data += change(code, 1)
        data += change(code, 2) * draw(st.integers(0, 3))
        due.append((place + draw(st.integers(1, FAR)), change(code, 0)))
    return text, data + b"".join(release for _, release in due)


def cut(data: bytes, places: list[int]) -> list[bytes]:
    edges = [0, *sorted(place % (len(data) + 1) for place in places), len(data)]
    return [data[a:b] for a, b in itertools.pairwise(edges)]


@given(recordings(), st.lists(st.integers(0, 10_000), max_size=12))
def test_the_same_text_whatever_the_order_and_the_pieces(
    recording: tuple[str, bytes], places: list[int]
) -> None:
    text, data = recording
    typist = Typist()

    assert b"".join(map(typist.feed, cut(data, places))) == text.encode()


@given(st.binary(max_size=400), st.lists(st.integers(0, 10_000), max_size=8))
def test_any_bytes_in_any_pieces_make_whole_marks(data: bytes, places: list[int]) -> None:
    whole, typist = Typist().feed(data), Typist()
    pieces = [typist.feed(piece) for piece in cut(data, places)]

    assert b"".join(pieces) == whole
    for piece in pieces:
        assert piece.count(OPEN) == piece.count(CLOSE)


WORDS = st.lists(
    st.sampled_from([b"1.5\n", b"-0.25 mm\n", b"7", b"\n", b"\xfff5\xfe", b"\xffevents-lost\xfe"]),
    max_size=20,
)
GAUGES = parse_bench(
    '[[instrument]]\nid = "mike"\nkind = "micrometer"\nport = "keys:Gauge"\n'
    'profile = "decimal-line"\nunit = "mm"\nresolution = "0.001"\n',
    "b.toml",
    Path(),
).instruments


def read(chunks: list[bytes]) -> list[Reading | Undecodable]:
    receiver = KeyReceiver(load_shipped("decimal-line"), "port", GAUGES)
    stamp = Stamp("now", 1)
    items = [item for chunk in chunks for item in receiver.receive(chunk, stamp)]
    return [item for item in (*items, *receiver.drain()) if isinstance(item, Reading | Undecodable)]


@given(WORDS, st.integers(1, 20))
def test_each_byte_of_text_comes_back_once_and_a_spoilt_message_never_as_a_reading(
    words: list[bytes], together: int
) -> None:
    data = b"".join(words)
    chunks = [b"".join(words[at : at + together]) for at in range(0, len(words), together)]
    items = read(chunks)
    shown = data.replace(OPEN, b"<").replace(CLOSE, b">")

    assert b"".join(item.raw for item in items).replace(b"\n", b"") == shown.replace(b"\n", b"")
    for item in items:
        assert isinstance(item, Undecodable) or b"<" not in item.raw
    assert [item.raw for item in items] == [item.raw for item in read([data] if data else [])]


TIMES = st.lists(st.integers(0, 40), min_size=1, max_size=30)


@given(TIMES, st.lists(st.integers(0, 10_000), max_size=8))
def test_presses_of_a_pedal_are_further_apart_than_a_bounce(
    steps: list[int], places: list[int]
) -> None:
    pedal = Pedal("left", "keys:Pedal", "confirm", 183)
    now, last, wanted, data = 0, None, 0, b""
    for step in steps:
        now += step * 20_000
        if last is None or now - last >= BOUNCE:
            wanted, last = wanted + 1, now
        data += change(183, 1, now) + change(183, 2, now) + change(183, 0, now)
        data += change(184, 1, now) + change(184, 0, now)
    presses = Presses([pedal])

    found = [one for piece in cut(data, places) for one in presses.feed(piece)]

    assert found == [pedal] * wanted


def test_a_loss_is_told_to_the_pedals() -> None:
    pedal = Pedal("left", "keys:Pedal", "confirm")

    pressed = Presses([pedal]).feed(change(30, 1) + DROPPED + change(30, 0) + REPORT)

    assert pressed == [pedal, None]
