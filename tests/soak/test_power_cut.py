"""A power cut at every point of the real service's writes: what was acknowledged is stored.

The service runs under the recorder from its first start on an empty store to its clean stop,
while a gauge sends presses in bursts and clients type in readings, ask for checkpoints and listen
to events. Every answer and event
is recorded with the writes and syncs. Then the power is cut, on paper, after every record: the
oracle looks at the least that a disk may hold then, and at random parts of the rest.

``SOAK_SHARE=1`` takes the random parts at every point too; ``SOAK_READINGS`` sets the length.
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import socket
import threading
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from capture.ledger.store import Store
from capture.verify import verify
from tests.soak.faults import gauge as gauges
from tests.soak.faults import ledger, recorder, service
from tests.soak.faults import trace as traces
from tests.soak.faults.disk import cuts, everything
from tests.soak.faults.ledger import Wrong
from tests.soak.faults.recorder import Recording
from tests.soak.faults.service import Poster, Service
from tests.soak.faults.trace import Trace
from tests.soak.faults.wire import Reader

READINGS = int(os.environ.get("SOAK_READINGS", "240"))
SHARE = float(os.environ.get("SOAK_SHARE", "0.03"))
CLIENTS = 3
SAMPLE = 0.2
BURST = 6


@dataclass
class Recorded:
    """One life of a service, and what a disk held at its end."""

    trace: Trace
    files: dict[str, bytes]
    poster: Poster
    pressed: list[str]


@contextlib.contextmanager
def _listener(running: Service) -> Iterator[None]:
    """Somebody listening to events, who reads as fast as they come."""
    with socket.create_connection((running.host, running.port), 10) as connection:
        host = f"{running.host}:{running.port}"
        connection.sendall(f"GET /v1/events HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
        assert connection.recv(12) == b"HTTP/1.1 200"
        reader = threading.Thread(target=_read_all, args=(connection,))
        reader.start()
        yield
        connection.shutdown(socket.SHUT_RDWR)
        reader.join()


def _read_all(connection: socket.socket) -> None:
    with contextlib.suppress(OSError):
        while connection.recv(65536):
            pass


def _post_many(running: Service, poster: Poster, count: int) -> None:
    with contextlib.closing(running.client()) as connection:
        for n in range(count):
            assert poster.post(connection).status == 201
            if n % 25 == 0:
                connection.request("GET", "/v1/ledger/checkpoint")
                assert connection.getresponse().read()


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Recorded:
    base = tmp_path_factory.mktemp("power")
    store = base / "store"
    store.mkdir()
    recording = Recording.into(recorder.build(base), store, base)
    posters = [Poster(f"client{n}-", n * 1_000_000) for n in range(CLIENTS)]
    with (
        gauges.plugged_in() as gauge,
        service.running(
            service.write_bench(base, gauge.bench), store, environment=recording.environment()
        ) as running,
    ):
        gauge.connect()
        with _listener(running):
            each = READINGS // CLIENTS
            threads = [
                threading.Thread(target=_post_many, args=(running, poster, each))
                for poster in posters
            ]
            for thread in threads:
                thread.start()
            for n in range(0, READINGS // 2, BURST):
                gauge.press([f"9{m:03d}.5" for m in range(n, n + BURST)])
                service.wait_until(lambda: len(_pressed(running)) == len(gauge.sent))
            for thread in threads:
                thread.join()
        assert _pressed(running) == gauge.sent
        assert running.stop() == 0, running.errors
    files = {
        str(path.relative_to(store)): path.read_bytes()
        for path in store.rglob("*")
        if path.is_file() and not path.name.endswith("-shm")
    }
    whole = service.joined(posters)
    return Recorded(traces.read(recording.trace), files, whole, gauge.sent)


def _pressed(running: Service) -> list[str]:
    return [reading["value"] for reading in service.readings(running, "gauge-1")]


def _outcomes(trace: Trace, poster: Poster, scratch: Path, *, control: bool) -> Counter[str]:
    """How many cuts end in which way. A control shall fail, so it needs no more than a sample;
    the real thing stops at the first cut that is not good."""
    seen: Counter[str] = Counter()
    reader, rng = Reader(), random.Random(3)
    for n, cut in enumerate(cuts(trace, random.Random(4), SHARE)):
        claims = reader.follow(cut.sent)
        if control and rng.random() > SAMPLE:
            continue
        folder = scratch / f"cut{n}"
        folder.mkdir()
        cut.write(folder)
        try:
            found = ledger.look(folder)
            known = {s: d for s, d in poster.stored_digits().items() if s in claims.answered}
            ledger.holds(found, claims.seqs, known)
            ledger.once_only(found)
            ledger.prefixes(found, claims.checkpoints)
            if not control and rng.random() < 0.05:
                _opens_and_verifies(folder, found.size)
            seen["good"] += 1
        except Wrong as wrong:
            seen[str(wrong).split(":")[0]] += 1
            if not control:
                raise AssertionError(
                    f"{cut.kind} cut after record {cut.position}: {wrong}"
                ) from wrong
        shutil.rmtree(folder)
    return seen


def _opens_and_verifies(folder: Path, size: int) -> None:
    """The product's own opinion of what is left."""
    store = Store(folder)
    try:
        assert store.size == size
    finally:
        store.close()
    report = verify(folder)
    assert report.ok, report.problems
    assert report.size == size


def test_the_recording_misses_nothing(recorded: Recorded) -> None:
    assert everything(recorded.trace) == recorded.files
    reader = Reader()
    claims = reader.follow(recorded.trace)
    assert claims.answered == set(recorded.poster.seqs.values())
    assert len(claims.answered) == READINGS
    # Press by press: the events of a decision carry its seq.
    assert len(claims.events) == READINGS + len(recorded.pressed)
    assert len(claims.checkpoints) >= READINGS / 25
    # The write-ahead log was copied into the database at least once while answers went out.
    ops = [record.op for record in recorded.trace]
    first, last = ops.index("N"), len(ops) - 1 - ops[::-1].index("N")
    database = {r.inode for r in recorded.trace if r.op == "O" and r.name == "ledger.db"}
    lifetime = recorded.trace[first:last]
    assert any(r.op == "S" and r.inode in database for r in lifetime)


@pytest.mark.timeout(900)
def test_nothing_acknowledged_is_lost_at_any_point(recorded: Recorded, scratch: Path) -> None:
    outcomes = _outcomes(recorded.trace, recorded.poster, scratch, control=False)
    assert outcomes["good"] == outcomes.total() > 2 * READINGS


@pytest.mark.timeout(900)
@pytest.mark.parametrize("fault", ["no syncs", "no log syncs", "early answers"])
def test_the_oracle_finds_known_faults(recorded: Recorded, scratch: Path, fault: str) -> None:
    """The controls: the same recording as ``synchronous`` OFF or NORMAL, or an answer before its
    commit, would have made it. All of them must be seen to lose data."""
    trace = traces.spoilt(recorded.trace, fault)
    outcomes = _outcomes(trace, recorded.poster, scratch, control=True)
    assert outcomes["lost"] + outcomes["damaged"] > outcomes.total() / 10
    assert outcomes["lost"]
