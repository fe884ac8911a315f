"""Learning a gauge from presses: formats written here by hand, apart from the corpus."""

from __future__ import annotations

import json
import struct
import time
from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

from api.cli import root
from drivers.learn.checks import find_check
from drivers.learn.learn import Learned, decoded, learn
from drivers.learn.press import Press, press_from, press_of, size_of
from drivers.profiles.load import parse_profile

SIZES = ("0", "10", "25.4", "63.17", "100", "-20.05")
Write = Callable[[Decimal], bytes]


def taught(write: Write, sizes: Sequence[str] = SIZES, unit: str = "mm") -> Learned:
    return learn([press_of(f"{size} {unit}", write(Decimal(size))) for size in sizes])


def reads(learned: Learned, raw: bytes) -> tuple[Decimal, str | None]:
    """What the profile, loaded as any other, makes of a message."""
    assert learned.profile is not None
    said = decoded(parse_profile(learned.profile.encode(), "learned", "learned"), raw)
    assert said is not None
    return Decimal(said[0]), said[1]


def plain_line(size: Decimal) -> bytes:
    return f"{size:+.2f} mm\r\n".encode()


def comma_line(size: Decimal) -> bytes:
    return f"#{abs(size):08.2f}{'-' if size < 0 else '+'}\r".replace(".", ",").encode()


def implied(size: Decimal) -> bytes:
    return f"A{'-' if size < 0 else '+'}{int(abs(size) * 100):07d}\n".encode()


def last_first(size: Decimal) -> bytes:
    return f"{'-' if size < 0 else '+'}{f'{abs(size):07.2f}'[::-1]}\r\n".encode()


def hexadecimal(size: Decimal) -> bytes:
    return f"X{int(size * 100) & 0xFFFFFF:06X}\r\n".encode()


def three_bytes(size: Decimal) -> bytes:
    return b"\xa5" + int(size * 100).to_bytes(3, "big", signed=True) + b"\x11"


def magnitude(size: Decimal) -> bytes:
    count = int(abs(size) * 100) | (0x8000 if size < 0 else 0)
    return b"\x7e\x01" + count.to_bytes(2, "little") + b"\x55"


def packed(size: Decimal) -> bytes:
    digits = bytes.fromhex(f"{int(abs(size) * 100):06d}")
    return b"\xaa" + (b"\x80" if size < 0 else b"\x00") + digits + b"\x99"


def single(size: Decimal) -> bytes:
    return b"\x02" + struct.pack("<f", float(size)) + b"\x7f"


def counts(size: Decimal) -> bytes:
    count = round(size * 20480 / Decimal("25.4"))
    return b"\xf5" + count.to_bytes(4, "little", signed=True)


def summed(size: Decimal) -> bytes:
    body = b"\x5a" + int(size * 100).to_bytes(4, "big", signed=True)
    return body + bytes([sum(body) & 0xFF])


WAYS = [
    plain_line,
    comma_line,
    implied,
    last_first,
    hexadecimal,
    three_bytes,
    magnitude,
    packed,
    single,
    counts,
    summed,
]


@pytest.mark.parametrize("write", WAYS, ids=lambda way: way.__name__)
def test_a_gauge_is_learned_and_then_read(write: Write) -> None:
    learned = taught(write)
    assert learned.sure, learned.reasons
    assert learned.reasons == []
    near = Decimal("0.002") if write is counts else Decimal(0)
    for size in ("12.34", "-0.07", "99.99", "-63.5", "0.01"):
        value, unit = reads(learned, write(Decimal(size)))
        assert abs(value - Decimal(size)) <= near, size
        assert unit == "mm"


def test_a_unit_switch_is_learned_from_one_press() -> None:
    def write(size: str, inches: bool) -> bytes:
        shown = Decimal(size) / Decimal("25.4") if inches else Decimal(size)
        count = round(shown * (10000 if inches else 100))
        return b"\xc3" + count.to_bytes(3, "little", signed=True) + (b"\x41" if inches else b"\x40")

    presses = [press_of(f"{size} mm", write(size, False)) for size in SIZES]
    learned = learn([*presses, press_of("50.8 mm", write("50.8", True), "in")])
    assert learned.sure, learned.reasons
    assert reads(learned, write("12.7", True)) == (Decimal("0.5"), "in")
    assert reads(learned, write("12.7", False)) == (Decimal("12.7"), "mm")


def test_a_check_is_found_named_and_kept_in_the_profile() -> None:
    learned = taught(summed)
    assert any("sum of the bytes" in line for line in learned.found)
    assert learned.profile is not None
    assert "[check]" in learned.profile
    broken = summed(Decimal("5"))[:-1] + b"\x00"
    assert decoded(parse_profile(learned.profile.encode(), "x", "x"), broken) is None


def test_no_check_is_seen_in_bytes_without_one() -> None:
    assert find_check([implied(Decimal(size)) for size in SIZES]) is None


def test_a_crc_is_found_from_its_published_check_value() -> None:
    # Koopman and Chakravarty, and every catalogue of CRCs: "123456789" gives 29B1 for polynomial
    # 1021, initial FFFF, not reflected. From memory.
    from binascii import crc_hqx

    assert crc_hqx(b"123456789", 0xFFFF) == 0x29B1
    messages = [
        body + crc_hqx(body, 0xFFFF).to_bytes(2, "big")
        for body in (
            b"123456789",
            b"223456789",
            b"000000001",
            b"\x01\x02\x03\x04\x05\x06\x07\x08\x09",
        )
    ]
    way = find_check(messages)
    assert way is not None
    assert (way.check.polynomial, way.check.initial, way.check.cover) == (0x1021, 0xFFFF, (0, -2))


def test_a_wrong_press_is_named_and_nothing_is_sure() -> None:
    presses = [press_of(f"{size} mm", plain_line(Decimal(size))) for size in SIZES]
    presses[2] = press_of("50 mm", plain_line(Decimal("25.4")))
    learned = learn(presses)
    assert not learned.sure
    assert "press 3 contradicts the others" in learned.reasons[0]
    assert learned.profile is None


def test_a_number_that_always_equals_the_highest_so_far_is_not_told_from_it() -> None:
    highest = Decimal(-1000)

    def write(size: Decimal) -> bytes:
        nonlocal highest
        highest = size if size < 0 else max(size, highest)  # zeroed before the negative one
        return f"{size:+08.2f} {highest:+08.2f}\r\n".encode()

    learned = taught(write)
    assert not learned.sure
    assert "another explanation fits" in learned.reasons[0]
    assert learned.next_press is not None
    assert "smaller than the one before" in learned.next_press
    highest = Decimal(-1000)
    decided = taught(write, (*SIZES[:5], "40", "-20.05"))
    assert decided.sure, decided.reasons


def test_without_a_negative_press_a_binary_sign_stays_unknown() -> None:
    learned = taught(three_bytes, SIZES[:5])
    assert not learned.sure
    assert any("negative" in reason for reason in learned.reasons)
    assert learned.profile is not None
    assert "NOT CERTAIN" in learned.profile


@pytest.mark.parametrize(
    ("presses", "why"),
    [
        ([], "least"),
        ([press_of("0 mm", b"0\r"), press_of("0 mm", b"0\r"), press_of("0 mm", b"0\r")], "least"),
        (
            [press_of("1 mm", b"1\r"), press_of("2 mm", b"1\r"), press_of("3 mm", b"1\r")],
            "the same bytes",
        ),
        (
            [press_of("1 mm", b"1\r"), press_of("2 mm", b"2\r"), press_of("3 g", b"3\r")],
            "different things",
        ),
    ],
)
def test_thin_presses_teach_nothing(presses: list[Press], why: str) -> None:
    learned = learn(presses)
    assert not learned.sure
    assert why in learned.reasons[0]
    assert learned.next_press


def test_the_next_press_is_foretold() -> None:
    assert taught(implied).expected(Decimal("12.7"), "mm") == "12.70 mm"
    assert learn([]).expected(Decimal(1), "mm") is None


def test_sizes_are_read_with_their_unit() -> None:
    assert size_of("-10,5 mm") == (Decimal("-10.5"), "mm")
    assert size_of("0.5 inch") == (Decimal("0.5"), "in")
    for wrong in ("", "mm", "10"):
        with pytest.raises(ValueError, match="10 mm"):
            size_of(wrong)
    with pytest.raises(ValueError, match="hexadecimal"):
        press_from({"at": "1 mm", "hex": "0g"})


def run(*words: str, given: str = "") -> tuple[int, str]:
    result = CliRunner().invoke(root, ["learn", *words], input=given)
    return result.exit_code, result.output


def captured(file: Path, write: Write, sizes: Sequence[str] = SIZES) -> Path:
    rows = [{"at": f"{size} mm", "hex": write(Decimal(size)).hex()} for size in sizes]
    file.write_text("".join(json.dumps(row) + "\n" for row in rows))
    return file


def test_the_command_saves_what_is_sure(tmp_path: Path) -> None:
    file, saved = captured(tmp_path / "presses.jsonl", packed), tmp_path / "profile.toml"
    code, out = run("--capture", str(file), "--save", str(saved), "--json")
    said = json.loads(out)
    assert code == 0
    assert said["sure"]
    assert said["saved"]
    assert parse_profile(saved.read_bytes(), "saved", str(saved)).title


def test_the_command_saves_nothing_that_is_not_sure(tmp_path: Path) -> None:
    file, saved = captured(tmp_path / "presses.jsonl", packed, SIZES[:5]), tmp_path / "profile.toml"
    code, out = run("--capture", str(file), "--save", str(saved))
    assert code == 3
    assert "Not sure" in out
    assert not saved.exists()


def test_the_command_names_the_line_that_is_wrong(tmp_path: Path) -> None:
    file = tmp_path / "presses.jsonl"
    file.write_text('{"at": "1 mm", "hex": "31"}\n{"at": "1 parsec", "hex": "31"}\n')
    code, out = run("--capture", str(file))
    assert code == 2
    assert f"{file}:2" in out
    assert run()[0] == 2


class Scripted:
    """An open port: each time it is listened to anew, the next message comes."""

    def __init__(self, messages: list[bytes]) -> None:
        self._messages = messages
        self._state = "quiet"
        self.closed = False

    @property
    def timeout(self) -> float:
        return 0.05

    @timeout.setter
    def timeout(self, seconds: float) -> None:
        self._state = "still"

    def read(self, size: int) -> bytes:
        if self._state == "ready" and self._messages:
            self._state = "quiet"
            return self._messages.pop(0)
        if self._state == "still":
            self._state = "ready"
        else:
            time.sleep(0.02)
        return b""

    def close(self) -> None:
        self.closed = True


def test_a_gauge_on_a_port_is_asked_for_presses_and_learned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes = ("0", "100", "63.17", "-20.05", "25.4")
    port = Scripted([implied(Decimal(size)) for size in sizes])
    monkeypatch.setattr("drivers.transports.opening.open_serial", lambda *given: port)
    saved = tmp_path / "profile.toml"
    typed = "nonsense\n" + "".join(f"{size} mm\n" for size in sizes)
    code, out = run("a-port", "--save", str(saved), given=typed)
    assert code == 0, out
    assert "write it like '10 mm'" in out
    assert "It should say 25.40 mm." in out
    assert "It should say -20.05 mm." in out
    assert saved.exists()
    assert port.closed
