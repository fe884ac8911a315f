"""``witnessmark capture`` of bytes, and what reads them later."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import subprocess
import tty
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from api.cli.record import _appending
from simulators.ble.gauges import LINE_OUT, describing, line
from simulators.rfc2217_server import Rfc2217Server
from simulators.uart import LineSettings
from tests import cli_radio
from tests.ble import needs_bus
from tests.served import ROOT, command, run

pytestmark = pytest.mark.timeout(120)


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """A pseudo-terminal: the side a device would hold, and the name of the other."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    yield ours, os.ttyname(theirs)
    os.close(ours)
    os.close(theirs)


class Capture:
    """``witnessmark capture`` running on a port."""

    def __init__(self, *words: str, **more: Any) -> None:
        self.process = subprocess.Popen(
            command("capture", *words),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            **more,
        )
        self.err = ""

    def told(self, words: str) -> None:
        """Waits for it on standard error."""
        assert self.process.stderr is not None
        while words not in self.err:
            said = self.process.stderr.readline()
            assert said, f"it ended without saying {words!r}: {self.err}"
            self.err += said

    def end(self, by: int | None = signal.SIGINT) -> list[dict[str, Any]]:
        """Its lines, once ended."""
        if by is not None:
            self.process.send_signal(by)
        out, err = self.process.communicate(timeout=30)
        self.err += err
        return [json.loads(row) for row in out.splitlines()]


def test_bytes_come_out_as_lines_that_other_commands_read(
    terminal: tuple[int, str], tmp_path: Path
) -> None:
    ours, name = terminal
    running = Capture(name, "--baud", "4800", "--parity", "even", "--data-bits", "7", "--json")
    running.told(f"{name} is open: press the gauge's button. Ctrl-C ends it.")
    os.write(ours, b"25.400\r\n")
    running.told("8 bytes  25.400\\r\\n")
    os.write(ours, b"\x02\xff")
    running.told("2 bytes  02 ff")
    head, first, second = running.end()

    assert running.process.returncode == 0
    assert "Traceback" not in running.err
    assert head.pop("time").endswith("Z")
    assert head.pop("witnessmark")
    assert head == {
        "capture": 1,
        "port": name,
        "baud": 4800,
        "data_bits": 7,
        "parity": "even",
        "stop_bits": 1,
        "gap_ms": 50.0,
    }
    assert head.keys().isdisjoint({"user", "host", "computer"})
    assert (first["hex"], second["hex"]) == ("32 35 2e 34 30 30 0d 0a", "02 ff")
    assert set(first) == {"time", "hex"}  # "at" is left for the size, which a person adds
    assert first["time"] < second["time"]
    (tmp_path / "capture.jsonl").write_text(
        "\n".join(json.dumps(row) for row in ({"capture": 1}, first)) + "\n", "utf-8"
    )
    said = run(
        "decode", "--profile", "decimal-line", "--hex-lines", str(tmp_path / "capture.jsonl")
    )
    assert said.stdout == '{"value":"25.400","unit":null}\n'
    assert said.returncode == 0


def test_decode_passes_over_heads_and_remarks_and_nothing_else() -> None:
    lines = (
        '{"capture":1}\n{"time":"x","remark":"it is back"}\n{"time":"x","hex":"31 2e 35 0d 0a"}\n'
        '{"time":"x"}\n{"hex":"zz"}\n'
    )
    said = run("decode", "--profile", "decimal-line", "--hex-lines", given=lines.encode())
    rows = [json.loads(row) for row in said.stdout.splitlines()]
    assert rows[0] == {"value": "1.5", "unit": None}
    assert ["error" in row for row in rows] == [False, True, True]
    assert said.returncode == 1


def test_a_file_is_added_to_and_is_whole_after_ctrl_c(
    terminal: tuple[int, str], tmp_path: Path
) -> None:
    ours, name = terminal
    file = tmp_path / "presses.jsonl"
    for number, by in enumerate((signal.SIGINT, signal.SIGTERM)):
        running = Capture(name, "--save", str(file), "--gap", "5000")
        running.told("is open")
        os.write(ours, b"%d.500\r\n" % number)
        # the burst has not ended by silence when it is stopped: it is written all the same
        _read_by_the_other(ours)
        assert running.end(by) == []
        assert running.process.returncode == 0
        assert f"1 bursts in {file}." in running.err
    rows = [json.loads(row) for row in file.read_text("utf-8").splitlines()]
    assert [row.get("hex") for row in rows] == [
        None,
        b"0.500\r\n".hex(" "),
        None,
        b"1.500\r\n".hex(" "),
    ]


def _read_by_the_other(ours: int) -> None:
    """Waits until what was written has been read."""
    import fcntl
    import struct
    import termios

    from tests.support import eventually

    def drained() -> bool:
        waiting: bytes = fcntl.ioctl(ours, termios.TIOCOUTQ, bytes(4))
        return bool(struct.unpack("i", waiting)[0] == 0)

    eventually(drained, "it was read")


def test_a_gap_joins_what_belongs_together_and_a_count_ends_it(
    terminal: tuple[int, str],
) -> None:
    ours, name = terminal
    running = Capture(name, "--gap", "400", "--count", "1")
    running.told("is open: press the gauge's button.\n")
    os.write(ours, b"12.")
    os.write(ours, b"345\r\n")
    rows = running.end(None)
    assert [row["hex"] for row in rows[1:]] == [b"12.345\r\n".hex(" ")]
    assert running.process.returncode == 0


def test_a_port_that_is_lost_is_a_remark_and_no_end(tmp_path: Path) -> None:
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    real, name = os.ttyname(theirs), tmp_path / "port"
    name.symlink_to(real)
    os.close(theirs)
    running = Capture(str(name))
    running.told("is open")
    os.write(ours, b"1\r\n")
    running.told("3 bytes")
    os.close(ours)
    running.told("vanished")
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    name.unlink()
    name.symlink_to(os.ttyname(theirs))
    os.close(theirs)
    running.told("it is back")
    os.write(ours, b"2\r\n")
    running.told("3 bytes  2")
    rows = running.end()
    os.close(ours)
    said = [row.get("hex") or row.get("remark", "") for row in rows[1:]]
    assert (said[0], said[-2], said[-1]) == ("31 0d 0a", "it is back", "32 0d 0a")
    assert "vanished" in said[1]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("/dev/no-such-port",), "error: cannot open /dev/no-such-port: there is no such port."),
        (("/dev/null",), "error: cannot open /dev/null: it is no serial port."),
        (("ftp://bench:1",), "error: PORT: 'ftp://bench:1' is no address a port can be opened at."),
        (("keys:Invented",), "error: PORT: keys:Invented types keys, which are no bytes."),
        (("ble://",), "error: PORT: 'ble://' names no Bluetooth device"),
        (("ble://g", "--notify", "x"), "error: --notify: 'x' is no UUID."),
        (("COM3", "--notify", "x"), "error: --notify: only a ble:// port has characteristics."),
    ],
)
def test_a_port_that_cannot_be_opened_ends_it_with_the_mend(
    words: tuple[str, ...], told: str
) -> None:
    said = run("capture", *words)
    assert said.returncode == 2
    assert said.stderr.startswith(told)
    assert "Mend: " in said.stderr
    assert said.stdout == ""


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--unit", "mm"), "--unit: it says how readings are shown: name a PROFILE"),
        (("decimal-line", "--save", "x"), "--save: only bytes are saved: leave the profile out"),
        (("decimal-line", "--profile", "decimal-line"), "the profile is named twice"),
    ],
)
def test_options_that_do_not_go_together_say_so(words: tuple[str, ...], told: str) -> None:
    said = run("capture", "/dev/no-such-port", *words)
    assert said.returncode == 2
    assert told in said.stderr


def test_a_profile_may_be_an_option_too(terminal: tuple[int, str]) -> None:
    ours, name = terminal
    running = Capture(name, "--profile", "decimal-line", "--count", "1", "--json")
    running.told("ready")
    os.write(ours, b"25.400\r\n")
    (row,) = running.end(None)
    assert row["digits"] == "25.400"


def test_nothing_but_a_capture_is_added_to(tmp_path: Path) -> None:
    other = tmp_path / "bench.toml"
    other.write_text('title = "mine"\n', "utf-8")
    said = run("capture", "/dev/no-such-port", "--save", str(other))
    assert said.returncode == 2
    assert "is there already and is no capture. Mend: name another file" in said.stderr
    assert other.read_text("utf-8") == 'title = "mine"\n'


def test_half_a_line_of_a_computer_that_lost_its_power_is_ended_first(tmp_path: Path) -> None:
    file = tmp_path / "presses.jsonl"
    file.write_text('{"capture":1}\n{"time":"2026', "utf-8")
    os.close(_appending(file))
    assert file.read_text("utf-8") == '{"capture":1}\n{"time":"2026\n'
    os.close(_appending(file))
    assert file.read_text("utf-8").count("\n") == 2


def test_a_disk_that_is_full_ends_it_with_the_reason(terminal: tuple[int, str]) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("this system has no /dev/full")
    _, name = terminal
    said = run("capture", name, "--save", "/dev/full")
    assert said.returncode == 2
    assert "error: /dev/full: No space left on device. Mend: " in said.stderr


@needs_bus
async def test_a_radio_is_recorded_with_the_characteristic_that_sent() -> None:
    async with cli_radio.adapter() as daemon:
        gauge = daemon.add(line())
        process = await cli_radio.begin(daemon, "capture", "ble://Invented%20line")
        await cli_radio.told(process, "is open: press the gauge's button")
        assert daemon.notify(gauge, gauge.characteristic(LINE_OUT), b"+1.000 mm\r")
        await cli_radio.told(process, "10 bytes  +1.000 mm\\r")
        said = await cli_radio.interrupt(process)
    assert said.code == 0
    head, press = (json.loads(row) for row in said.out.splitlines())
    assert head["port"] == "ble://Invented%20line"
    assert head["characteristics"] == [LINE_OUT]
    assert "baud" not in head
    assert (press["hex"], press["characteristic"]) == (b"+1.000 mm\r".hex(" "), LINE_OUT)
    assert not gauge.connected


@needs_bus
async def test_a_characteristic_that_is_not_there_is_said() -> None:
    async with cli_radio.adapter() as daemon:
        daemon.add(describing())
        process = await cli_radio.begin(
            daemon, "capture", "ble://C2:00:00:00:00:01", "--notify", LINE_OUT
        )
        said = await cli_radio.end(process)
    assert said.code == 2
    assert f"ble://C2:00:00:00:00:01 has no characteristic {LINE_OUT} that sends" in said.err


async def test_a_network_port_is_recorded_with_no_more_settings_than_it_has() -> None:
    connected: asyncio.Queue[asyncio.StreamWriter] = asyncio.Queue()

    async def serve(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        connected.put_nowait(writer)

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    host, port = server.sockets[0].getsockname()
    process = await cli_radio.begin(None, "capture", f"socket://{host}:{port}", "--count", "1")
    await cli_radio.told(process, "is open")
    writer = await connected.get()
    writer.write(b"25.400\r\n")
    said = await cli_radio.end(process)
    writer.close()
    server.close()
    await server.wait_closed()
    head, press = (json.loads(row) for row in said.out.splitlines())
    assert "baud" not in head
    assert head["port"] == f"socket://{host}:{port}"
    assert press["hex"] == b"25.400\r\n".hex(" ")


async def test_a_serial_server_is_set_as_the_options_say() -> None:
    server = Rfc2217Server(LineSettings(baud=4800))
    url = await server.start()
    process = await cli_radio.begin(None, "capture", url, "--baud", "4800", "--count", "1")
    await cli_radio.told(process, "is open")
    await server.send(b"25.400\r\n")
    said = await cli_radio.end(process)
    await server.stop()
    head, press = (json.loads(row) for row in said.out.splitlines())
    assert head["baud"] == 4800
    assert press["hex"] == b"25.400\r\n".hex(" ")
