"""Syncs and writes that fail, and a full disk, under the real service.

While they fail nothing is acknowledged, the service says that it is not storing, and it goes on
by itself when they work again; a request that was refused can be sent again under its key and is
stored once.
"""

from __future__ import annotations

import contextlib
import errno
import os
import random
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from capture.verify import verify
from tests.soak.faults import gauge as gauges
from tests.soak.faults import ledger, recorder, service
from tests.soak.faults import trace as traces
from tests.soak.faults.disk import cuts, everything
from tests.soak.faults.recorder import Recording
from tests.soak.faults.service import Poster, Service
from tests.soak.faults.trace import Trace
from tests.soak.faults.wire import Reader

SHARE = float(os.environ.get("SOAK_SHARE", "0.3"))


def _post(running: Service, poster: Poster, count: int) -> None:
    with contextlib.closing(running.client()) as connection:
        for _ in range(count):
            assert poster.post(connection).status == 201


def _refused(running: Service, poster: Poster, count: int) -> None:
    """Posts while the disk fails: each answer says so, and none acknowledges."""
    with contextlib.closing(running.client()) as connection:
        for n in range(count):
            answer = poster.post(connection)
            assert answer.status == 503, (n, answer)
            assert answer.body["type"] in ("/problems/outcome-unknown", "/problems/not-stored")
            assert "Idempotency-Key" in answer.body["mend"]


def _condition(running: Service) -> str:
    return str(running.get("/v1/health").body["condition"]["state"])


def _recovers(running: Service, poster: Poster) -> None:
    """The service stores again without help, and what was refused is stored on being sent again."""
    service.wait_until(lambda: _condition(running) == "storing")
    with contextlib.closing(running.client()) as connection:
        for key in poster.digits:
            assert poster.post(connection, key).status in (200, 201)
    _post(running, poster, 5)


def _whole(store: Path, scratch: Path, poster: Poster) -> None:
    """After the service has stopped: everything acknowledged is there, once."""
    found = ledger.look(ledger.copy(store, scratch))
    ledger.holds(found, poster.seqs.values(), poster.stored_digits())
    ledger.once_only(found)
    assert {key: found.keys[key] for key in poster.seqs} == poster.seqs
    typed = [body for body in found.presses().values() if body["typed"]]
    assert len(typed) == len(poster.digits)
    report = verify(store)
    assert report.ok, report.problems


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return recorder.build(tmp_path_factory.mktemp("recorder"))


@pytest.mark.parametrize(
    "fault", [{"sync": errno.EIO}, {"write": errno.EIO}, {"write": errno.ENOSPC}]
)
def test_failing_calls_and_a_power_cut_at_any_point(
    library: Path, tmp_path: Path, scratch: Path, fault: dict[str, int]
) -> None:
    """The fault, the recovery, and the power cut at every point of both.

    The kernel may drop what a failed sync had, and call the next sync a success; the disk model
    takes it at its worst.
    """
    store = tmp_path / "store"
    store.mkdir()
    recording = Recording.into(library, store, tmp_path)
    poster, bench = Poster(), service.write_bench(tmp_path)
    with service.running(bench, store, environment=recording.environment()) as running:
        _post(running, poster, 10)
        recording.fail(sync=fault.get("sync", 0), write=fault.get("write", 0))
        _refused(running, poster, 5)
        assert _condition(running) in ("unknown", "not_storing")
        recording.fail()
        _recovers(running, poster)
        assert running.stop() == 0, running.errors
    _whole(store, tmp_path, poster)
    trace = traces.read(recording.trace)
    assert traces.count(trace, "F" if "sync" in fault else "X") >= 2
    left = everything(trace)
    assert left["ledger.db"] == (store / "ledger.db").read_bytes()
    _good_at_any_cut(trace, poster, scratch)


def test_one_failed_sync_and_a_power_cut_at_any_point(
    library: Path, tmp_path: Path, scratch: Path
) -> None:
    """Once only, so the store is looked at and goes on at once; what it then says must be so."""
    store = tmp_path / "store"
    store.mkdir()
    recording = Recording.into(library, store, tmp_path)
    poster, bench = Poster(), service.write_bench(tmp_path)
    with service.running(bench, store, environment=recording.environment()) as running:
        for _ in range(4):
            _post(running, poster, 3)
            recording.fail(sync=errno.EIO, once=True)
            _refused(running, poster, 1)
        _recovers(running, poster)
        assert running.stop() == 0, running.errors
    _whole(store, tmp_path, poster)
    trace = traces.read(recording.trace)
    assert traces.count(trace, "F") == 4
    _good_at_any_cut(trace, poster, scratch)


def test_presses_made_meanwhile_are_held_and_stored(library: Path, tmp_path: Path) -> None:
    """A gauge cannot send again: what arrives while nothing can be stored is kept, in order, with
    its original time, and stored, marked late, when it can be."""
    store = tmp_path / "store"
    store.mkdir()
    recording = Recording.into(library, store, tmp_path)
    poster = Poster()
    with (
        gauges.plugged_in() as gauge,
        service.running(
            service.write_bench(tmp_path, gauge.bench), store, environment=recording.environment()
        ) as running,
    ):
        gauge.connect()
        gauge.press(["901.5"])
        service.wait_until(lambda: len(service.readings(running, "gauge-1")) == 1)
        recording.fail(write=errno.ENOSPC)
        gauge.press(["902.5", "903.5"])
        service.wait_until(lambda: _condition(running) == "not_storing")
        gauge.press(["904.5"])
        service.wait_until(lambda: running.get("/v1/health").body["condition"]["held"] == 3)
        assert len(service.readings(running, "gauge-1")) == 1
        recording.fail()
        _recovers(running, poster)
        gauge.press(["905.5"])
        service.wait_until(lambda: len(service.readings(running, "gauge-1")) == 5)
        stored = service.readings(running, "gauge-1")
        assert [reading["value"] for reading in stored] == gauge.sent
        assert [reading["late"] is not None for reading in stored] == [
            False,
            True,
            True,
            True,
            False,
        ]
        times = [reading["received_at"] for reading in stored]
        assert times == sorted(times)
        assert all(r["received_at"] < r["late"] for r in stored if r["late"])
        assert running.stop() == 0, running.errors
    _whole(store, tmp_path, poster)


def test_a_restart_after_a_failed_sync_and_a_power_cut_at_any_point(
    library: Path, tmp_path: Path, scratch: Path
) -> None:
    """What a failed sync had can still be read, so a service that starts next finds it; but the
    kernel counts it as written, and a later sync does not write it."""
    store = tmp_path / "store"
    store.mkdir()
    recording = Recording.into(library, store, tmp_path)
    poster, bench = Poster(), service.write_bench(tmp_path)
    with service.running(bench, store, environment=recording.environment()) as running:
        _post(running, poster, 10)
        recording.fail(sync=errno.EIO)
        _refused(running, poster, 3)
        running.kill()
    recording.fail()
    with service.running(bench, store, environment=recording.environment()) as running:
        _recovers(running, poster)
        running.kill()
    _whole(store, tmp_path, poster)
    trace = traces.read(recording.trace)
    assert traces.count(trace, "F") >= 1
    _good_at_any_cut(trace, poster, scratch)


def _good_at_any_cut(trace: Trace, poster: Poster, scratch: Path) -> None:
    reader, digits = Reader(), poster.stored_digits()
    for n, cut in enumerate(cuts(trace, random.Random(7), SHARE)):
        claims = reader.follow(cut.sent)
        folder = scratch / f"cut{n}"
        folder.mkdir()
        cut.write(folder)
        try:
            found = ledger.look(folder)
            ledger.holds(found, claims.seqs, {s: digits[s] for s in claims.answered})
            ledger.refused_are_absent(found, poster.asked, claims.outcomes)
            ledger.once_only(found)
        except ledger.Wrong as wrong:
            raise AssertionError(f"{cut.kind} cut after record {cut.position}: {wrong}") from wrong
        shutil.rmtree(folder)


@pytest.mark.parametrize(
    ("call", "error", "first"),
    [("fdatasync", "EIO", 12), ("pwrite64", "ENOSPC", 60)],
)
def test_one_failing_system_call(tmp_path: Path, call: str, error: str, first: int) -> None:
    """Injected by strace, below every library of ours."""
    strace = shutil.which("strace")
    if strace is None:
        pytest.skip("no strace on this machine to make system calls fail with")
    log = tmp_path / "strace"
    under = [strace, "-f", "-qq", "-o", str(log), "-e", f"trace={call}", "-e", "signal=none"]
    under += ["-e", f"inject={call}:error={error}:when={first}"]
    poster, store = Poster(), tmp_path / "store"
    with service.running(service.write_bench(tmp_path), store, under=under) as running:
        with contextlib.closing(running.client()) as connection:
            for _ in range(40):
                answer = poster.post(connection)
                if answer.status != 201:
                    assert answer.status == 503
                    service.wait_until(lambda: _condition(running) == "storing")
        assert log.read_text().count("(INJECTED)") == 1, "the fault did not fire"
        assert poster.statuses[201] >= 38
        assert poster.statuses.get(503, 0) >= 1
        _recovers(running, poster)
        assert running.stop() == 0, running.errors
    _whole(store, tmp_path, poster)


@contextlib.contextmanager
def _small_disk(folder: Path, size: str) -> Iterator[None]:
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)]
    done = subprocess.run(command, capture_output=True, timeout=30, check=False)
    if done.returncode:
        pytest.skip("a small file system cannot be mounted here (that takes root)")
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], timeout=30, check=True)


def test_a_full_disk(tmp_path: Path) -> None:
    small = tmp_path / "small"
    with _small_disk(small, "1500k"):
        ballast, store = small / "ballast", small / "store"
        poster = Poster()
        with service.running(service.write_bench(tmp_path), store) as running:
            _post(running, poster, 5)
            _fill(ballast)
            _until_refused(running, poster)
            _refused(running, poster, 3)
            assert _condition(running) in ("unknown", "not_storing")
            ballast.unlink()
            _recovers(running, poster)
            assert running.stop() == 0, running.errors
        _whole(store, tmp_path, poster)


def _fill(ballast: Path) -> None:
    """Takes all but a few pages of the disk."""
    state = os.statvfs(ballast.parent)
    with ballast.open("wb") as file:
        file.write(bytes(max(0, state.f_bavail * state.f_frsize - 200_000)))


def _until_refused(running: Service, poster: Poster) -> None:
    with contextlib.closing(running.client()) as connection:
        for _ in range(1000):
            if poster.post(connection).status != 201:
                return
    raise AssertionError("the disk never filled")


def test_a_file_that_may_not_grow(tmp_path: Path) -> None:
    """The same without root: a limit on the size of files, set and lifted from outside."""
    resource = pytest.importorskip("resource", reason="no limits on files on this system")
    if not hasattr(resource, "prlimit"):
        pytest.skip("limits of another process cannot be set on this system")
    poster, store = Poster(), tmp_path / "store"
    with service.running(service.write_bench(tmp_path), store) as running:
        _post(running, poster, 5)
        before = resource.prlimit(running.pid, resource.RLIMIT_FSIZE)
        resource.prlimit(running.pid, resource.RLIMIT_FSIZE, (4096, before[1]))
        _until_refused(running, poster)
        _refused(running, poster, 3)
        assert _condition(running) in ("unknown", "not_storing")
        resource.prlimit(running.pid, resource.RLIMIT_FSIZE, before)
        _recovers(running, poster)
        assert running.stop() == 0, running.errors
    _whole(store, tmp_path, poster)
