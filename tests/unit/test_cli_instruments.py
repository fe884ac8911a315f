"""``witnessmark instruments`` as a person and a program run it."""

from __future__ import annotations

import json
import os
import tty
from collections.abc import Iterator
from pathlib import Path

import pytest

from drivers.bench import parse_bench
from simulators.ble.daemon import Daemon
from simulators.ble.device import Device
from simulators.ble.gauges import VALUE, describing, industrial, integer, line
from tests import cli_radio
from tests.ble import needs_bus
from tests.served import run

pytestmark = pytest.mark.timeout(120)


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """A pseudo-terminal: the side a device would hold, and the name of the other."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    yield ours, os.ttyname(theirs)
    os.close(ours)
    os.close(theirs)


def bench(folder: Path, *rows: tuple[str, str, str]) -> str:
    text = "".join(
        f'[[instrument]]\nid = "{name}"\nkind = "gauge"\nport = "{port}"\nprofile = "{profile}"\n'
        'unit = "mm"\nresolution = "0.001"\n'
        for name, port, profile in rows
    )
    (folder / "bench.toml").write_text(f'title = "Invented bench"\n{text}', "utf-8")
    return str(folder / "bench.toml")


async def ran(daemon: Daemon | None, *words: str) -> cli_radio.Said:
    return await cli_radio.end(await cli_radio.begin(daemon, "instruments", *words))


async def test_without_bluetooth_the_list_is_there_and_says_why() -> None:
    said = await ran(None, "--seconds", "0.2")
    assert said.code == 0
    assert "Serial ports\n" in said.out
    assert (
        "Bluetooth\n  Bluetooth cannot be used: the Bluetooth service is not running (there is no "
        "system bus). Mend: start both:" in said.out
    )
    body = json.loads((await ran(None, "--seconds", "0.2", "--json")).out)
    assert body["bluetooth"]["listened"] is False
    assert body["bluetooth"]["trouble"]["mend"].startswith("start both: sudo systemctl")


async def test_bluetooth_can_be_left_alone() -> None:
    said = await ran(None, "--no-bluetooth", "--json")
    assert json.loads(said.out)["bluetooth"] == {
        "listened": False,
        "trouble": None,
        "devices": [],
    }
    assert said.err == ""


@needs_bus
async def test_devices_in_reach_with_what_each_seems_to_be_and_its_lines(tmp_path: Path) -> None:
    known = bench(tmp_path, ("wrench", "ble://C2:00:00:00:00:02", "self-describing"))
    async with cli_radio.adapter() as daemon:
        daemon.add(describing())
        daemon.add(industrial())
        daemon.add(line())
        daemon.add(Device("C2:00:00:00:00:77", "", []))
        said = await ran(daemon, "--seconds", "0.5", "--bench", known)
        asjson = await ran(daemon, "--seconds", "0.5", "--json")

    assert (said.code, asjson.code, asjson.err) == (0, 0, "")
    for words in (
        "\n  ble://C2:00:00:00:00:01  Invented gauge\n    describes its values itself (a length in",
        "signal -60 dBm; battery 80 %",
        "\n  ble://C2:00:00:00:00:02  Invented wrench  ON YOUR BENCH: wrench\n"
        "    industrial measurement service: describes its values itself\n",
        "text or bytes over a UART-like service: needs a profile",
        "battery low (15 %): change or charge it",
        "1 more heard, without a name or far away: --all lists them.",
        "On the bench: Invented bench\n  wrench  gauge  on ble://C2:00:00:00:00:02",
    ):
        assert words in said.out
    assert "NOT FOUND" not in said.out
    found = {one["address"][-2:]: one for one in json.loads(asjson.out)["bluetooth"]["devices"]}
    assert set(found) == {"01", "02", "03", "77"}
    lines = found["01"]["lines"].replace('kind = "?"', 'kind = "micrometer"')
    assert parse_bench(lines, "b.toml", Path()).instruments[0].port == "ble://C2:00:00:00:00:01"


@needs_bus
async def test_a_device_that_will_not_connect_is_listed_with_the_reason() -> None:
    async with cli_radio.adapter() as daemon:
        gauge = daemon.add(describing())
        gauge.connect_errors = [("org.bluez.Error.Failed", "le-connection-timeout")] * 9
        said = await ran(daemon, "--seconds", "0.3")
    assert said.code == 0
    assert "ble://C2:00:00:00:00:01  Invented gauge" in said.out
    assert "! ble://C2:00:00:00:00:01: connecting failed (" in said.out
    assert "for bench.toml" in said.out


def test_what_is_on_the_bench_and_not_plugged_in_is_said(tmp_path: Path) -> None:
    known = bench(
        tmp_path,
        ("mike", "/dev/ttyUSB77", "decimal-line"),
        ("net", "socket://localhost:1", "decimal-line"),
        ("typed", "typed", "typed"),
        ("radio", "ble://C2:00:00:00:00:02", "self-describing"),
    )
    said = run("instruments", "--no-bluetooth", "--bench", known)
    assert "mike  gauge  on /dev/ttyUSB77  profile decimal-line" in said.stdout
    assert said.stdout.count("NOT FOUND") == 1
    body = json.loads(run("instruments", "--no-bluetooth", "--bench", known, "--json").stdout)
    assert {one["id"]: one["within_reach"] for one in body["instruments"]} == {
        "mike": False,
        "net": None,
        "typed": None,
        "radio": None,
    }


async def test_watch_prints_a_line_for_each_press_with_its_reading(
    terminal: tuple[int, str], tmp_path: Path
) -> None:
    ours, name = terminal
    known = bench(tmp_path, ("mike", name, "decimal-line"))
    process = await cli_radio.begin(
        None, "instruments", "--watch", "--no-bluetooth", "--bench", known
    )
    await cli_radio.told(process, f"{name} is listened to")
    os.write(ours, b"25.400\r\n")
    shown = await cli_radio.line(process)
    said = await cli_radio.interrupt(process)
    assert shown.rstrip("\n").split("  ")[1:] == [name, "mike", "25.400\\r\\n", "25.400 mm"]
    assert (said.code, said.out) == (0, "")
    assert "Traceback" not in said.err


async def test_watch_takes_the_settings_of_unknown_ports_and_json(
    terminal: tuple[int, str], tmp_path: Path
) -> None:
    ours, name = terminal
    known = bench(tmp_path, ("mike", name, "decimal-line"))
    words = ("--watch", "--no-bluetooth", "--bench", known, "--json", "--baud", "4800")
    process = await cli_radio.begin(None, "instruments", *words)
    await cli_radio.told(process, f"{name} is listened to")
    os.write(ours, b"nonsense\r\n")
    body = json.loads(await cli_radio.line(process))
    said = await cli_radio.interrupt(process)
    assert body.pop("time").endswith("Z")
    why = body["readings"][0].removeprefix("not read: ")
    assert len(why) > 10
    assert body == {
        "port": name,
        "instruments": ["mike"],
        "hex": b"nonsense\r\n".hex(" "),
        "characteristic": None,
        "readings": [f"not read: {why}"],
    }
    assert said.code == 0


@needs_bus
async def test_watch_hears_radios() -> None:
    async with cli_radio.adapter() as daemon:
        gauge = daemon.add(describing())
        process = await cli_radio.begin(
            daemon, "instruments", "--watch", "--seconds", "0.3", "--json"
        )
        await cli_radio.told(process, f"ble://{gauge.address} is listened to")
        assert daemon.notify(gauge, gauge.characteristic(VALUE), integer(-1))
        body = json.loads(await cli_radio.line(process))
        said = await cli_radio.interrupt(process)
    assert (body["port"], body["characteristic"]) == (f"ble://{gauge.address}", VALUE)
    assert body["readings"] == ["-0.000001 m"]
    assert said.code == 0


def test_watch_in_a_terminal_lights_the_row(terminal: tuple[int, str], tmp_path: Path) -> None:
    """In a terminal of its own, as a person sees it."""
    import pty
    import signal
    import subprocess

    from tests.served import ROOT, command

    ours, name = terminal
    known = bench(tmp_path, ("mike", name, "decimal-line"))
    screen, inner = pty.openpty()
    words = command("instruments", "--watch", "--no-bluetooth", "--bench", known)
    env = {**os.environ, "TERM": "xterm", "COLUMNS": "110", "LINES": "40"}
    process = subprocess.Popen(words, stdin=inner, stdout=inner, stderr=inner, cwd=ROOT, env=env)
    os.close(inner)
    try:
        seen = _until(screen, b"listening")
        assert b">>>" not in seen
        os.write(ours, b"25.400\r\n")
        seen = _until(screen, b"25.400 mm")
        process.send_signal(signal.SIGINT)
        _until(screen, None)
    finally:
        code = process.wait(20)
        os.close(screen)
    assert b">>>" in seen
    assert b"mike" in seen
    assert code == 0


def _until(screen: int, words: bytes | None) -> bytes:
    """What the screen shows until it has shown ``words``, or to the end."""
    seen = b""
    while words is None or words not in seen:
        try:
            chunk = os.read(screen, 65536)
        except OSError:  # Linux: nobody has the other side open any more
            chunk = b""
        if not chunk:
            assert words is None, f"it ended without showing {words!r}: {seen!r}"
            break
        seen += chunk
    return seen
