"""The [stream] table of a profile: what it gives, and what is said where it is wrong."""

from __future__ import annotations

import pytest

from capture.errors import BenchError, Problem
from drivers.profiles.load import load_shipped, parse_profile
from drivers.profiles.profile import Profile

TEXT = """[frame]
kind = "terminator"
terminators = ["\\r"]
max_length = 32
[decode]
kind = "text"
layout = "{sign?}{number},{other}"
[stream]
interval_us = 1000
rise = "2.0"
"""
BLOCK = """[frame]
kind = "fixed"
length = 20
[decode]
kind = "integer"
number = { at = 2, bytes = 2 }
[stream]
interval_us = 2000
rise = "2.0"
"""


def loaded(text: str) -> Profile:
    return parse_profile(text.encode(), "mine", "mine.toml")


def problems(text: str) -> list[Problem]:
    with pytest.raises(BenchError) as caught:
        loaded(text)
    found = list(caught.value.problems)
    for problem in found:
        assert problem.file == "mine.toml"
        assert problem.line > 0
        assert problem.mend
    return found


def test_what_is_not_said_has_a_plain_meaning() -> None:
    stream = loaded(TEXT).stream
    assert stream is not None
    bounds = stream.bounds
    assert (bounds.interval_us, bounds.rise, bounds.rest) == (1000, 2.0, 0.5)
    assert (bounds.rest_samples, bounds.before_samples) == (500, 300)
    assert bounds.longest_samples == 60_000
    assert stream.angle is None
    assert stream.counter is None
    assert stream.block.samples == 1


def test_a_profile_without_the_table_is_of_presses() -> None:
    assert loaded(TEXT[: TEXT.index("[stream]")]).stream is None
    assert load_shipped("torque-peak-line").stream is None


def test_the_shipped_ones_say_what_their_drawings_say() -> None:
    text, block = load_shipped("torque-stream-text"), load_shipped("torque-stream-block")
    assert text.stream is not None
    assert text.stream.counter is not None
    assert (text.stream.counter.wraps, text.stream.counter.step) == (10_000, 1)
    assert block.stream is not None
    assert block.stream.counter is not None
    assert (block.stream.counter.wraps, block.stream.counter.step) == (65_536, 10)
    assert (block.stream.block.samples, block.stream.block.size) == (10, 4)


def test_a_counter_of_messages_stands_for_their_samples() -> None:
    more = "block = { samples = 8, at = 2, bytes = 2 }\n[stream.counter]\nkind = 'integer'\n"
    stream = loaded(
        BLOCK + more + 'number = { at = 0, bytes = 1 }\ncounts = "messages"\nwraps = 100\n'
    ).stream
    assert stream is not None
    assert stream.counter is not None
    counter = stream.counter
    assert (counter.step, counter.per_count, counter.wraps) == (1, 8, 100)


def test_bytes_with_a_parity_bit_left_in_are_so_for_the_angle_too() -> None:
    text = TEXT.replace("[decode]", "seven_bits = true\n[decode]")
    stream = loaded(text + '[stream.angle]\nkind = "text"\nlayout = "{other},{number}"\n').stream
    assert stream is not None
    assert stream.angle is not None
    sent = bytes(byte | 0x80 for byte in b"1.0,45.0") + b"\x8d"
    assert stream.angle.decoder(0, 1)(sent)[0] == "45.0"


WRONG = [
    (TEXT.replace("interval_us = 1000\n", ""), "stream.interval_us", "is missing."),
    (TEXT.replace('rise = "2.0"\n', ""), "stream.rise", "is missing."),
    (TEXT.replace('"2.0"', "2.5"), "stream.rise", "no number in quotes"),
    (TEXT.replace("1000", "0"), "stream.interval_us", "from 50 to 1000000"),
    (TEXT + 'rest = "2.0"\n', "stream.rest", "not below the rise"),
    (TEXT + 'before_seconds = "0.01"\n', "stream.before_seconds", "less than 0.05"),
    (TEXT + 'longest_seconds = "0.1"\n', "stream.longest_seconds", "shorter than the rest"),
    (TEXT + "longest_seconds = 5000\n", "stream.longest_seconds", "1,000,000 samples"),
    (TEXT + "before_second = 1\n", "stream.before_second", "means nothing here"),
    (TEXT + '[request]\nsend = "V"\n', "request", "comes by itself"),
    (TEXT + "block = { samples = 2, at = 0, bytes = 4 }\n", "stream.block", "one sample to a"),
    (TEXT + "[stream.angle]\nkind = 'text'\n", "stream.angle.layout", "is missing."),
    (TEXT + "[stream.angle]\n", "stream.angle.kind", "is missing."),
    (
        TEXT + "[stream.counter]\nkind = 'text'\nlayout = '{other},{number}'\n",
        "stream.counter.wraps",
        "is missing.",
    ),
    (
        BLOCK + "block = { samples = 10, at = 2, bytes = 2 }\n",
        "stream.block",
        "byte 21 would be read, and a message has 20 bytes at most",
    ),
    (
        BLOCK + "block = { samples = 2, at = 2, bytes = 8 }\n"
        "[stream.angle]\nkind = 'integer'\nnumber = { at = 11, bytes = 2 }\n",
        "stream.angle",
        "byte 20 would be read",
    ),
    ("stream = 1\n" + TEXT[: TEXT.index("[stream]")], "stream", "is no table"),
]


@pytest.mark.parametrize(("text", "key", "message"), WRONG)
def test_what_is_wrong_is_told_with_its_line_and_mend(text: str, key: str, message: str) -> None:
    (problem,) = problems(text)
    assert problem.key == key
    assert message in problem.message
