"""The HTTP interface while nothing can be stored, and after a restart."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest

from api import answers, state
from capture.errors import OutcomeUnknown, StoreError
from tests.running import client, opened_build, service, typed
from tests.support import eventually_async


async def test_a_restart_keeps_everything(tmp_path: Path) -> None:
    async with service(tmp_path) as listening, client(listening) as http:
        build = await opened_build(http)
        reading = await typed(http, "25.000")
    async with service(tmp_path) as listening, client(listening) as http:
        assert (await http.get("/v1/health")).json()["boot"] == 2
        assert (await http.get(f"/v1/readings/{reading['seq']}")).json() == reading
        assert (await http.get(f"/v1/builds/{build}")).json()["steps_done"] == 1


class Trouble:
    """A disk that fails, until it is mended."""

    def __init__(self, store: Any) -> None:
        self.mended = threading.Event()
        self._commit, self._reopen = store.commit, store.reopen

    def commit(self, *arguments: Any) -> None:
        if not self.mended.is_set():
            raise OutcomeUnknown("Writing failed: the disk is full.")
        self._commit(*arguments)

    def reopen(self) -> int:
        if not self.mended.is_set():
            raise StoreError("The disk is full.")
        return int(self._reopen())


async def test_while_nothing_can_be_stored(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Said everywhere, nothing acknowledged, pages still answer, and it mends by itself."""
    async with service(tmp_path) as listening, client(listening) as http:
        store = listening.service.pipeline._store
        trouble = Trouble(store)
        monkeypatch.setattr(store, "commit", trouble.commit)
        monkeypatch.setattr(store, "reopen", trouble.reopen)
        body = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
        key = {"Idempotency-Key": "the-press"}
        answer = await http.post("/v1/readings", json=body, headers=key)
        assert answer.status_code == 503
        assert answer.json()["type"] == "/problems/outcome-unknown"
        assert answer.headers["retry-after"]
        # the answer goes out when the commit has failed; opening the store anew fails after it
        await eventually_async(
            lambda: listening.service.pipeline.condition().state == "not_storing", "it is looked at"
        )
        health = (await http.get("/v1/health")).json()
        assert health["status"] == "not_storing"
        assert "disk is full" in health["condition"]["detail"]
        assert (await http.get("/v1/bench")).json()["condition"]["state"] == "not_storing"
        assert (await http.get("/")).status_code == 200
        assert (await http.get("/v1/readings")).json()["readings"] == []
        async with http.stream("GET", "/v1/events") as stream:
            async for line in stream.aiter_lines():
                if line.startswith("data: ") and "disk is full" in line:
                    break
        trouble.mended.set()
        await eventually_async(
            lambda: listening.service.pipeline.condition().state == "storing", "it stores again"
        )
        again = await http.post("/v1/readings", json=body, headers=key)
        assert again.status_code in (200, 201)
        assert len((await http.get("/v1/readings")).json()["readings"]) == 1


async def test_while_the_disk_hangs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody waits for ever: what was last told is shown, and said to be that."""
    monkeypatch.setattr(answers, "PATIENCE_SECONDS", 0.5)
    monkeypatch.setattr(state, "PATIENCE_SECONDS", 0.2)
    async with service(tmp_path) as listening, client(listening) as http:
        told = (await http.get("/v1/bench")).json()
        assert told["known"] is True
        store = listening.service.pipeline._store
        commit, go = store.commit, threading.Event()

        def hang(*arguments: Any) -> None:
            assert go.wait(30)
            commit(*arguments)

        monkeypatch.setattr(store, "commit", hang)
        try:
            body = {"instrument": "mic-1", "value": "25.000", "unit": "mm"}
            key = {"Idempotency-Key": "the-press"}
            answer = await http.post("/v1/readings", json=body, headers=key)
            assert answer.status_code == 503
            assert answer.json()["type"] == "/problems/outcome-unknown"
            bench = (await http.get("/v1/bench")).json()
            assert bench["known"] is False
            assert bench["instruments"] == told["instruments"]
            assert (await http.get("/v1/builds")).status_code == 503
            assert (await http.get("/v1/readings")).json()["readings"] == []
        finally:
            go.set()
        again = await http.post("/v1/readings", json=body, headers=key)
        assert again.status_code == 200, "the key knows that it is stored already"
        assert len((await http.get("/v1/readings")).json()["readings"]) == 1
