"""Foot pedals on a real service: what a press does, what it says, and that it is seen to be there.

The pedals' device is a FIFO of recorded key events; the gauge that is asked is simulated.
"""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import AsyncIterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.server import Listening
from capture.clock import SystemClock
from capture.reading import LiveTorque, Pull, Undecodable
from drivers.keys.opening import Keyboards
from simulators.serial_side import Cable
from simulators.wire import wire_for
from tests.key_events import F13, Node, node, tap
from tests.running import BENCH, client, opened_build, service, typed
from tests.support import eventually_async

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no FIFOs on Windows")

SEND, CONFIRM, VOID = F13, F13 + 1, F13 + 2
PEDALS = """
[[pedal]]
id = "send"
device = "/dev/input/by-id/usb-invented-pedals-event-kbd"
key = "f13"
does = "send"

[[pedal]]
id = "confirm"
device = "/dev/input/by-id/usb-invented-pedals-event-kbd"
key = "f14"
does = "confirm"

[[pedal]]
id = "void"
device = "/dev/input/by-id/usb-invented-pedals-event-kbd"
key = "f15"
does = "void"
"""
ASKED = """
[[instrument]]
id = "{id}"
kind = "{kind}"
port = "{port}"
profile = "asked-decimal-line"
unit = "mm"
resolution = "0.001"
simulated = true
"""


class Feet:
    """The pedals under a person's feet, and what the service says of them."""

    def __init__(self, listening: Listening, http: httpx.AsyncClient, recorded: Node) -> None:
        self.service = listening.service
        self.http = http
        self.recorded = recorded
        self.micros = 0

    def state(self, pedal: str) -> dict[str, Any]:
        assert self.service.pedals is not None
        return next(one for one in self.service.pedals.states() if one["pedal"] == pedal)

    async def reach(self, state: str) -> None:
        await eventually_async(lambda: self.state("send")["state"] == state, f"pedals {state}")

    async def press(self, code: int) -> dict[str, Any]:
        """A press, and what it came to."""
        name = {SEND: "send", CONFIRM: "confirm", VOID: "void"}[code]
        before = self.state(name)["press"]
        self.micros += 1_000_000
        self.recorded.put(tap(code, self.micros))
        await eventually_async(lambda: self.state(name)["press"] is not before, f"{name} answered")
        told: dict[str, Any] = self.state(name)["press"]
        return told


@contextlib.asynccontextmanager
async def feet(
    folder: Path, monkeypatch: pytest.MonkeyPatch, gauges: str = "", keys: range | None = None
) -> AsyncIterator[Feet]:
    """A service whose pedals are ready, or whose device lacks their keys."""
    (folder / "bench.toml").write_text(BENCH + gauges + PEDALS, "utf-8")
    with node(folder) as recorded:
        recorded.keys = keys or recorded.keys
        monkeypatch.setattr("drivers.keys.pedals.Keyboards", lambda: Keyboards(recorded.open))
        async with service(folder) as listening, client(listening) as http:
            made = Feet(listening, http, recorded)
            await made.reach("lost" if keys else "ready")
            yield made


@contextlib.contextmanager
def gauge(folder: Path, name: str, kind: str, value: str) -> Any:
    """A simulated gauge that sends when it is asked, and its lines of bench.toml."""
    wire = wire_for("decimal-line")
    asked: list[bytes] = []

    def answer(request: bytes) -> None:
        asked.append(request)
        cable.write(wire.message(Decimal(value), "mm"))

    cable = Cable(folder / f"cable-{name}", on_request=answer)
    try:
        yield ASKED.format(id=name, kind=kind, port=cable.path), asked
    finally:
        cable.close()


async def ready(made: Feet, *names: str) -> None:
    await eventually_async(
        lambda: (
            {one.instrument for one in made.service.devices.states() if one.state == "ready"}
            >= set(names)
        ),
        f"{names} ready",
    )


async def steps_done(made: Feet, build: str) -> int:
    return int((await made.http.get(f"/v1/builds/{build}")).json()["steps_done"])


async def test_send_asks_the_only_gauge_that_can_be_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with gauge(tmp_path, "depth-1", "depth-gauge", "12.345") as (lines, asked):
        async with feet(tmp_path, monkeypatch, lines) as made:
            await ready(made, "depth-1")

            said = await made.press(SEND)

            assert (said["result"], asked) == ("done", [b"V\r"])
            assert "depth-1" in said["detail"]
            found = (await made.http.get("/v1/readings")).json()["readings"]
            assert [(one["instrument"], one["value"]) for one in found] == [("depth-1", "12.345")]


async def test_send_asks_the_gauge_that_suits_the_step(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (
        gauge(tmp_path, "depth-1", "depth-gauge", "1.000") as (first, not_asked),
        gauge(tmp_path, "mic-2", "micrometer", "25.001") as (second, asked),
    ):
        async with feet(tmp_path, monkeypatch, first + second) as made:
            await ready(made, "depth-1", "mic-2")
            nothing = await made.press(SEND)
            build = await opened_build(made.http)
            done = await made.press(SEND)

            assert nothing["result"] == "nothing"
            assert "no build is active" in nothing["detail"]
            assert done["result"] == "done"
            assert (not_asked, asked) == ([], [b"V\r"])
            assert await steps_done(made, build) == 1


async def test_send_says_when_the_gauge_is_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = ASKED.format(id="depth-1", kind="depth-gauge", port=tmp_path / "no-cable")
    async with feet(tmp_path, monkeypatch, lines) as made:
        said = await made.press(SEND)

        assert said["result"] == "failed"
        assert "depth-1" in said["detail"]


def lines_of(name: str, kind: str, folder: Path) -> str:
    return ASKED.format(id=name, kind=kind, port=folder / f"no-cable-{name}")


async def test_send_asks_nobody_where_two_or_none_suit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = lines_of("mic-2", "micrometer", tmp_path) + lines_of("mic-3", "micrometer", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        await opened_build(made.http)

        assert "mic-2 and mic-3 both suit" in (await made.press(SEND))["detail"]

        for value in ("25.000", "25.001", "25.002", "25.003"):
            await typed(made.http, value)
        said = await made.press(SEND)
        assert said["result"] == "nothing"
        assert (
            "no gauge that can be asked suits the step that waits (Faces clean)" in said["detail"]
        )


async def test_confirm_confirms_the_step_that_waits_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        assert "no build is active" in (await made.press(CONFIRM))["detail"]
        build = await opened_build(made.http)
        said = await made.press(CONFIRM)
        assert said["result"] == "nothing"
        assert "not one to confirm: Sleeve diameter" in said["detail"]
        assert await steps_done(made, build) == 0

        for value in ("25.000", "25.001", "25.002", "25.003"):
            await typed(made.http, value)
        said = await made.press(CONFIRM)

        assert (said["result"], said["detail"]) == ("done", "confirmed: Faces clean")
        entry = (await made.http.get(f"/v1/entries/{said['seq']}")).json()
        assert entry["body"]["note"] == "foot pedal"
        assert await steps_done(made, build) == 5
        said = await made.press(CONFIRM)
        assert (said["result"], said["detail"]) == ("nothing", "the build wants nothing more")


async def test_void_takes_the_last_reading_out_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        assert "no reading was taken" in (await made.press(VOID))["detail"]
        build = await opened_build(made.http)
        first = await typed(made.http, "25.000")
        second = await typed(made.http, "24.000")

        done, again = await made.press(VOID), await made.press(VOID)

        assert done["result"] == "done"
        assert f"reading {second['seq']} from mic-1 is void" == done["detail"]
        assert (again["result"], "is void already" in again["detail"]) == ("nothing", True)
        left = (await made.http.get(f"/v1/readings/{second['seq']}")).json()
        assert left["placement"]["reason"]["code"] == "void"
        kept = (await made.http.get(f"/v1/readings/{first['seq']}")).json()
        assert kept["placement"]["step"]
        assert await steps_done(made, build) == 1


async def test_void_waits_for_a_pull_that_is_not_stored_yet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        await opened_build(made.http)
        before = await typed(made.http, "25.000")
        pipeline = made.service.pipeline

        def shown(ended: bool) -> None:
            pipeline.torque(
                LiveTorque("adapter", ended, "N·m", 1000, 0, ("0.0", "4.0"), None, None)
            )

        shown(ended=False)
        said = await made.press(VOID)
        assert said["result"] == "nothing"
        assert "a pull of adapter is not stored yet" in said["detail"]

        # looked at, and not yet written
        looking, looked = threading.Event(), threading.Event()

        def slowly(pull: Pull) -> Undecodable:
            looking.set()
            looked.wait(10)
            return Undecodable("p", "adapter", b"", "no-trace", "invented", pull.stamp)

        monkeypatch.setattr("capture.analysing._looked_at", slowly)
        stamp = SystemClock().now()
        pull = Pull("p", "adapter", "N·m", 1000, ("0.0", "4.0"), None, (), (), None, None, stamp)
        shown(ended=True)
        pipeline.take([pull])
        await eventually_async(looking.is_set, "the pull is looked at")
        assert (await made.press(VOID))["result"] == "nothing"
        looked.set()
        await eventually_async(lambda: pipeline.under_way() is None, "the pull is stored")
        assert (await made.press(VOID))["detail"] == f"reading {before['seq']} from mic-1 is void"


async def test_void_leaves_what_was_taken_before_the_service_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        await opened_build(made.http)
        await typed(made.http, "25.000")
    (tmp_path / "event7").unlink(missing_ok=True)
    async with feet(tmp_path, monkeypatch, lines) as made:
        said = await made.press(VOID)

        assert said["result"] == "nothing"
        assert "since the service started" in said["detail"]


async def test_void_finds_a_reading_far_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.pedals._RECENT", 3)
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        reading = await typed(made.http, "25.000")
        for name in ("a", "b", "c", "d"):
            await made.http.post("/v1/operator", json={"operator": name})

        said = await made.press(VOID)

        assert said["detail"] == f"reading {reading['seq']} from mic-1 is void"


async def test_a_press_while_the_one_before_is_carried_out_does_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cable = Cable(tmp_path / "cable")  # it hears no request, so it answers none
    try:
        lines = ASKED.format(id="depth-1", kind="depth-gauge", port=cable.path)
        async with feet(tmp_path, monkeypatch, lines) as made:
            await ready(made, "depth-1")
            made.recorded.put(tap(SEND, 1_000_000) + tap(SEND, 2_000_000))

            await eventually_async(lambda: made.state("send")["press"], "answered")

            assert made.state("send")["press"]["detail"].startswith("the press before is still")
        assert made.state("send")["state"] == "closed"
    finally:
        cable.close()


async def test_a_bounce_is_one_press(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        await opened_build(made.http)
        for value in ("25.000", "25.001"):
            await typed(made.http, value)
        subscription = made.service.pipeline.stream.subscribe()
        made.recorded.put(tap(VOID, 1_000_000) + tap(VOID, 1_080_000) + tap(VOID, 1_290_000))
        await eventually_async(lambda: made.state("void")["press"], "the press is answered")
        await made.press(CONFIRM)

        told = [event for event in await subscription.next() if event.name == "pedal"]
        subscription.close()
        assert len(told) == 2
        assert made.state("void")["press"]["result"] == "done"


async def test_pedals_are_seen_like_devices(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines) as made:
        told = (await made.http.get("/v1/bench")).json()["pedals"]
        assert [(one["pedal"], one["does"], one["state"]) for one in told] == [
            ("send", "send", "ready"),
            ("confirm", "confirm", "ready"),
            ("void", "void", "ready"),
        ]
        assert told[0]["press"] is None
        async with made.http.stream("GET", "/v1/events") as response:
            seen = [line async for line in _until(response, "event: condition")]
        assert seen.count("event: pedal") == 3

        made.recorded.unplug()
        await made.reach("lost")
        assert "trying again" in made.state("void")["detail"]
        made.recorded.plug_in()
        await made.reach("ready")
        assert (await made.press(CONFIRM))["result"] == "nothing"


async def _until(response: httpx.Response, last: str) -> AsyncIterator[str]:
    async for line in response.aiter_lines():
        yield line
        if line == last:
            return


async def test_a_device_without_the_keys_of_its_pedals(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lines = lines_of("depth-1", "depth-gauge", tmp_path)
    async with feet(tmp_path, monkeypatch, lines, keys=range(2, 5)) as made:
        detail = made.state("void")["detail"]

        assert "has no key f13" in detail
        assert "name one of its keys in bench.toml: 1, 2, 3" in detail
