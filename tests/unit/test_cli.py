"""The command line, as a person or a program meets it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.running import BENCH, SPEC
from tests.served import ROOT, command, run

pytestmark = pytest.mark.timeout(120)


COMMANDS = (
    "demo",
    "serve",
    "instruments",
    "decode",
    "capture",
    "spec",
    "calculate",
    "sheet",
    "verify",
    "export",
)


# the command itself ------------------------------------------------------------------------------


def test_help_names_every_command() -> None:
    said = run("--help")
    assert said.returncode == 0
    for name in COMMANDS:
        assert f"  {name} " in said.stdout


@pytest.mark.parametrize(
    "name", [*COMMANDS, "spec check", "spec walk", "spec starter", "spec schema"]
)
def test_every_command_has_help(name: str) -> None:
    said = run(*name.split(), "--help")
    assert said.returncode == 0
    assert said.stdout.startswith("Usage: witnessmark ")


def test_help_loads_nothing_heavy() -> None:
    """Start-up counts: what only some commands need is loaded by those."""
    code = (
        "import sys, api.cli; sys.argv = ['witnessmark', '--help']\n"
        "try: api.cli.main()\n"
        "except SystemExit: pass\n"
        "heavy = {'fastapi', 'uvicorn', 'pydantic', 'sqlite3', 'serial', 'cryptography', 'rich',"
        " 'asyncio', 'jinja2', 'orjson', 'capture', 'drivers', 'starlette'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    # Measuring coverage in the child would load sqlite3 there.
    unmeasured = {name: value for name, value in os.environ.items() if "COVERAGE" not in name}
    said = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=30,
        env=unmeasured,
    )
    assert said.stderr.strip() == "[]"


@pytest.mark.parametrize(
    ("wrong", "right"),
    [("sreve", "serve"), ("verfy", "verify"), ("Demo", "demo"), ("instrument", "instruments")],
)
def test_a_mistyped_command_is_answered_with_the_nearest(wrong: str, right: str) -> None:
    said = run(wrong)
    assert said.returncode == 2
    assert f"Did you mean '{right}'?" in said.stderr


def test_a_command_like_none_suggests_none() -> None:
    said = run("xyzzy")
    assert said.returncode == 2
    assert "xyzzy" in said.stderr
    assert "Did you mean" not in said.stderr


# readings without a service ----------------------------------------------------------------------


def test_decode_reads_bytes(tmp_path: Path) -> None:
    (tmp_path / "wire").write_bytes(b"+25.400 mm\r\n-0.012 mm\r\n")
    said = run("decode", "decimal-line", str(tmp_path / "wire"), "--json")
    assert said.returncode == 0
    found = [json.loads(line) for line in said.stdout.splitlines()]
    assert [(one["digits"], one["unit"]) for one in found] == [("25.400", "mm"), ("-0.012", "mm")]
    assert bytes.fromhex(found[0]["raw"]).startswith(b"+25.400")


def test_decode_reads_hex_from_standard_input() -> None:
    said = run("decode", "decimal-line", "--hex", given=b"32 35 2e 34 30 30 0d 0a")
    assert said.returncode == 0
    assert said.stdout.startswith("25.400")


def test_decode_says_what_makes_no_reading(tmp_path: Path) -> None:
    (tmp_path / "wire").write_bytes(b"garbage\r\n25.400\r\n")
    said = run("decode", "decimal-line", str(tmp_path / "wire"), "--json")
    assert said.returncode == 1
    assert [json.loads(line)["ok"] for line in said.stdout.splitlines()] == [False, True]


def test_decode_of_nothing_says_so(tmp_path: Path) -> None:
    (tmp_path / "wire").write_bytes(b"")
    for words in ((str(tmp_path / "wire"),), ("--hex",)):
        said = run("decode", "decimal-line", *words, given=b"")
        assert said.returncode == 2
        assert "is empty. Mend: " in said.stderr
        assert said.stdout == ""


FULL = Path("/dev/full")


@pytest.mark.skipif(not FULL.exists(), reason="this platform has no /dev/full")
@pytest.mark.parametrize(
    "words", [("decode", "decimal-line", "--hex"), ("instruments",), ("decode", "--help")]
)
def test_an_output_that_is_full_is_one_line_with_the_mend(words: tuple[str, ...]) -> None:
    with FULL.open("wb") as full:
        said = subprocess.run(
            command(*words),
            input=b"32 35 0d 0a",
            stdout=full,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            timeout=30,
        )
    assert said.returncode == 2
    told = said.stderr.decode()
    assert told.startswith("error: the output could not be written: No space left")
    assert told.count("\n") == 1
    assert "Mend: " in told


def test_decode_with_no_such_profile() -> None:
    said = run("decode", "no-such-profile", given=b"25.400\r\n")
    assert said.returncode == 2
    assert "no-such-profile" in said.stderr


def test_instruments_of_a_bench(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    said = run("instruments", "--bench", str(tmp_path / "bench.toml"), "--json")
    assert said.returncode == 0
    body = json.loads(said.stdout)
    assert [one["id"] for one in body["instruments"]] == ["mic-1", "bore-1"]
    assert isinstance(body["ports"], list)


@pytest.fixture
def terminal() -> Iterator[tuple[int, str]]:
    """A pseudo-terminal: the side a device would hold, and the name of the other."""
    pty = pytest.importorskip("pty", reason="this platform has no pseudo-terminals")
    ours, theirs = pty.openpty()
    name = os.ttyname(theirs)
    yield ours, name
    os.close(ours)
    os.close(theirs)


def test_capture_prints_what_comes_and_stores_nothing(
    terminal: tuple[int, str], tmp_path: Path
) -> None:
    ours, name = terminal
    process = subprocess.Popen(
        command("capture", name, "decimal-line", "--count", "2", "--json"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert process.stderr is not None
    said = ""
    while "ready" not in said:
        line = process.stderr.readline()
        assert line, "it ended before its port was open"
        said += line
    assert "Nothing is stored" in said
    os.write(ours, b"25.400\r\n25.401 mm\r\n")
    out, _ = process.communicate(timeout=20)
    assert process.returncode == 0
    assert [json.loads(line)["digits"] for line in out.splitlines()] == ["25.400", "25.401"]


def test_capture_takes_the_settings_of_a_port() -> None:
    from api.cli.capture import Line, one_port

    line = Line("/dev/tty1", "decimal-line", "in", "0.0001", None, 4800, 7, "even", "1.5")
    (port,) = one_port(line).ports
    found = port.settings
    assert (found.device, found.baud, found.data_bits) == ("/dev/tty1", 4800, 7)
    assert (found.parity, found.stop_bits) == ("even", 1.5)
    assert (port.instruments[0].unit, str(port.instruments[0].resolution)) == ("in", "0.0001")


def test_capture_takes_a_network_address_and_a_channel() -> None:
    from api.cli.capture import Line, one_port

    line = Line("socket://localhost:4001", "channel-line", "mm", "1", "7", 9600, 8, "none", "2")
    (port,) = one_port(line).ports
    assert port.settings.device == "socket://localhost:4001"
    assert port.instruments[0].channel == "7"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--unit", "parsec"), "error: --unit: Unit 'parsec' is not known."),
        (("--resolution", "x"), "error: --resolution: 'x' is no number. Mend: write it like 0.001"),
        (("--channel", "3"), "error: --channel: the profile decimal-line has no channels."),
    ],
)
def test_capture_names_the_option_that_is_wrong(words: tuple[str, ...], told: str) -> None:
    said = run("capture", "/dev/no-such-port", "decimal-line", *words)
    assert said.returncode == 2
    assert said.stderr.startswith(told)
    assert "bench.toml" not in said.stderr
    assert "no instrument" not in said.stderr


def test_capture_names_profile_and_port_when_they_are_wrong() -> None:
    said = run("capture", "/dev/no-such-port", "no-such-profile")
    assert said.stderr.startswith("error: PROFILE: the profile 'no-such-profile' cannot be used")
    said = run("capture", "ftp://bench:1", "decimal-line")
    assert said.stderr.startswith("error: PORT: 'ftp://bench:1' is no address")
    said = run("capture", "/dev/no-such-port", "channel-line")
    assert "Mend: give it, like --channel 1." in said.stderr


# specs and stores --------------------------------------------------------------------------------


def test_spec_check_finds_nothing_in_a_right_one(tmp_path: Path) -> None:
    (tmp_path / "pump.toml").write_text(SPEC, "utf-8")
    said = run("spec", "check", str(tmp_path / "pump.toml"), "--json")
    assert said.returncode == 0
    assert json.loads(said.stdout)["ok"] is True


def test_spec_check_lists_every_error(tmp_path: Path) -> None:
    wrong = SPEC.replace('unit = "mm"', 'unit = "parsec"').replace("count = 2", "count = 0")
    (tmp_path / "pump.toml").write_text(wrong, "utf-8")
    said = run("spec", "check", str(tmp_path / "pump.toml"), "--json")
    assert said.returncode == 1
    errors = json.loads(said.stdout)["errors"]
    assert len(errors) >= 2
    assert all(error["line"] and error["mend"] for error in errors)
    assert run("spec", "check", str(tmp_path / "none.toml")).returncode == 2
