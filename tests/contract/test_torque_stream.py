"""A torque adapter at the end of a cable, sending as time goes by, through the whole service: real
port, real store, HTTP. What it sent is held against what can be fetched. All of it is invented."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.server import Listening
from capture.verify import verify
from simulators.serial_side import Cable
from simulators.torque_stream import Sample, TorqueStream, brisk, pulled, resting
from simulators.torque_streaming import OnCable
from tests.contract.test_events import Ear
from tests.running import client, opened_build, service
from tests.stream import BLOCK, RATES, SPEC, TEXT, angles, stream, torques

BENCH = """
title = "Bench for tests"

[[port]]
id = "cable"
device = "{device}"

[[instrument]]
id = "adapter-1"
kind = "torque-adapter"
port = "cable"
profile = "{profile}"
unit = "N·m"
resolution = "0.01"
simulated = true
"""


@asynccontextmanager
async def bench(folder: Path, profile: str) -> AsyncIterator[tuple[Listening, Cable]]:
    """The service with an adapter on a cable that is ready."""
    cable = Cable(folder / "ports" / "cable")
    text = BENCH.format(device=cable.path, profile=profile)
    (folder / "bench.toml").write_text(text, "utf-8")
    try:
        async with service(folder) as listening:
            async with client(listening) as http:
                await until_ready(http)
            yield listening, cable
    finally:
        cable.close()


async def until_ready(http: httpx.AsyncClient) -> None:
    async with asyncio.timeout(20):
        while True:
            if (await devices(http))["state"] == "ready":
                return
            await asyncio.sleep(0.02)


async def devices(http: httpx.AsyncClient) -> dict[str, Any]:
    (device,) = (await http.get("/v1/bench")).json()["devices"]
    assert isinstance(device, dict)
    return device


async def readings(http: httpx.AsyncClient, count: int) -> list[dict[str, Any]]:
    """The readings, once there are so many."""
    async with asyncio.timeout(40):
        while True:
            found: list[dict[str, Any]] = (await http.get("/v1/readings")).json()["readings"]
            if len(found) >= count:
                return found
            await asyncio.sleep(0.05)


def course(profile: str, *kinds: str) -> TorqueStream:
    rate = RATES[profile]
    samples = resting(0.4, rate)
    for number, kind in enumerate(kinds):
        samples += pulled(brisk(kind, 25.0 + number / 2), rate, kind, left=kind == "slip")
        samples += resting(0.7, rate)
    return stream(profile, samples)


def held_against(trace: dict[str, Any], sent: list[Sample], start: int, interval: float) -> int:
    """Where a fetched trace ends among what was sent; every digit is looked at."""
    count = len(trace["torque"])
    said = list(zip(torques(sent), angles(sent), strict=True))
    got = list(zip(trace["torque"], trace["angle"], strict=True))
    places = [at for at in range(start, len(said)) if said[at : at + count] == got]
    assert len(places) == 1
    seconds = [float(second) for second in trace["seconds"]]
    assert seconds == [pytest.approx(number * interval) for number in range(count)]
    # what stands before and after it is rest: nothing between rise and rest is left out
    after = places[0] + count
    assert all(abs(float(torque)) < 2 for torque, _ in said[start : places[0]])
    return after


@pytest.mark.parametrize(
    ("profile", "kinds"), [(TEXT, ("click", "over-pull", "slip")), (BLOCK, ("click",))]
)
async def test_every_sample_of_every_pull_can_be_fetched(
    profile: str, kinds: tuple[str, ...], tmp_path: Path
) -> None:
    """At 1 kHz as lines, at 500 Hz in blocks: no sample lost, none twice, by value and counter."""
    sends = course(profile, *kinds)
    async with bench(tmp_path, profile) as (listening, cable), client(listening) as http:
        await opened_build(http, SPEC)
        with OnCable(cable, sends):
            found = await readings(http, len(kinds))
        at = 0
        for reading in found:
            assert reading["trace"]["incomplete"] is None
            answer = await http.get(f"/v1/traces/{reading['trace']['sha256']}")
            at = held_against(answer.json(), sends.samples, at, 1 / RATES[profile])
        assert found[0]["placement"]["step"] == "tighten-lid-bolts/1/final"
        assert found[0]["verdict"]["result"] == "conforming"
        assert len(found) == len(kinds)
        entry = await http.get(f"/v1/entries/{found[0]['seq']}")
        digest = found[0]["trace"]["sha256"]
        assert entry.json()["body"]["trace"]["sha256"] == digest
    report = verify(tmp_path / "store")
    assert report.problems == []
    assert report.counts["traces"] == len(kinds)


async def test_a_cable_that_is_pulled_in_a_pull_leaves_what_came(tmp_path: Path) -> None:
    sends = course(TEXT, "slow")
    async with bench(tmp_path, TEXT) as (listening, cable), client(listening) as http:
        build = await opened_build(http, SPEC)
        async with http.stream("GET", "/v1/events") as response:
            ear = Ear(response)
            with OnCable(cable, sends) as plays:
                shown = await ear.first("torque")
                plays.stop()
                cable.vanish()
            (reading,) = await readings(http, 1)
        assert shown.data["state"] == "pulling"
        assert shown.data["from"] == 0
        trace = reading["trace"]
        assert trace["found"]["codes"][0] == "incomplete"
        assert "the connection was lost" in trace["incomplete"]["why"]
        assert trace["incomplete"]["missing"] is None
        assert reading["placement"]["reason"]["code"] == "incomplete-pull"
        samples = (await http.get(f"/v1/traces/{trace['sha256']}")).json()["torque"]
        sent = torques(sends.sent)
        assert tuple(samples) == sent[len(sent) - len(samples) :]
        assert samples[: len(shown.data["torque"])] == shown.data["torque"]
        # it is there after a restart, and a person can say what it answers
        cable.plug_in()
    async with service(tmp_path) as listening, client(listening) as http:
        (again,) = await readings(http, 1)
        assert again == reading
        place = {"build": build, "step": "tighten-lid-bolts/1/final", "reason": "checked by hand"}
        answer = await http.post(f"/v1/readings/{reading['seq']}/placements", json=place)
        assert answer.status_code == 201, answer.text
    assert verify(tmp_path / "store").problems == []


async def test_one_line_a_pull_is_an_ordinary_reading(tmp_path: Path) -> None:
    """An adapter that sends its peak needs no stream."""
    async with bench(tmp_path, "torque-peak-line") as (listening, cable), client(listening) as http:
        await opened_build(http, SPEC)
        cable.write(b"#0012 PEAK 25.4 N.m CW\r\n")
        (reading,) = await readings(http, 1)
    assert (reading["value"], reading["flags"]) == ("25.4", ["clockwise"])
    assert "trace" not in reading
    assert reading["placement"]["step"] == "tighten-lid-bolts/1/final"
