"""An unknown gauge on a serial line whose settings nobody knows: speed and parity are found."""

from __future__ import annotations

import json
import os
import struct
from decimal import Decimal
from pathlib import Path

import pytest

from drivers.bench import parse_bench
from drivers.learn.learn import decoded
from drivers.profiles.load import parse_profile
from simulators.uart import LineSettings
from tests.contract.learn_ports import Hand, learn, line

pytestmark = pytest.mark.skipif(os.name != "posix", reason="there are no pseudo-terminals")

SAID = ("0 mm", "100 mm", "63.17 mm", "-20.05 mm", "25.4 mm")


def size(said: str) -> Decimal:
    return Decimal(said.split()[0])


def plain(said: str) -> bytes:
    return f"{size(said):+09.2f} mm\r\n".encode()


def comma(said: str) -> bytes:
    return f"N{abs(size(said)):07.2f}{'-' if size(said) < 0 else '+'}\r".replace(".", ",").encode()


def implied(said: str) -> bytes:
    return f"A{'-' if size(said) < 0 else '+'}{int(abs(size(said)) * 100):07d}\n".encode()


def binary(said: str) -> bytes:
    return b"\x5a" + int(size(said) * 100).to_bytes(4, "little", signed=True) + b"\xa7"


def single(said: str) -> bytes:
    return b"\x02" + struct.pack("<f", float(size(said))) + b"\x7f"


def mended(bench: str) -> str:
    """As a person completes the lines that are printed."""
    return bench.replace('kind = "?"', 'kind = "caliper"')


CASES = [
    (LineSettings(9600), plain, 1),
    (LineSettings(4800), plain, 2),
    (LineSettings(2400, 7, "even", 1), plain, 2),
    (LineSettings(1200, 7, "odd", 1), comma, 2),
    (LineSettings(19200), implied, 3),
    (LineSettings(38400, 8, "even", 1), plain, 3),
    (LineSettings(57600, 7, "none", 2), comma, 3),
    (LineSettings(115200, 8, "odd", 1), implied, 2),
    (LineSettings(300), plain, 3),
    (LineSettings(230400), plain, 4),
    (LineSettings(4800), binary, 3),
    (LineSettings(9600), single, 3),
    (LineSettings(19200, 8, "even", 1), binary, 4),
]


@pytest.mark.parametrize(
    ("gauge", "write", "most"),
    CASES,
    ids=lambda case: getattr(case, "__name__", None)
    or (f"{case.baud:g}-{case.data_bits}{case.parity[0]}" if isinstance(case, LineSettings)
        else str(case)),
)  # fmt: skip
def test_speed_and_parity_are_found(
    gauge: LineSettings, write: type, most: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    saved = tmp_path / "mine.toml"
    with line(tmp_path / "cable", gauge) as cable:
        hand = Hand(monkeypatch, write, cable.send)
        code, out = learn(hand, SAID, str(cable.path), "--save", str(saved))
        assert code == 0, out
        assert len(cable.heard_at) <= len(SAID) + most - 1, out
        assert cable.heard_at[-1] == gauge.baud
    form = f"{gauge.data_bits}{gauge.parity[0].upper()}{int(gauge.stop_bits)}"
    assert f"The line is {int(gauge.baud)} baud, {form}." in out
    profile = parse_profile(saved.read_bytes(), "mine", str(saved))
    said = decoded(profile, write("-7.31 mm"))
    assert said is not None
    assert (Decimal(said[0]), said[1]) == (Decimal("-7.31"), "mm")
    bench = parse_bench(mended(out.split("For bench.toml:")[1]), "b.toml", tmp_path)
    settings = bench.ports[0].settings
    assert (settings.baud, settings.data_bits, settings.parity) == (
        gauge.baud, gauge.data_bits, gauge.parity
    )  # fmt: skip
    assert settings.device == str(cable.path)


@pytest.mark.parametrize(
    ("gauge", "write"),
    [(LineSettings(4800), plain), (LineSettings(38400, 7, "even", 1), comma),
     (LineSettings(19200), binary)],
    ids=["4800", "38400-7e", "19200-binary"],
)  # fmt: skip
def test_a_port_that_tells_no_errors_will_do(
    gauge: LineSettings, write: type, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with line(tmp_path / "cable", gauge, marks=False) as cable:
        hand = Hand(monkeypatch, write, cable.send)
        code, out = learn(hand, SAID, str(cable.path))
        assert code == 0, out
        assert cable.heard_at[-1] == gauge.baud
        assert len(cable.heard_at) <= len(SAID) + 3


def test_parity_beside_eight_bits_is_not_claimed_where_the_port_tells_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gauge = LineSettings(9600, 8, "even", 1)
    with line(tmp_path / "cable", gauge, marks=False) as cable:
        hand = Hand(monkeypatch, plain, cable.send)
        code, out = learn(hand, SAID, str(cable.path), "--json")
    assert code == 0, out
    said = json.loads(out.splitlines()[-1])
    assert said["line"]["baud"] == 9600
    assert said["line"]["parity"] == "none"
    assert "as far as the port tells them" in said["line"]["found"][0]
    assert "second one" in said["line"]["found"][1]


def test_settings_that_are_given_are_taken_as_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with line(tmp_path / "cable", LineSettings(9600)) as cable:
        hand = Hand(monkeypatch, plain, cable.send)
        code, out = learn(hand, SAID, str(cable.path), "--baud", "4800", "--wait", "1")
        assert set(cable.heard_at) == {4800}
        assert code == 3, out
        assert "do not look like a message" not in out
        code, out = learn(hand, SAID, str(cable.path), "--baud", "9600", "--parity", "none")
        assert code == 0, out
        assert "baud = " not in out


def test_a_cable_that_is_pulled_while_learning_is_opened_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with line(tmp_path / "cable", LineSettings(4800)) as cable:
        hand = Hand(monkeypatch, plain, cable.send)

        def pulled(presses: int) -> None:
            if presses == 3:
                cable.pull()
                cable.plug_in()

        hand.before = pulled
        code, out = learn(hand, (*SAID[:2], "1 mm", *SAID[2:]), str(cable.path))
    assert code == 0, out
    assert "vanished" in out
    assert "the 2 presses so far are kept" in out


def test_presses_that_contradict_each_other_save_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def wrong(said: str) -> bytes:
        return plain("50 mm" if said == "63.17 mm" else said)

    saved = tmp_path / "mine.toml"
    with line(tmp_path / "cable", LineSettings(9600)) as cable:
        hand = Hand(monkeypatch, wrong, cable.send)
        code, out = learn(hand, SAID, str(cable.path), "--save", str(saved))
        assert code == 3
        assert "press 3 contradicts the others" in out
        assert not saved.exists()
        # the press is taken out, and another made
        code, out = learn(hand, (*SAID, "drop 3", "12.5 mm"), str(cable.path), "--save", str(saved))
        assert code == 0, out
        assert "Press 3 is taken out." in out
        assert "It should say about 12.500 mm." in out
        assert "It says 12.50 mm." in out


def test_a_gauge_that_answers_only_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from simulators.serial_side import Cable

    asked: list[bytes] = []
    saved = tmp_path / "mine.toml"
    hand = Hand(monkeypatch, plain, lambda message: None)

    def answer(request: bytes) -> None:
        asked.append(request)
        cable.write(request + plain(hand.now))  # its line echoes what it is asked

    cable = Cable(tmp_path / "cable", answer)
    try:
        code, out = learn(
            hand, SAID, str(cable.path), "--ask", "V\\r", "--save", str(saved), "--baud", "9600"
        )
    finally:
        cable.close()
    assert code == 0, out
    assert asked == [b"V\r"] * len(SAID)
    assert "Asking the gauge…" in out
    profile = parse_profile(saved.read_bytes(), "mine", str(saved))
    assert profile.request is not None
    assert profile.request.send == b"V\r"


def test_nothing_at_all_is_said_and_other_speeds_are_tried(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with line(tmp_path / "cable", LineSettings(9600)) as cable:
        hand = Hand(monkeypatch, plain, lambda message: None)
        code, out = learn(hand, ("0 mm", "0 mm"), str(cable.path), "--wait", "0.5")
    assert code == 3
    assert "Nothing came. Is the gauge on" in out
    assert "its speed or parity may be another: trying 115200 baud" in out
