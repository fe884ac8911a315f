"""Any bytes in any chunks give the same messages and framing errors, and lose nothing."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from drivers.framing.check import Check
from drivers.framing.frame import PIECE, Fault, Item
from drivers.framing.framing import Framing

SECOND = 1_000_000_000
XOR = Check("xor", -1, (1, -1))
FRAMINGS = {
    "line": Framing("terminator", 16, terminators=(b"\r", b"\n")),
    "crlf": Framing("terminator", 16, terminators=(b"\r\n",)),
    "three-byte terminator": Framing("terminator", 8, terminators=(b"aab",)),
    "line with check": Framing(
        "terminator", 16, terminators=(b"\r",), check=Check("xor", -3, (0, -3), written="hex")
    ),
    "start-stop": Framing("start-stop", 12, start=b"\x02", stop=b"\x03", after_stop=1),
    "start-stop with check": Framing(
        "start-stop", 12, start=b"\x02", stop=b"\x03", after_stop=1, check=XOR
    ),
    "long start and stop": Framing("start-stop", 10, start=b"\x02\x02", stop=b"\x03\r"),
    "fixed": Framing("fixed", 5),
    "marked": Framing("fixed", 5, start=b"\x02"),
    "marked twice, with check": Framing("fixed", 5, start=b"\x02\x02\x03", check=XOR),
    "silence": Framing("silence", 12, gap=SECOND),
    "stop at the end of the start": Framing("start-stop", 12, start=b"a\r", stop=b"\r"),
    "stop begins in the start": Framing("start-stop", 12, start=b"a\r", stop=b"\r\n"),
    "line of seven bits": Framing("terminator", 16, terminators=(b"\r", b"\n"), seven_bits=True),
    "crlf of seven bits": Framing("terminator", 16, terminators=(b"\r\n",), seven_bits=True),
    "start-stop of seven bits": Framing(
        "start-stop", 12, start=b"\x02", stop=b"\x03", after_stop=1, check=XOR, seven_bits=True
    ),
}

CODES = {"noise", "too-long", "check", "incomplete"}

# bytes that mean something to the framings above come often, in runs too
_telling = st.sampled_from([b"\x02", b"\x03", b"\r", b"\n", b"\r\n", b"a", b"aab", b"1.5", b"00"])
_wire = st.lists(st.one_of(_telling, st.binary(max_size=4), st.just(b"\x02" * 9)), max_size=60)
streams = st.one_of(_wire.map(b"".join), st.binary(max_size=3 * PIECE))
framings = st.sampled_from(sorted(FRAMINGS))


@st.composite
def chunked(draw: st.DrawFn) -> list[bytes]:
    """One stream in chunks."""
    stream = draw(streams)
    cuts = sorted(draw(st.lists(st.integers(0, len(stream)), max_size=8)))
    edges = [0, *cuts, len(stream)]
    return [stream[a:b] for a, b in itertools.pairwise(edges)]


def read(name: str, chunks: list[bytes]) -> list[Item]:
    """What comes of the chunks, all at one time, and of the end."""
    framer = FRAMINGS[name].framer()
    return [item for chunk in chunks for item in framer.feed(chunk, 0)] + framer.drain()


@given(name=framings, chunks=chunked())
def test_the_cuts_change_nothing(name: str, chunks: list[bytes]) -> None:
    whole = b"".join(chunks)

    items = read(name, chunks)

    assert items == read(name, [whole])
    assert items == read(name, [whole[i : i + 1] for i in range(len(whole))])


@given(name=framings, chunks=chunked())
def test_only_messages_and_named_faults_come_and_no_byte_is_lost(
    name: str, chunks: list[bytes]
) -> None:
    framing = FRAMINGS[name]

    items = read(name, chunks)

    for item in items:
        if isinstance(item, Fault):
            assert item.code in CODES
            assert 0 < len(item.raw) <= PIECE
        else:
            assert 0 < len(item) <= framing.limit
    left = b"".join(chunks)
    for item in items:  # only the ends of empty lines may be missing between them
        left = _after_empty_lines(left, framing)
        raw = item.raw if isinstance(item, Fault) else item
        assert left.startswith(raw)
        left = left.removeprefix(raw)
    assert _after_empty_lines(left, framing) == b""


def _after_empty_lines(stream: bytes, framing: Framing) -> bytes:
    def seen(at: int) -> bytes:
        ahead = stream[at : at + 3]
        return bytes(byte & 0x7F for byte in ahead) if framing.seven_bits else ahead

    at = 0
    while framing.terminators and seen(at).startswith(framing.terminators):
        at += len(next(mark for mark in framing.terminators if seen(at).startswith(mark)))
    return stream[at:]


@given(name=framings, chunks=chunked(), gaps=st.lists(st.integers(0, 3 * SECOND), min_size=9))
def test_the_same_times_give_the_same(name: str, chunks: list[bytes], gaps: list[int]) -> None:
    def run(byte_by_byte: bool) -> list[Item]:
        framer = FRAMINGS[name].framer()
        items: list[Item] = []
        now = 0
        for chunk, gap in zip(chunks, gaps, strict=False):
            now += gap
            items += framer.silence(now)
            if byte_by_byte:
                for i in range(len(chunk)):
                    items += framer.feed(chunk[i : i + 1], now)
            elif chunk:
                items += framer.feed(chunk, now)
        return items + framer.drain()

    assert run(byte_by_byte=True) == run(byte_by_byte=False)


@given(name=framings, noise=streams)
def test_after_noise_and_a_silence_a_good_message_is_read(name: str, noise: bytes) -> None:
    good = {
        "line": b"1.5\r",
        "crlf": b"1.5\r\n",
        "three-byte terminator": b"1.5aab",
        "line with check": b"1.52A\r",
        "start-stop": b"\x021.5\x03x",
        "start-stop with check": b"\x021.5\x03" + bytes([ord("1") ^ ord(".") ^ ord("5") ^ 3]),
        "long start and stop": b"\x02\x021.5\x03\r",
        "fixed": b"1.500",
        "marked": b"\x021.50",
        "marked twice, with check": b"\x02\x02\x03\x06" + bytes([2 ^ 3 ^ 6]),
        "silence": b"1.5",
        "stop at the end of the start": b"a\r1.5\r",
        "stop begins in the start": b"a\r1.5\r\n",
        "line of seven bits": b"\xb1.\xb5\x8d",
        "crlf of seven bits": b"\xb1.\xb5\x8d\n",
        "start-stop of seven bits": b"\x82\xb1.5\x03" + bytes([ord("1") ^ ord(".") ^ ord("5") ^ 3]),
    }[name]
    framer = FRAMINGS[name].framer()
    framer.feed(noise, 0)
    framer.silence(10 * SECOND)

    items = framer.feed(good, 10 * SECOND) + framer.silence(20 * SECOND)

    assert items == [good]
