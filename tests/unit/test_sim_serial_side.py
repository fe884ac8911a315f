"""Simulated cables: pseudo-terminals with a name that stays."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
import serial

from simulators.serial_side import Cable, CableStuck, NoPseudoTerminals, open_raw_pair

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "ports" / "cable-1"


@pytest.fixture
def cable(path: Path) -> Iterator[Cable]:
    one = Cable(path)
    yield one
    one.close()


def test_every_byte_arrives_unchanged(cable: Cable) -> None:
    with serial.Serial(str(cable.path), timeout=5) as port:
        cable.write(bytes(range(256)))
        assert port.read(256) == bytes(range(256))


def test_what_was_pressed_before_a_driver_opens_is_kept_as_a_terminal_does(cable: Cable) -> None:
    cable.write(b"early\r\n")
    descriptor = os.open(cable.path, os.O_RDWR | os.O_NOCTTY)
    try:
        assert os.read(descriptor, 100) == b"early\r\n"
    finally:
        os.close(descriptor)


def test_a_vanished_port_hangs_up_and_can_come_back_by_the_same_name(
    cable: Cable, path: Path
) -> None:
    with serial.Serial(str(path), timeout=5) as port:
        cable.vanish()
        assert not path.exists()
        with pytest.raises(serial.SerialException):
            port.read(1)
    cable.plug_in()
    with serial.Serial(str(path), timeout=5) as port:
        cable.write(b"back\r\n")
        assert port.read(6) == b"back\r\n"


def test_it_can_come_back_under_another_name(cable: Cable, path: Path) -> None:
    cable.vanish()
    cable.plug_in(path.with_name("cable-2"))
    assert not path.exists()
    with serial.Serial(str(path.with_name("cable-2")), timeout=5) as port:
        cable.write(b"x")
        assert port.read(1) == b"x"


def test_requests_reach_the_instrument_and_answers_the_driver(path: Path) -> None:
    asked: list[bytes] = []

    def answer(request: bytes) -> None:
        asked.append(request)
        asked_one.write(b"+1.000 mm\r\n")

    asked_one = Cable(path, answer)
    try:
        for _ in range(2):
            with serial.Serial(str(path), timeout=5) as port:
                port.write(b"V\r")
                assert port.read(11) == b"+1.000 mm\r\n"
            asked_one.vanish()
            asked_one.plug_in()
    finally:
        asked_one.close()
    assert b"".join(asked) == b"V\rV\r"
    assert not [each for each in threading.enumerate() if "cable" in each.name]


def test_a_cable_nobody_reads_says_so(cable: Cable) -> None:
    with pytest.raises(CableStuck, match="nobody reads it"):
        cable.write(bytes(1_000_000), timeout=0.05)


def test_an_unplugged_cable_says_so(cable: Cable) -> None:
    cable.vanish()
    with pytest.raises(CableStuck, match="not plugged in"):
        cable.write(b"x")


def test_without_pseudo_terminals_the_error_names_what_to_do(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delattr(os, "openpty")
    with pytest.raises(NoPseudoTerminals, match=r"Linux or macOS, or use the RFC 2217 server"):
        open_raw_pair()
