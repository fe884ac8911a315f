"""Starting the service from the command line."""

from __future__ import annotations

import signal
import socket
import subprocess
from pathlib import Path

import httpx
import pytest

from tests.running import BENCH, TOKEN
from tests.served import ROOT, command, run, served

pytestmark = pytest.mark.timeout(120)


# serve -------------------------------------------------------------------------------------------


def test_serve_says_where_it_listens(tmp_path: Path) -> None:
    with served(tmp_path) as up:
        health = httpx.get(f"{up['url']}/v1/health", timeout=30).json()
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
        assert httpx.get(f"{up['url']}/v1/health", timeout=30).status_code == 401
        bearer = {"Authorization": f"Bearer {TOKEN}"}
        assert httpx.get(f"{up['url']}/v1/health", headers=bearer, timeout=30).status_code == 200
