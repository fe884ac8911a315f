"""The command line, as a person or a program meets it."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from capture.errors import CaptureError
from tests.running import BENCH, SPEC, TOKEN
from tests.served import ROOT, command, run, served
from tests.support import eventually

pytestmark = pytest.mark.timeout(120)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A store with two readings in it, closed."""
    with served(tmp_path) as up, httpx.Client(base_url=up["url"]) as http:
        for value in ("25.000", "25.001"):
            body = {"instrument": "mic-1", "value": value, "unit": "mm"}
            http.post("/v1/readings", json=body).raise_for_status()
    return tmp_path / "store"


COMMANDS = (
    "demo",
    "serve",
    "instruments",
    "decode",
    "capture",
    "spec",
    "calculate",
    "verify",
    "export",
)


# the command itself ------------------------------------------------------------------------------


def test_help_names_every_command() -> None:
    said = run("--help")
    assert said.returncode == 0
    for name in COMMANDS:
        assert f"  {name} " in said.stdout


@pytest.mark.parametrize("name", [*COMMANDS, "spec check"])
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


# serve -------------------------------------------------------------------------------------------


def test_serve_says_where_it_listens(tmp_path: Path) -> None:
    with served(tmp_path) as up:
        health = httpx.get(f"{up['url']}/v1/health").json()
        assert health["status"] == "ready"
        assert up["bench"] == health["bench"]
        assert Path(str(up["store"])) == (tmp_path / "store").resolve()


def test_serve_says_one_line_to_a_person(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    arguments = ("--bench", str(tmp_path / "bench.toml"), "--store", str(tmp_path / "s"))
    process = subprocess.Popen(
        command("serve", *arguments, "--port", "0"), stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    process.send_signal(signal.SIGINT)
    rest, _ = process.communicate(timeout=20)
    assert line.startswith("listening on http://127.0.0.1:")
    assert rest == ""
    assert process.returncode == 0


def test_a_taken_port_names_a_free_one(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    arguments = ("--bench", str(tmp_path / "bench.toml"), "--store", str(tmp_path / "s"))
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        said = run("serve", *arguments, "--port", str(port))
    assert said.returncode == 2
    assert f"port {port}" in said.stderr
    free = int(said.stderr.partition("--port ")[2].split()[0])
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", free))
    assert not (tmp_path / "s").exists(), "the store was touched although nothing could be served"


def test_two_services_on_one_store(tmp_path: Path) -> None:
    with served(tmp_path):
        paths = ("--bench", str(tmp_path / "bench.toml"), "--store", str(tmp_path / "store"))
        said = run("serve", *paths, "--port", "0")
        assert said.returncode == 2
        assert "Another service" in said.stderr
        assert "Traceback" not in said.stderr


def test_a_missing_bench_is_said_clearly(tmp_path: Path) -> None:
    said = run("serve", "--bench", str(tmp_path / "no.toml"), "--store", str(tmp_path / "s"))
    assert said.returncode == 2
    assert "no.toml" in said.stderr
    assert "Traceback" not in said.stderr


def test_a_wrong_bench_lists_every_problem(tmp_path: Path) -> None:
    wrong = BENCH.replace('resolution = "0.001"', 'resolution = "x"')
    (tmp_path / "bench.toml").write_text(wrong, "utf-8")
    paths = ("--bench", str(tmp_path / "bench.toml"), "--store", str(tmp_path / "s"))
    said = run("serve", *paths)
    assert said.returncode == 2
    assert said.stderr.count("resolution") >= 2
    assert "Traceback" not in said.stderr


@pytest.mark.parametrize("words", [(), ("--token", "short")])
def test_off_the_loopback_it_does_not_start_without_a_token(
    tmp_path: Path, words: tuple[str, ...]
) -> None:
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    paths = ("--bench", str(tmp_path / "bench.toml"), "--store", str(tmp_path / "s"))
    said = run("serve", *paths, "--host", "0.0.0.0", *words)
    assert said.returncode == 2
    assert "token" in said.stderr
    assert not (tmp_path / "s").exists()


def test_a_token_from_a_file(tmp_path: Path) -> None:
    (tmp_path / "token").write_text(TOKEN + "\n", "utf-8")
    with served(tmp_path, "--token-file", str(tmp_path / "token")) as up:
        assert httpx.get(f"{up['url']}/v1/health").status_code == 401
        bearer = {"Authorization": f"Bearer {TOKEN}"}
        assert httpx.get(f"{up['url']}/v1/health", headers=bearer).status_code == 200


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


def test_a_reader_that_goes_away_is_no_error(store: Path) -> None:
    process = subprocess.Popen(
        command("export", str(store)), stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    )
    assert process.stdout is not None
    process.stdout.close()
    process.stdout = None
    _, told = process.communicate(timeout=30)
    assert b"Traceback" not in told


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


def test_verify_finds_a_whole_store_whole(store: Path) -> None:
    said = run("verify", str(store), "--json")
    assert said.returncode == 0, said.stdout
    assert json.loads(said.stdout)["ok"] is True


def test_verify_names_the_entry_that_was_changed(store: Path) -> None:
    import sqlite3
    from contextlib import closing

    with closing(sqlite3.connect(store / "ledger.db")) as database, database:
        (seq,) = database.execute("SELECT max(press) FROM reading").fetchone()
        (data,) = database.execute("SELECT bytes FROM entry WHERE seq = ?", (seq,)).fetchone()
        changed = bytes(data).replace(b'"25.001"', b'"25.009"')
        assert changed != data
        database.execute("UPDATE entry SET bytes = ? WHERE seq = ?", (changed, seq))
    said = run("verify", str(store), "--json")
    assert said.returncode == 1
    assert seq in {problem["seq"] for problem in json.loads(said.stdout)["problems"]}


def test_verify_against_a_checkpoint_kept_elsewhere(tmp_path: Path) -> None:
    with served(tmp_path) as up, httpx.Client(base_url=up["url"]) as http:
        (tmp_path / "kept").write_text(http.get("/v1/ledger/checkpoint").text, "utf-8")
        body = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        http.post("/v1/readings", json=body).raise_for_status()
    said = run("verify", str(tmp_path / "store"), "--against", str(tmp_path / "kept"), "--json")
    assert said.returncode == 0, said.stdout + said.stderr
    other = tmp_path / "other"
    other.mkdir()
    with served(other):
        pass
    said = run("verify", str(other / "store"), "--against", str(tmp_path / "kept"), "--json")
    assert said.returncode == 1


def test_verify_and_export_of_nothing(tmp_path: Path) -> None:
    for name in ("verify", "export"):
        said = run(name, str(tmp_path / "none"))
        assert said.returncode == 2
        assert "Mend: give the folder" in said.stderr
        assert "Traceback" not in said.stderr


def test_verify_says_what_it_verified(store: Path) -> None:
    said = run("verify", str(store))
    assert said.returncode == 0
    report = json.loads(run("verify", str(store), "--json").stdout)
    first, second, counts = said.stdout.splitlines()
    assert first == f"verified: {report['size']} entries, root {report['root']}"
    assert second == f"{report['checkpoints']} signed checkpoints in the store: all fit."
    assert "2 press" in counts


def test_verify_says_that_a_checkpoint_is_continued(tmp_path: Path) -> None:
    with served(tmp_path) as up, httpx.Client(base_url=up["url"]) as http:
        kept = http.get("/v1/ledger/checkpoint").text
        body = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        http.post("/v1/readings", json=body).raise_for_status()
    said = run("verify", str(tmp_path / "store"), "--against", "-", given=kept.encode())
    assert said.returncode == 0
    size = int(kept.splitlines()[1])
    assert f"continues the checkpoint given: its first {size} entries are" in said.stdout


def test_verify_says_what_it_found_where_it_says_that_it_did_not(store: Path) -> None:
    (store / "ledger.db").write_bytes(b"no database at all, but long enough to be read" * 200)
    said = run("verify", str(store))
    assert said.returncode == 1
    assert said.stdout.startswith("NOT VERIFIED: The database itself is damaged: ")


@pytest.mark.parametrize("text", [b"", b"not a checkpoint\n", b"\xff\xfe", b"a\nb\nc\n\nd\n"])
def test_verify_against_what_is_no_checkpoint(store: Path, tmp_path: Path, text: bytes) -> None:
    (tmp_path / "kept").write_bytes(text)
    said = run("verify", str(store), "--against", str(tmp_path / "kept"))
    assert said.returncode == 2
    assert "kept is no checkpoint: " in said.stderr
    assert "Mend: " in said.stderr
    assert said.stdout == ""


@pytest.mark.parametrize("length", [0, 100, 4096])
def test_export_of_a_damaged_ledger_is_one_line(store: Path, length: int) -> None:
    data = (store / "ledger.db").read_bytes()
    (store / "ledger.db").write_bytes(data[:length] if length else b"garbage" * 1000)
    said = run("export", str(store))
    assert said.returncode == 2
    assert said.stderr.startswith("error: the ledger cannot be read: ")
    assert said.stderr.count("\n") == 1
    assert "Mend: " in said.stderr


def test_export_gives_entries_byte_for_byte(store: Path) -> None:
    import hashlib
    import sqlite3
    from contextlib import closing

    said = subprocess.run(
        command("export", str(store), "--format", "jsonl"),
        capture_output=True,
        cwd=ROOT,
        timeout=30,
    )
    assert said.returncode == 0, said.stderr
    lines = said.stdout.splitlines()
    with closing(sqlite3.connect(store / "ledger.db")) as database:
        leaves = [row[0] for row in database.execute("SELECT leaf FROM entry ORDER BY seq")]
    # RFC 9162 §2.1.1: a leaf's hash is SHA-256 over 0x00 and the entry.
    assert [hashlib.sha256(b"\x00" + line).digest() for line in lines] == leaves


# the demo ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["bench.toml", "store", "ports", "demo.json"])
def test_the_demo_overwrites_nothing_of_a_persons(tmp_path: Path, name: str) -> None:
    mine = tmp_path / name
    if name in ("store", "ports"):
        mine.mkdir()
        mine /= "file"
    mine.write_text("mine", "utf-8")
    said = run("demo", "--until-done", "--keep", str(tmp_path))
    assert said.returncode == 2
    assert f"{tmp_path / name} is there already" in said.stderr
    assert "Mend: give --keep a new folder." in said.stderr
    assert mine.read_text("utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_the_help_of_the_demo_names_every_scenario_there_is() -> None:
    there = {file.parent.name for file in ROOT.glob("simulators/scenarios/*/scenario.toml")}
    assert len(there) >= 2
    (line,) = re.findall(r"--scenario.*?(?=--open)", run("demo", "--help").stdout, re.DOTALL)
    assert all(name in line for name in there)


def test_the_progress_of_the_demo_says_that_it_starts_before_it_counts(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from api.cli.tally import STARTING, Progress

    monkeypatch.setenv("COLUMNS", "120")
    with Progress(True):
        pass
    said = capsys.readouterr().err
    assert STARTING in said
    assert "0/" not in said


@pytest.mark.parametrize("below", ["", "deeper"])
def test_the_demo_is_not_kept_in_a_file(tmp_path: Path, below: str) -> None:
    (tmp_path / "file").write_text("mine", "utf-8")
    said = run("demo", "--until-done", "--keep", str(tmp_path / "file" / below))
    assert said.returncode == 2
    assert said.stderr.count("\n") == 1
    assert "Mend: " in said.stderr


def test_a_demo_takes_its_own_folder_again_but_never_a_ledger(tmp_path: Path) -> None:
    from api.cli.demo import prepare

    prepare(tmp_path, "inline-four")
    for name in ("bench.toml", "ports"):
        (tmp_path / name).mkdir()
    prepare(tmp_path, "inline-four")
    (tmp_path / "store").mkdir()
    with pytest.raises(CaptureError, match="store is there already"):
        prepare(tmp_path, "inline-four")


@pytest.mark.skipif(sys.platform == "win32", reason="the workbench needs pseudo-terminals")
def test_the_demo_builds_the_engine_and_proves_it(tmp_path: Path) -> None:
    said = run("demo", "--until-done", "--json", "--keep", str(tmp_path / "kept"), seconds=100)
    assert said.returncode == 0, said.stderr
    assert said.stderr.startswith("bench page: http://127.0.0.1:")
    report = json.loads(said.stdout.splitlines()[-1])
    assert report["readings_sent"] == report["readings_stored"] > 100
    assert report["verified"] is True
    assert report["steps_done"] == report["steps_total"] > 100
    results = ("conforming", "nonconforming", "undecided", "not_evaluated")
    assert sum(report[name] for name in results) == report["readings_stored"]
    assert json.loads(run("verify", str(tmp_path / "kept" / "store"), "--json").stdout)["ok"]
    again = run("demo", "--until-done", "--json", "--keep", str(tmp_path / "kept"))
    assert again.returncode == 2
    assert "there already" in again.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="the workbench needs pseudo-terminals")
def test_ctrl_c_ends_the_demo_and_its_workbench(tmp_path: Path) -> None:
    process = subprocess.Popen(
        command("demo", "--no-open", "--pace", "5", "--keep", str(tmp_path / "kept")),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert process.stderr is not None
    line = process.stderr.readline()
    assert "bench page: http://127.0.0.1:" in line
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    pids = children.read_text().split() if children.exists() else []
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=30)
    assert process.returncode == 130
    left = {Path(f"/proc/{pid}") for pid in pids}
    eventually(lambda: not any(path.exists() for path in left), f"the workbench {pids} ended")
