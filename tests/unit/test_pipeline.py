"""From intake to ledger and stream, on a real store."""

from __future__ import annotations

import asyncio
import json
from functools import partial
from pathlib import Path

import pytest

from capture import command as c
from capture import view
from capture.errors import Conflict, NotFound, SpecError, StoreInUse
from capture.ledger.search import Filters
from capture.reading import DeviceState, Undecodable
from capture.verify import verify
from tests.paper import GOOD_BORES, SPEC
from tests.pipeline_bench import CLOCK, done, open_pipeline, pipeline, reading, ready


async def test_a_press_is_two_entries_and_one_event(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        listener = bench.stream.subscribe()
        first = bench.size + 1
        bench.take([reading("0.010")])
        (event,) = await listener.next()
        listener.close()
        assert (event.id, event.name, bench.size) == (first + 1, "reading", first + 1)
        shown = json.loads(event.data)
        assert shown["seq"] == first
        assert shown["value"] == "0.010"
        assert shown["raw"] == b"0.010\r".hex()
        assert shown["placement"]["step"] == "bores/1/top-a"
        assert shown["verdict"]["measured"] == "20.010"
        assert event.data == bench.archive.reading(first)
        assert bench.archive.events(first - 1) == [event]


async def test_nothing_is_published_before_it_is_on_disk(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        listener = bench.stream.subscribe()
        for digits in GOOD_BORES:
            bench.take([reading(digits)])
        seen = 0
        while seen < len(GOOD_BORES):
            for event in await listener.next():
                assert event.id is not None
                assert bench.archive.entry(event.id) is not None
                seen += 1
        listener.close()


async def test_undecodable_bytes_are_kept(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        item = Undecodable("/dev/x", None, b"\xff\x00", "noise", "no line", CLOCK.now())
        bench.take([item])
        await done(bench.view(view.builds))
        data = bench.archive.entry(bench.size)
        assert data is not None
        entry = json.loads(data)
        assert entry["kind"] == "undecodable"
        assert (entry["body"]["raw"], entry["body"]["code"]) == ("ff00", "noise")


async def test_a_restart_folds_to_the_same_state(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        build = await ready(bench)
        bench.take([reading(digits) for digits in GOOD_BORES])
        await done(bench.submit(c.Rework(build, "barrel", 1, "honed")))
        bench.take([reading(digits) for digits in ("0.012", "0.013")])
        before = await done(bench.view(lambda desk: view.build(desk, build)))
        listed = await done(bench.view(lambda desk: view.steps(desk, build)))
        last = json.loads(bench.archive.readings().items[-1])["seq"]
        await done(bench.submit(c.Void(last, "not rocked")))
        void = await done(bench.view(lambda desk: view.steps(desk, build)))
        assert before["steps_done"] == 3
        assert listed != void
    async with pipeline(tmp_store) as bench:
        assert bench.boot == 2
        assert await done(bench.view(lambda desk: view.steps(desk, build))) == void
        assert (await done(bench.view(lambda desk: view.next_step(desk, build))))["step"][
            "id"
        ] == "bores/1/top-b"
    report = verify(tmp_store)
    assert report.ok, report.problems


async def test_idempotency_key_answers_again_also_after_a_restart(tmp_store: Path) -> None:
    typed = c.TypeReading("mic", "19.980", "mm")
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        one = bench.submit(typed, key="k-1")
        two = bench.submit(typed, key="k-1")
        first, again = await done(one), await done(two)
        assert (first.created, again.created) == (True, False)
        assert first.seq == again.seq
        assert first.body == again.body
        with pytest.raises(Conflict, match="used before"):
            await done(bench.submit(c.TypeReading("mic", "19.981", "mm"), key="k-1"))
        size = bench.size
    async with pipeline(tmp_store) as bench:
        assert bench.size > size  # the new start is an entry
        late = await done(bench.submit(typed, key="k-1"))
        assert (late.seq, late.created) == (first.seq, False)
    assert verify(tmp_store).ok


async def test_typed_readings_are_marked_and_checked(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        outcome = await done(bench.submit(c.TypeReading("mic", "+19.980", "MM"), operator="Ann"))
        assert outcome.body["typed"] is True
        assert outcome.body["operator"] == "Ann"
        assert (outcome.body["value"], outcome.body["unit"]) == ("19.980", "mm")
        with pytest.raises(NotFound, match="no instrument"):
            await done(bench.submit(c.TypeReading("ghost", "1", "mm")))


async def test_a_failing_command_spoils_nothing_beside_it(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        build = await ready(bench)
        good = bench.submit(c.Assign(build, "plunger", 1, "P-1"))
        bad = bench.submit(c.AddSpec("format = 1\n", "wrong.toml"))
        worse = bench.submit(c.Confirm(build, "bores/1/top-a", ""))
        with pytest.raises(SpecError) as caught:
            await done(bad)
        assert caught.value.problems[0].file == "wrong.toml"
        with pytest.raises(Conflict):
            await done(worse)
        assert (await done(good)).created
    assert verify(tmp_store).ok


async def test_moved_and_corrected_readings_verify_and_page_in_their_build(
    tmp_store: Path,
) -> None:
    async with pipeline(tmp_store) as bench:
        first = await ready(bench)
        bench.take([reading(digits) for digits in GOOD_BORES])
        second = await ready(bench, SPEC.replace('revision = "1"', 'revision = "2"'))
        moved = json.loads(bench.archive.readings(filters=Filters(build=first)).items[2])["seq"]
        await done(bench.submit(c.Place(moved, second, "bores/3/top-a", "wrong build was active")))
        await done(bench.submit(c.Void(moved, "no, after all")))
        await done(bench.submit(c.Place(moved, first, "bores/2/top-a", "barrel 2")))
        await done(bench.submit(c.Correct(moved, "0.012", None, "misread")))
        assert len(bench.archive.readings(filters=Filters(build=first)).items) == 4
        assert bench.archive.readings(filters=Filters(build=second)).items == []
        shown = json.loads(bench.archive.reading(moved) or b"")
        assert shown["value"] == "0.009"
        assert shown["corrected"] == {"digits": "0.012", "unit": "mm"}
        states = [
            await done(bench.view(partial(view.steps, build_id=build))) for build in (first, second)
        ]
    async with pipeline(tmp_store) as bench:
        for build, state in zip((first, second), states, strict=True):
            assert await done(bench.view(partial(view.steps, build_id=build))) == state
    report = verify(tmp_store)
    assert report.ok, report.problems


async def test_device_news_is_kept_and_published(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        listener = bench.stream.subscribe()
        state = DeviceState("mic", "lost", "unplugged", CLOCK.now())
        bench.device(state)
        (event,) = await listener.next()
        listener.close()
        assert (event.id, event.name) == (None, "device")
        assert json.loads(event.data)["state"] == "lost"
        assert bench.devices() == [state]


async def test_a_slow_listener_is_cut_off_and_capture_goes_on(tmp_store: Path) -> None:
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        slow, quick = bench.stream.subscribe(limit=2), bench.stream.subscribe()
        bench.take([reading(digits) for digits in GOOD_BORES])
        got = 0
        while got < 4:
            got += len(await quick.next())
        assert slow.lagged
        assert await slow.next() == []
        quick.close()
        slow.close()
        assert bench.stream.listeners == 0


async def test_second_service_on_one_store_is_refused(tmp_store: Path) -> None:
    async with pipeline(tmp_store):
        with pytest.raises(StoreInUse, match="Another service is using"):
            open_pipeline(tmp_store)
    async with pipeline(tmp_store) as again:
        assert again.boot == 2


async def test_full_intake_asks_to_stop_and_says_when_there_is_room(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("capture.pipeline.FULL_AT", 50)
    async with pipeline(tmp_store) as bench:
        await ready(bench)
        assert bench.take([reading(f"0.0{i:03d}") for i in range(200)]) is False
        await asyncio.wait_for(bench.room(), 10)
        assert bench.take([reading("0.010")]) is True
        await done(bench.view(view.builds))
    report = verify(tmp_store)
    assert report.ok
    assert report.counts["press"] == 201


async def test_a_fault_of_ours_does_not_cost_the_reading(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with pipeline(tmp_store) as bench:
        build = await ready(bench)
        with monkeypatch.context() as broken:
            broken.setattr("capture.batch.by_rule", lambda *_: 1 / 0)
            bench.take([reading("0.010")])
            await done(bench.view(view.builds))
        bench.take([reading("0.011")])
        await done(bench.view(view.builds))
        first, second = (json.loads(item) for item in bench.archive.readings().items)
        assert first["placement"]["reason"]["code"] == "fault"
        assert second["placement"]["step"] == "bores/1/top-a"
        moved = await done(bench.submit(c.Place(first["seq"], build, "bores/1/top-b", "was fine")))
        assert moved.body["verdict"]["measured"] == "20.010"
    assert "ZeroDivisionError" in caplog.text
    assert verify(tmp_store).ok


async def test_builds_not_asked_for_lately_are_forgotten_and_come_back(
    tmp_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("capture.desk.LOADED_MOST", 1)
    async with pipeline(tmp_store) as bench:
        builds = []
        for number, revision in enumerate("abcd"):
            text = SPEC.replace('revision = "1"', f'revision = "{revision}"')
            builds.append(await ready(bench, text))
            bench.take([reading(f"0.01{number}")])
        for build in builds * 2:
            state = await done(bench.view(partial(view.build, build_id=build)))
            assert state["steps_done"] == 2
            await done(bench.submit(c.SetOperator("Ann")))
        loaded = await done(bench.view(lambda desk: len(desk.loaded)))
        assert loaded == 2
    assert verify(tmp_store).ok
