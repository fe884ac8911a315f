"""SIGKILL at random moments, again and again on one store, while a client counts.

It cannot show a missing sync (the kernel keeps what was written: test_power_cut.py is for that),
but it shows that a service comes back on what its killed predecessor left, and that a request
whose answer was lost can be sent again. ``SOAK_KILLS`` sets how often.
"""

from __future__ import annotations

import contextlib
import os
import random
import threading
from pathlib import Path

import pytest

from capture.verify import verify
from tests.soak.faults import ledger, service
from tests.soak.faults.service import Poster

KILLS = int(os.environ.get("SOAK_KILLS", "30"))


@pytest.mark.timeout(600)
def test_what_was_acknowledged_outlives_every_kill(tmp_path: Path) -> None:
    bench, store = service.write_bench(tmp_path), tmp_path / "store"
    poster, rng = Poster(), random.Random(5)
    checkpoints: list[str] = []
    boots = 0
    for _ in range(KILLS):
        if boots and rng.random() < 0.4:
            service.kill_while_starting(bench, store, after=rng.uniform(0.05, 0.7))
        else:
            boots += _one_life(bench, store, poster, checkpoints, rng)
        _look(store, tmp_path, poster, checkpoints)
    assert len(poster.seqs) > KILLS
    assert boots > KILLS / 3
    with service.running(bench, store) as running:
        _retry(running, poster, list(poster.digits)[-200:])
        assert running.stop() == 0
    found = _look(store, tmp_path, poster, checkpoints)
    assert len(found.presses()) == len(found.keys)
    report = verify(store)
    assert report.ok, report.problems


def _one_life(
    bench: Path, store: Path, poster: Poster, checkpoints: list[str], rng: random.Random
) -> int:
    with service.running(bench, store) as running:
        # What the last life may have stored without saying so, and a few it did acknowledge.
        unanswered = [key for key in poster.digits if key not in poster.seqs]
        answered = list(poster.seqs)
        _retry(running, poster, unanswered + rng.sample(answered, min(5, len(answered))))
        checkpoints.append(running.get("/v1/ledger/checkpoint").body)
        killer = threading.Timer(rng.uniform(0.0, 0.15), running.kill)
        with contextlib.closing(running.client()) as connection:
            killer.start()
            poster.until_gone(connection)
        killer.join()
    return 1


def _retry(running: service.Service, poster: Poster, keys: list[str]) -> None:
    """Sends readings again under their keys; ``post`` fails if one is given another seq."""
    with contextlib.closing(running.client()) as connection:
        for key in keys:
            assert poster.post(connection, key).status in (200, 201)


def _look(store: Path, scratch: Path, poster: Poster, checkpoints: list[str]) -> ledger.Found:
    found = ledger.look(ledger.copy(store, scratch)) if store.exists() else ledger.Found([], [], {})
    ledger.holds(found, poster.seqs.values(), poster.stored_digits())
    ledger.once_only(found)
    ledger.prefixes(found, checkpoints)
    for key, seq in poster.seqs.items():
        assert found.keys[key] == seq
    return found
