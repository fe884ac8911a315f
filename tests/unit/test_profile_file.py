"""Profile files: what they may say, and what is wrong with them, all at once."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from capture.errors import BenchError, DecodingError, Problem
from drivers.framing.framing import Framing
from drivers.profiles.load import load_profile, load_shipped, parse_profile, shipped_names

FRAME = '[frame]\nkind = "terminator"\nterminators = ["\\r"]\n'
DECODE = '[decode]\nkind = "text"\nlayout = "{number}"\n'


def problems(text: str) -> list[Problem]:
    with pytest.raises(BenchError) as caught:
        parse_profile(text.encode(), "mine", "mine.toml")
    for problem in caught.value.problems:
        assert problem.file == "mine.toml"
        assert problem.message
        assert problem.mend
    return list(caught.value.problems)


def places(text: str) -> list[tuple[int, str]]:
    return [(problem.line, problem.key) for problem in problems(text)]


def test_the_shipped_profiles_are_there_and_sound() -> None:
    assert shipped_names() == [
        "asked-decimal-line",
        "channel-line",
        "decimal-line",
        "framed-line-xor",
        "integer-le",
        "packed-bcd",
        "torque-peak-line",
        "torque-stream-block",
        "torque-stream-text",
    ]
    for name in shipped_names():
        profile = load_shipped(name)
        assert profile.name == name
        assert profile.hash == hashlib.sha256(profile.text.encode()).hexdigest()
        assert "Invented here" in profile.text


# The drawings in the profile files, byte for byte.
DRAWN = {
    "decimal-line": (b"+25.400 mm\r", ("25.400", "mm", (), None)),
    "channel-line": (b"C07 0.5000 in HB\n", ("0.5000", "in", ("hold", "low-battery"), "7")),
    "framed-line-xor": (b"\x02N+0025.400mm\x037B", ("25.400", "mm", (), None)),
    "packed-bcd": (bytes.fromhex("AA 80 02 54 00 03 D9"), ("-25.400", "mm", (), None)),
    "torque-peak-line": (
        b"#0013 PEAK 12.70 lbf.ft CCW\r",
        ("12.70", "lbf·ft", ("counterclockwise",), None),
    ),
    "torque-stream-text": (b"+12.34,+045.1,0123\r", ("12.34", "N·m", (), None)),
    "torque-stream-block": (
        bytes.fromhex("D2 4B 81 2C 01" + 10 * "2E FB C3 01" + "AF 05"),
        ("-12.34", "lbf·ft", ("low-battery",), None),
    ),
}


@pytest.mark.parametrize("name", DRAWN)
def test_a_shipped_profile_reads_its_own_drawing(name: str) -> None:
    profile = load_shipped(name)
    raw, message = DRAWN[name]

    assert profile.framing.framer().feed(raw, 0) == [raw]
    assert profile.decoding.decoder(*profile.framing.edges)(raw) == message


@pytest.mark.parametrize(
    ("name", "raw"),
    [
        ("asked-decimal-line", b"ERR\r"),
        ("framed-line-xor", b"\x02E+--------mm\x0300"),
        ("packed-bcd", bytes.fromhex("AA 40 00 00 00 00 40")),
        ("integer-le", bytes.fromhex("A5 5A 00 00 00 00 80 00 00 00")),
    ],
)
def test_a_message_without_a_value_is_known_as_such(name: str, raw: bytes) -> None:
    profile = load_shipped(name)

    with pytest.raises(DecodingError) as caught:
        profile.decoding.decoder(*profile.framing.edges)(raw)

    assert caught.value.code == "not-known"


def test_a_users_file_with_everything(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(
        """
title = "Mine"
[frame]
kind = "start-stop"
start = { hex = "02" }
stop = "\\u0003"
after_stop = 2
max_length = 40
patience_seconds = "0.5"
[check]
kind = "crc"
width = 16
polynomial = 0x8005
initial = 0xFFFF
reflected = true
order = "little"
cover = [1, -2]
[decode]
kind = "text"
layout = "{channel:1}{sign}{number}"
places = 3
[request]
send = "R{channel}\\r"
answer_seconds = "0.25"
""",
        "utf-8",
    )

    profile = load_profile(path)

    assert profile.name == "mine"
    assert profile.has_channels
    assert profile.request is not None
    assert profile.request.bytes_for("4") == b"R4\r"
    assert profile.request.answer_seconds == 0.25
    assert profile.framing.patience == 500_000_000
    assert profile.framing.edges == (1, 3)
    body = b"2+025400\x03"
    check = profile.framing.check
    assert check is not None
    raw = b"\x02" + body + check.compute(body).to_bytes(2, "little")
    assert profile.framing.framer().feed(raw, 0) == [raw]
    assert profile.decoding.decoder(1, 3)(raw) == ("25.400", None, (), "2")


@pytest.mark.parametrize(
    ("frame", "edges"),
    [
        ('kind = "silence"\ngap_seconds = "0.05"', (0, 0)),
        ('kind = "fixed"\nlength = 8', (0, 0)),
        ('kind = "fixed"\nlength = 8\nstart = "AB"\n[check]\nkind = "sum"', (2, 1)),
        ('kind = "terminator"\nterminators = ["\\r\\n"]\n[check]\nkind = "xor"\nwritten = "hex"',
         (0, 4)),
        ('kind = "start-stop"\nstart = "<"\nstop = ">"\n[check]\nkind = "sum"', (1, 2)),
    ],
)  # fmt: skip
def test_where_the_body_of_a_message_is(frame: str, edges: tuple[int, int]) -> None:
    profile = parse_profile(f"[frame]\n{frame}\n{DECODE}".encode(), "mine", "mine.toml")

    assert profile.framing.edges == edges


def test_check_before_the_stop_is_found_there() -> None:
    text = f'[frame]\nkind = "start-stop"\nstart = "<"\nstop = ">"\n[check]\nkind = "sum"\n{DECODE}'
    profile = parse_profile(text.encode(), "mine", "mine.toml")

    raw = b"<12" + bytes([ord("1") + ord("2")]) + b">"
    assert profile.framing.framer().feed(raw, 0) == [raw]
    assert profile.decoding.decoder(*profile.framing.edges)(raw)[0] == "12"


def test_every_problem_is_reported_with_its_line() -> None:
    text = """titel = "x"
[frame]
kind = "terminator"
terminators = ["\\r\\n", "\\r"]
max_length = 1
[check]
kind = "crc"
width = 12
written = "bytes"
[decode]
kind = "text"
layout = "{nummer}"
units = { mm = "furlong" }
decimal_mark = ";"
[request]
answer_seconds = 1.5
"""
    assert sorted(places(text)) == [
        (1, "titel"),
        (4, "frame.terminators"),
        (5, "frame.max_length"),
        (6, "check.polynomial"),
        (8, "check.width"),
        (12, "decode.layout"),
        (13, "decode.units"),
        (14, "decode.decimal_mark"),
        (15, "request.send"),
        (16, "request.answer_seconds"),
    ]


def test_mistyped_key_is_answered_with_the_nearest() -> None:
    (problem,) = problems(FRAME + "max_lenght = 20\n" + DECODE)

    assert (problem.line, problem.key) == (4, "frame.max_lenght")
    assert problem.mend == "did you mean max_length?"


def test_a_syntax_error_is_told_with_its_line() -> None:
    (problem,) = problems(FRAME + "[decode\n")

    assert problem.line == 4


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (DECODE, (0, "frame")),
        (FRAME, (0, "decode")),
        ('[frame]\nkind = "blink"\n' + DECODE, (2, "frame.kind")),
        ("[frame]\n" + DECODE, (1, "frame.kind")),
        ('[frame]\nkind = "terminator"\nterminators = ["€"]\n' + DECODE, (3, "frame.terminators")),
        ('[frame]\nkind = "fixed"\nlength = 2\nstart = "AB"\n' + DECODE, (3, "frame.length")),
        ('[frame]\nkind = "start-stop"\nstart = "|"\nstop = "|"\n' + DECODE, (4, "frame.stop")),
        ('[frame]\nkind = "silence"\n' + DECODE, (1, "frame.gap_seconds")),
        (FRAME + '[check]\nkind = "sum"\n' + DECODE, (4, "check.written")),
        (FRAME + '[check]\nkind = "crc"\nwritten = "hex"\n' + DECODE, (4, "check.polynomial")),
        (FRAME + '[check]\nkind = "sum"\nwritten = "hex"\ninitial = 1\n' + DECODE,
         (7, "check.initial")),
        (FRAME + '[check]\nkind = "sum"\nwritten = "hex"\ncover = [1]\n' + DECODE,
         (7, "check.cover")),
        (FRAME + '[decode]\nkind = "bcd"\n', (4, "decode.number")),
        (FRAME + '[decode]\nkind = "integer"\nnumber = { at = 300 }\n', (6, "decode.number")),
        (FRAME + '[decode]\nkind = "bcd"\nnumber = { at = 1 }\n'
         'flags = { at = 0, bits = { 9 = "x" } }\n', (7, "decode.flags.bits")),
        (FRAME + '[decode]\nkind = "integer"\nnumber = { at = 1 }\nscale = "0.1"\n'
         "exponent = { at = 2 }\n", (7, "decode.scale")),
    ],
)  # fmt: skip
def test_one_mistake_one_problem(text: str, where: tuple[int, str]) -> None:
    assert places(text) == [where]


def test_a_file_that_is_not_there_or_not_text(tmp_path: Path) -> None:
    with pytest.raises(BenchError, match="cannot be read: Is a directory"):
        load_profile(tmp_path)
    with pytest.raises(BenchError, match="is not UTF-8"):
        parse_profile(b"title = '\xff'", "mine", "mine.toml")
    with pytest.raises(BenchError, match="there is no such profile"):
        load_shipped("../load")


@pytest.mark.parametrize(
    ("name", "guess"),
    [("decimalline", "decimal-line"), ("Decimal-Line.toml", "decimal-line"), ("zzz", None)],
)
def test_a_mistyped_profile_is_answered_with_the_nearest_and_all_shipped(
    name: str, guess: str | None
) -> None:
    tries: list[Callable[[], object]] = [
        lambda: load_profile(Path(name)),
        lambda: load_shipped(name),
    ]
    for load in tries:
        with pytest.raises(BenchError) as caught:
            load()

        (problem,) = caught.value.problems
        assert str(problem).startswith(f"{name}: profile: there is no ")
        assert ": :" not in str(problem)
        assert ("did you mean" in problem.mend) == (guess is not None)
        assert guess is None or problem.mend.startswith(f"did you mean {guess}? ")
        assert ", ".join(shipped_names()) in problem.mend


@pytest.mark.parametrize("table", ["frame", "decode"])
def test_a_missing_table_is_to_be_added_as_a_table(table: str) -> None:
    (problem,) = problems(DECODE if table == "frame" else FRAME)

    assert problem.message == "is missing."
    assert problem.mend.startswith(f"add a line [{table}],")


def test_a_table_written_as_something_else_is_to_begin_with_its_header() -> None:
    (problem,) = problems('frame = "terminator"\n' + DECODE)

    assert (problem.line, problem.key) == (1, "frame")
    assert problem.mend == "begin it with a line [frame]."


def test_framing_defaults_are_those_of_the_format() -> None:
    profile = parse_profile((FRAME + DECODE).encode(), "mine", "mine.toml")

    assert profile.framing == Framing("terminator", 256, terminators=(b"\r",))
    assert profile.title == "mine"
