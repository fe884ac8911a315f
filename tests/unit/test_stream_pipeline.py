"""A device's pulls through the real pipeline and store: placed as presses are, looked at off the
event loop, kept with their traces, incomplete ones held for a person, all of it verified."""

from __future__ import annotations

import asyncio
import sqlite3
from pathlib import Path
from typing import Any

import orjson
import pytest

from capture import command as c
from capture.errors import OutcomeUnknown
from capture.ledger.search import Filters
from capture.ledger.store import DATABASE, Store
from capture.pipeline import Pipeline
from capture.reading import LiveTorque, Pull
from capture.trace.store import digits
from capture.verify import verify
from simulators.torque_stream import Sample, brisk, pulled, resting
from simulators.waveforms import Rolling, Sensor, turning
from tests.pipeline_bench import CLOCK, done, open_pipeline, pipeline
from tests.stream import SPEC, angles, torques
from tests.support import eventually_async

RATE = 500.0


def pull_of(samples: list[Sample], **more: Any) -> Pull:
    plain: dict[str, Any] = {
        "port": "cable", "instrument": "wrench", "unit": "N·m", "interval_us": 2000,
        "torque": torques(samples), "angle": angles(samples), "gaps": (), "flags": (),
        "incomplete": None, "missing": 0, "stamp": CLOCK.now(),
    }  # fmt: skip
    return Pull(**{**plain, **more})


def tight(kind: str = "click", target: float = 25.0, *, left: bool = False) -> list[Sample]:
    return [*pulled(brisk(kind, target), RATE, kind, left=left), *resting(0.5, RATE)]


def turned() -> tuple[str, ...]:
    wave = turning(Rolling(9.0, 6.0, 1.0, turns=1.5, seconds_per_turn=1.0), Sensor(RATE), "turns")
    return tuple(f"{torque:.2f}" for torque in wave.torques)


async def opened(made: Pipeline) -> str:
    known = await done(made.submit(c.AddSpec(SPEC, "pump.toml")))
    return f"b{(await done(made.submit(c.OpenBuild(known.body['hash'], 'One')))).seq}"


async def taken(made: Pipeline, pull: Pull, entries: int = 2) -> dict[str, Any]:
    """The reading that a pull becomes."""
    size = made.size
    assert made.take([pull])
    await eventually_async(lambda: made.size >= size + entries, "the pull is stored", 30)
    return newest(made)


def newest(made: Pipeline) -> dict[str, Any]:
    found: dict[str, Any] = orjson.loads(made.archive.readings(limit=50).items[-1])
    return found


async def test_a_pull_answers_the_fastener_that_waits_and_keeps_its_trace(tmp_path: Path) -> None:
    store, samples = tmp_path / "store", tight()
    async with pipeline(store) as made:
        build = await opened(made)
        reading = await taken(made, pull_of(samples))
        assert reading["placement"]["build"] == build
        assert reading["placement"]["step"] == "tighten-lid-bolts/1/final"
        assert reading["verdict"]["result"] == "conforming"
        assert float(reading["value"]) == pytest.approx(25, abs=0.2)
        assert (reading["typed"], reading["flags"], reading["raw"]) == (False, [], "")
        trace = reading["trace"]
        assert trace["found"]["kind"] == "pull"
        assert trace["found"]["click"] == reading["value"]
        assert (trace["interval_us"], trace["incomplete"]) == (2000, None)
        blob = made.archive.blob(trace["sha256"])
        assert blob is not None
        kept = digits(blob)
        assert (tuple(kept.torque), tuple(kept.angle or ())) == (torques(samples), angles(samples))
        assert kept.seconds[1] == "0.002000000"
    report = verify(store)
    assert report.problems == []
    assert report.counts["traces"] == 1


async def test_what_waits_is_a_turning_test_then_it_is_read_as_one(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
        for number in (1, 2):
            reading = await taken(made, pull_of(tight(target=24.0 + number)))
            assert reading["placement"]["step"] == f"tighten-lid-bolts/{number}/final"
        reading = await taken(made, pull_of([], torque=turned(), angle=None))
        assert reading["placement"]["step"] == "turn-turns/1"
        assert reading["trace"]["found"]["kind"] == "turning"
        assert float(reading["value"]) == pytest.approx(6.5, abs=0.3)
        assert reading["verdict"]["result"] == "conforming"
    assert verify(store).problems == []


async def test_nothing_turned_in_a_turning_test_asks_for_a_person(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
        for number in (1, 2):
            await taken(made, pull_of(tight(target=24.0 + number)))
        shaken = ("2.10", "-2.10") * 60
        reading = await taken(made, pull_of([], torque=shaken, angle=None))
        assert reading["trace"]["found"]["codes"][0] == "no-turning"
        assert reading["placement"]["reason"]["code"] == "incomplete-pull"
        assert "nothing turned steadily" in reading["placement"]["reason"]["detail"]
    assert verify(store).problems == []


async def test_an_incomplete_pull_is_stored_and_waits_for_a_person(tmp_path: Path) -> None:
    store, samples = tmp_path / "store", tight()
    half = samples[: len(samples) // 3]
    why = "the connection was lost: it was pulled"
    async with pipeline(store) as made:
        build = await opened(made)
        pull = pull_of(half, incomplete=why, missing=None)
        reading = await taken(made, pull)
        assert reading["trace"]["incomplete"] == {"why": why, "missing": None}
        assert reading["trace"]["found"]["codes"][0] == "incomplete"
        assert reading["trace"]["found"]["sentences"][0] == f"Incomplete: {why}."
        assert "step" not in reading["placement"]
        reason = reading["placement"]["reason"]
        assert reason["code"] == "incomplete-pull"
        assert why in reason["detail"]
        # complete, it takes the step; the incomplete one was not counted
        reading = await taken(made, pull_of(samples))
        assert reading["placement"]["step"] == "tighten-lid-bolts/1/final"
    made = open_pipeline(store)
    made.start(asyncio.get_running_loop())
    try:
        first = orjson.loads(made.archive.readings(filters=Filters(build=build), limit=50).items[0])
        place = c.Place(first["seq"], build, "tighten-lid-bolts/2/final", "looked at it")
        said = (await done(made.submit(place))).body
        assert said["placement"]["step"] == "tighten-lid-bolts/2/final"
        assert f"Incomplete: {why}." in said["verdict"]["notes"]
    finally:
        await asyncio.to_thread(made.stop)
    assert verify(store).problems == []


async def test_known_gaps_are_in_the_times(tmp_path: Path) -> None:
    samples = tight()
    most = max(range(len(samples)), key=lambda at: samples[at].torque)
    left = samples[:most] + samples[most + 12 :]
    async with pipeline(tmp_path / "store") as made:
        await opened(made)
        why = "samples are missing (the counter jumped)"
        pull = pull_of(left, gaps=((most, 12),), incomplete=why, missing=12)
        reading = await taken(made, pull)
        assert reading["trace"]["incomplete"]["missing"] == 12
        assert reading["placement"]["reason"]["code"] == "incomplete-pull"
        assert "(12 samples)" in reading["placement"]["reason"]["detail"]
        blob = made.archive.blob(reading["trace"]["sha256"])
        assert blob is not None
        seconds = digits(blob).seconds
        assert float(seconds[most]) - float(seconds[most - 1]) == pytest.approx(13 * 0.002)
        assert "samples-missing" in reading["trace"]["found"]["codes"]


async def test_a_pull_to_the_left_does_not_tighten(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
        reading = await taken(made, pull_of(tight(left=True)))
        assert reading["flags"] == ["counterclockwise"]
        assert "reversed" in reading["trace"]["found"]["codes"]
        assert reading["placement"]["reason"]["code"] == "wrong-direction"
        assert float(reading["value"]) == pytest.approx(25, abs=0.2)
    assert verify(store).problems == []


async def test_without_a_build_it_is_stored_all_the_same(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        reading = await taken(made, pull_of(tight(), instrument="stranger"))
        assert reading["placement"]["reason"]["code"] == "no-open-build"
        assert reading["verdict"]["result"] == "not_evaluated"
    assert verify(store).problems == []


async def test_samples_that_make_no_trace_are_kept_as_they_came(tmp_path: Path) -> None:
    async with pipeline(tmp_path / "store") as made:
        size = made.size
        made.take([pull_of([], torque=("9.00", "9.10"), angle=("0.0", "0.1"), incomplete="why")])
        await eventually_async(lambda: made.size > size, "it is stored")
        entry = made.archive.envelope(made.size)
        assert entry is not None
        assert (entry["kind"], entry["body"]["code"]) == ("undecodable", "no-trace")
        assert bytes.fromhex(entry["body"]["raw"]) == b"9.00 0.0\n9.10 0.1"
        assert "Incomplete: why." in entry["body"]["detail"]


async def test_stopping_writes_the_pulls_that_are_being_looked_at(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
        made.take([pull_of(tight(target=20.0 + number)) for number in range(4)])
    made = open_pipeline(store)
    try:
        assert len(made.archive.readings(limit=50).items) == 4
    finally:
        await asyncio.to_thread(made.stop)
    assert verify(store).problems == []


@pytest.mark.parametrize("harm", ["complete", "direction", "kind"])
async def test_a_press_that_says_more_than_its_trace_is_found(tmp_path: Path, harm: str) -> None:
    """What ``verify`` makes of entries that were written falsely from the first."""
    from capture.streamed import differs

    async with pipeline(tmp_path / "store") as made:
        await opened(made)
        left = harm == "direction"
        pull = pull_of(tight(left=left), incomplete="why" if harm == "complete" else None)
        reading = await taken(made, pull)
        entry = made.archive.envelope(reading["seq"])
        assert entry is not None
        body = entry["body"]
        blob = made.archive.blob(body["trace"]["sha256"])
    assert blob is not None
    assert differs(body, blob) is None
    if harm == "complete":
        body["trace"]["incomplete"] = None
    elif harm == "direction":
        body["flags"] = []
    else:
        body["trace"]["found"]["kind"] = "turning"
        body["digits"] = "1.00"
    assert differs(body, blob) is not None


async def test_a_trace_that_was_changed_is_found(tmp_path: Path) -> None:
    store = tmp_path / "store"
    async with pipeline(store) as made:
        await opened(made)
        await taken(made, pull_of(tight()))
        await taken(made, pull_of(tight(target=26.0)))
    with sqlite3.connect(store / DATABASE) as connection:
        connection.execute("UPDATE blob SET data = (SELECT data FROM blob LIMIT 1)")
    connection.close()
    assert [problem.code for problem in verify(store).problems] == ["trace-changed"]


async def test_live_samples_are_published_to_whoever_listens(tmp_path: Path) -> None:
    live = LiveTorque("wrench", False, "N·m", 1000, 40, ("1.00", "2.00"), ("0.0", "0.5"), None)
    async with pipeline(tmp_path / "store") as made:
        made.torque(live)  # nobody listens
        subscription = made.stream.subscribe()
        made.torque(live)
        made.torque(live._replace(ended=True, angle=None, incomplete="why"))
        first, last = await subscription.next()
        subscription.close()
    assert (first.id, first.name) == (None, "torque")
    assert orjson.loads(first.data) == {
        "instrument": "wrench", "state": "pulling", "unit": "N·m", "interval_us": 1000,
        "from": 40, "torque": ["1.00", "2.00"], "angle": ["0.0", "0.5"], "incomplete": None,
    }  # fmt: skip
    ended = orjson.loads(last.data)
    assert (ended["state"], ended["angle"], ended["incomplete"]) == ("ended", None, "why")


async def test_a_pull_waits_while_nothing_can_be_stored_and_is_marked_late(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store, commit = tmp_path / "store", Store.commit
    full = True

    def sometimes(self: Store, *rows: Any) -> None:
        if full:
            raise OutcomeUnknown("database or disk is full (injected)")
        commit(self, *rows)

    async with pipeline(store) as made:
        await opened(made)
        size = made.size
        monkeypatch.setattr(Store, "commit", sometimes)
        made.take([pull_of(tight())])
        await eventually_async(lambda: made.condition().held == 1, "the pull is held", 30)
        full = False
        await eventually_async(lambda: made.size >= size + 2, "the pull is stored", 30)
        reading = newest(made)
        assert reading["late"] is not None
        assert reading["placement"]["step"] == "tighten-lid-bolts/1/final"
        assert made.archive.blob(reading["trace"]["sha256"]) is not None
    assert verify(store).problems == []
