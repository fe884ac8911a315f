"""The real service as a process of its own, and a client that counts acknowledgements."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

START_S = 60.0
STOP_S = 30.0
ROOT = Path(__file__).parents[3]

BENCH = """\
title = "Bench under test (invented)"

[[instrument]]
id = "typed-1"
kind = "micrometer"
port = "typed"
profile = "decimal-line"
unit = "mm"
resolution = "0.001"
"""


def write_bench(folder: Path, more: str = "") -> Path:
    """A bench.toml with one instrument whose readings are typed in."""
    path = folder / "bench.toml"
    path.write_text(BENCH + more, encoding="utf-8")
    return path


class Answer(NamedTuple):
    """Status and JSON body of one answer."""

    status: int
    body: Any


@dataclass
class Service:
    """A running service. ``pid`` is the service's own, also where a tracer started it."""

    process: subprocess.Popen[str]
    host: str
    port: int
    pid: int
    errors: list[str] = field(default_factory=list)

    def kill(self) -> None:
        """SIGKILL, as an out-of-memory killer or a pulled plug of the process would."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, signal.SIGKILL)
        self.process.wait(STOP_S)

    def stop(self) -> int:
        """SIGTERM; gives the exit code."""
        if self.process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(self.pid, signal.SIGTERM)
        return self.process.wait(STOP_S)

    def client(self, timeout: float = 20.0) -> http.client.HTTPConnection:
        """A connection of its own."""
        return http.client.HTTPConnection(self.host, self.port, timeout=timeout)

    def get(self, path: str) -> Answer:
        """One GET."""
        with contextlib.closing(self.client()) as connection:
            connection.request("GET", path)
            return _answer(connection)


def _answer(connection: http.client.HTTPConnection) -> Answer:
    response = connection.getresponse()
    data = response.read()
    kind = response.headers.get_content_type()
    body = json.loads(data) if kind.endswith("json") else data.decode()
    return Answer(response.status, body)


def _command(bench: Path, store: Path) -> list[str]:
    serve = [sys.executable, "-m", "api.cli", "serve", "--port", "0", "--json"]
    return [*serve, "--bench", str(bench), "--store", str(store)]


def start(
    bench: Path,
    store: Path,
    *,
    environment: Mapping[str, str] | None = None,
    under: Sequence[str] = (),
) -> Service:
    """Starts ``witnessmark serve`` and waits until it listens. ``under`` is a tracer's command."""
    process = subprocess.Popen(
        [*under, *_command(bench, store)],
        cwd=ROOT,
        env=dict(environment or os.environ),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    errors: list[str] = []
    assert process.stderr is not None
    threading.Thread(target=_drain, args=(process.stderr, errors), daemon=True).start()
    killer = threading.Timer(START_S, process.kill)
    killer.start()
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
    finally:
        killer.cancel()
    if not line:
        process.wait(STOP_S)
        raise AssertionError(f"the service did not start:\n{''.join(errors)}")
    url = urlsplit(json.loads(line)["url"])
    assert url.hostname is not None
    assert url.port is not None
    pid = _child(process.pid) if under else process.pid
    return Service(process, url.hostname, url.port, pid, errors)


def _drain(stream: Any, into: list[str]) -> None:
    for line in stream:
        into.append(line)


def _child(pid: int) -> int:
    return int(Path(f"/proc/{pid}/task/{pid}/children").read_text().split()[0])


@contextlib.contextmanager
def running(
    bench: Path,
    store: Path,
    *,
    environment: Mapping[str, str] | None = None,
    under: Sequence[str] = (),
) -> Iterator[Service]:
    """A service that is gone when the block ends, however it ends."""
    service = start(bench, store, environment=environment, under=under)
    try:
        yield service
    finally:
        if service.process.poll() is None:
            service.kill()
        for stream in (service.process.stdout, service.process.stderr):
            if stream is not None:
                stream.close()


def kill_while_starting(bench: Path, store: Path, *, after: float) -> None:
    """Starts a service and kills it ``after`` so many seconds, wherever it is by then."""
    with subprocess.Popen(
        _command(bench, store),
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as process:
        with contextlib.suppress(subprocess.TimeoutExpired):
            process.wait(after)
        assert process.poll() is None, "the service ended by itself"
        process.kill()


@dataclass
class Poster:
    """Types in readings, no two alike, and keeps what became of each."""

    prefix: str = "key-"
    _next: int = 0
    digits: dict[str, str] = field(default_factory=dict)
    """What was sent under each key, acknowledged or not."""
    seqs: dict[str, int] = field(default_factory=dict)
    """The seq each acknowledged key was given."""
    statuses: dict[int, int] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)
    """The key of every request, in order."""

    def post(self, connection: http.client.HTTPConnection, key: str | None = None) -> Answer:
        """Sends the next reading, or the one of ``key`` again."""
        if key is None:
            self._next += 1
            key = f"{self.prefix}{self._next}"
            self.digits[key] = f"{self._next // 1000}.{self._next % 1000:03d}"
        self.asked.append(key)
        body = {"instrument": "typed-1", "value": self.digits[key], "unit": "mm"}
        connection.request(
            "POST",
            "/v1/readings",
            json.dumps(body),
            {"Content-Type": "application/json", "Idempotency-Key": key},
        )
        answer = _answer(connection)
        self.statuses[answer.status] = self.statuses.get(answer.status, 0) + 1
        if answer.status in (200, 201):
            seq = answer.body["seq"]
            before = self.seqs.setdefault(key, seq)
            assert before == seq, f"{key} was {before} and is now {seq}"
        return answer

    def until_gone(self, connection: http.client.HTTPConnection) -> None:
        """Posts until the service is no longer there."""
        with contextlib.suppress(OSError, http.client.HTTPException):
            while True:
                self.post(connection)

    def stored_digits(self) -> dict[int, str]:
        """Acknowledged seqs and the digits sent."""
        return {seq: self.digits[key] for key, seq in self.seqs.items()}


def readings(running: Service, instrument: str) -> list[Any]:
    """All readings of one instrument, oldest first, as the service answers."""
    found: list[Any] = []
    after = 0
    while True:
        answer = running.get(f"/v1/readings?instrument={instrument}&after={after}&limit=1000")
        assert answer.status == 200, answer
        if not answer.body["readings"]:
            return found
        found += answer.body["readings"]
        after = answer.body["next"]


def joined(posters: Sequence[Poster]) -> Poster:
    """What several posters did, as one."""
    whole = Poster()
    for poster in posters:
        whole.digits |= poster.digits
        whole.seqs |= poster.seqs
    return whole


def wait_until(what: Any, seconds: float = 20.0) -> None:
    """Polls a condition; fails when it does not come true in time."""
    deadline = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < deadline, "it did not happen in time"
        time.sleep(0.02)
