"""Server-sent events: in order, once, without a gap; over a real connection."""

from __future__ import annotations

import asyncio
import json
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest

from api.server import Listening
from tests.running import client, opened_build, service, typed


class Heard(NamedTuple):
    name: str
    id: int | None
    data: dict[str, Any]


class Ear:
    """Reads one event stream, by the rules of the HTML standard as far as they are used."""

    def __init__(self, response: httpx.Response) -> None:
        self.response = response
        self._lines = response.aiter_lines()

    async def next(self) -> Heard | None:
        """The next event; None at the end of the stream."""
        fields: dict[str, str] = {}
        async for line in self._lines:
            if not line:
                if "data" in fields:
                    number = fields.get("id")
                    data = json.loads(fields["data"])
                    return Heard(fields["event"], int(number) if number else None, data)
                fields = {}
                continue
            name, _, value = line.partition(": ")
            fields[name] = value
        return None

    async def history(self, count: int, seconds: float = 20) -> list[Heard]:
        """The next ``count`` events that have an id."""
        found: list[Heard] = []
        async with asyncio.timeout(seconds):
            while len(found) < count:
                event = await self.next()
                assert event is not None, "the stream ended"
                if event.id is not None:
                    found.append(event)
        return found

    async def first(self, name: str, seconds: float = 20) -> Heard:
        """The next event of this name."""
        async with asyncio.timeout(seconds):
            while (event := await self.next()) is not None:
                if event.name == name:
                    return event
        raise AssertionError(f"the stream ended without a {name}")


@asynccontextmanager
async def listening_to(
    http: httpx.AsyncClient, query: str = "", last: int | None = None
) -> AsyncIterator[Ear]:
    headers = {} if last is None else {"Last-Event-ID": str(last)}
    async with http.stream("GET", f"/v1/events{query}", headers=headers) as response:
        assert response.status_code == 200
        yield Ear(response)


@pytest.fixture
async def up(tmp_path: Path) -> AsyncIterator[Listening]:
    async with service(tmp_path, ping_seconds=0.2) as listening:
        yield listening


@pytest.fixture
async def http(up: Listening) -> AsyncIterator[httpx.AsyncClient]:
    async with client(up) as made:
        yield made


async def ids_in_store(http: httpx.AsyncClient) -> list[int]:
    """The seq of every entry that is an event of its own: all but presses."""
    entries = (await http.get("/v1/entries?limit=1000")).json()["entries"]
    return [entry["seq"] for entry in entries if entry["kind"] != "press"]


async def test_headers_and_first_news(http: httpx.AsyncClient) -> None:
    async with listening_to(http) as ear:
        assert ear.response.headers["content-type"].startswith("text/event-stream")
        assert ear.response.headers["x-accel-buffering"] == "no"
        assert "content-length" not in ear.response.headers
        condition = await ear.first("condition")
        assert condition.data["state"] == "storing"
        assert condition.id is None


async def test_a_quiet_stream_pings(http: httpx.AsyncClient) -> None:
    async with listening_to(http) as ear:
        pings = [await ear.first("ping") for _ in range(3)]
    assert all(ping.id is None and ping.data["size"] > 0 for ping in pings)


async def test_a_reading_arrives_as_it_is_read_back(http: httpx.AsyncClient) -> None:
    await opened_build(http)
    async with listening_to(http) as ear:
        await ear.first("condition")
        stored = await typed(http, "25.000")
        (heard,) = await ear.history(1)
    assert heard.name == "reading"
    assert heard.id == stored["decision_seq"]
    assert heard.data == stored


async def test_from_the_beginning_everything_once(http: httpx.AsyncClient) -> None:
    await opened_build(http)
    await typed(http, "25.000")
    wanted = await ids_in_store(http)
    async with listening_to(http, "?after=0") as ear:
        heard = await ear.history(len(wanted))
    assert [event.id for event in heard] == wanted
    assert {event.name for event in heard} == {"entry", "reading"}


async def test_resuming_gives_what_was_missed_only(http: httpx.AsyncClient) -> None:
    first = await typed(http, "25.000")
    second = await typed(http, "25.001")
    async with listening_to(http, last=first["decision_seq"]) as ear:
        (heard,) = await ear.history(1)
        assert heard.data["seq"] == second["seq"]
        third = await typed(http, "25.002")
        (heard,) = await ear.history(1)
        assert heard.data["seq"] == third["seq"]


async def test_no_gap_and_no_repeat_while_others_write(http: httpx.AsyncClient) -> None:
    """Streams are opened in the middle of a burst, where the seam between archive and live is."""

    async def write() -> None:
        await asyncio.gather(*(typed(http, f"25.{number:03d}") for number in range(60)))

    async def listen(wait: int) -> list[int | None]:
        for _ in range(wait):
            await asyncio.sleep(0)
        async with listening_to(http, "?after=0") as ear:
            return [event.id for event in await ear.history(60 + start)]

    start = len(await ids_in_store(http))
    results = await asyncio.gather(write(), *(listen(50 * wait) for wait in range(12)))
    wanted = await ids_in_store(http)
    assert len(wanted) == start + 60
    for heard in results[1:]:
        assert heard == wanted


async def test_a_commit_under_way_when_one_begins_to_listen(
    up: Listening, http: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody listened when it began, so nothing is published for it; and it is not on disk yet."""
    pipeline = up.service.pipeline
    entered, go = threading.Event(), threading.Event()
    commit = pipeline._store.commit

    def held_up(*arguments: Any) -> None:
        entered.set()
        assert go.wait(20)
        commit(*arguments)

    monkeypatch.setattr(pipeline._store, "commit", held_up)
    stored = asyncio.create_task(typed(http, "25.000"))
    try:
        assert await asyncio.to_thread(entered.wait, 20)
        async with listening_to(http) as ear:
            await ear.first("condition")
            await ear.first("ping")
            go.set()
            (heard,) = await ear.history(1)
        assert heard.data == await stored
    finally:
        go.set()
        await stored


async def test_a_correction_reaches_the_stream(http: httpx.AsyncClient) -> None:
    await opened_build(http)
    reading = await typed(http, "25.000")
    async with listening_to(http, last=reading["decision_seq"]) as ear:
        await http.post(f"/v1/readings/{reading['seq']}/voids", json={"reason": "Slipped."})
        (heard,) = await ear.history(1)
    assert heard.name == "reading"
    assert heard.data["seq"] == reading["seq"]
    assert heard.data["decision_seq"] == heard.id != reading["decision_seq"]


@pytest.mark.parametrize(("last", "status"), [("x", 422), ("-1", 422), ("99999", 409)])
async def test_an_id_of_nothing_is_refused(http: httpx.AsyncClient, last: str, status: int) -> None:
    answer = await http.get("/v1/events", headers={"Last-Event-ID": last})
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


async def test_one_that_lags_is_dropped_and_catches_up(
    up: Listening, http: httpx.AsyncClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    stream = up.service.pipeline.stream
    before = (await http.get("/v1/health")).json()["size"]
    with monkeypatch.context() as patch:
        whole = stream.subscribe
        patch.setattr(stream, "subscribe", lambda: whole(limit=0))  # lags at the first event
        async with listening_to(http) as ear:
            await ear.first("ping")
            await ear.first("ping")
            missed = await typed(http, "25.000")
            async with asyncio.timeout(20):
                while (event := await ear.next()) is not None:
                    assert event.id is None, "an event after one that was left out"
    async with listening_to(http, last=before) as ear:
        (heard,) = await ear.history(1)
    assert heard.data == missed


async def test_streams_end_when_the_service_stops(tmp_path: Path) -> None:
    async with service(tmp_path) as listening, client(listening) as http:
        async with listening_to(http) as ear:
            await ear.first("condition")
            listening.stop()
            async with asyncio.timeout(5):
                while await ear.next() is not None:
                    pass
        assert listening.service.pipeline.stream.listeners == 0


async def test_a_listener_that_goes_is_forgotten(up: Listening, http: httpx.AsyncClient) -> None:
    from tests.support import eventually_async

    stream = up.service.pipeline.stream
    async with listening_to(http) as ear:
        await ear.first("condition")
        assert stream.listeners == 1
    await eventually_async(lambda: stream.listeners == 0, "the listener is forgotten")
