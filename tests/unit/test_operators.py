"""Who is at the bench: named in bench.toml, chosen, or scanned from a badge on the service's own
machine, whose scanner is a FIFO of recorded key events here."""

from __future__ import annotations

import contextlib
import errno
import json
import logging
import sys
from collections.abc import AsyncIterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.server import Listening
from capture.errors import BenchError
from drivers.bench import Bench, parse_bench
from drivers.bench_operators import Operator
from drivers.keys.attached import Attached
from drivers.keys.badge import PAUSE, BadgeReader, Scan, Scans
from drivers.keys.badges import Badges
from drivers.keys.opening import Keyboards
from drivers.keys.typist import LOST, MIDWAY, mark
from drivers.reach.known import Known
from simulators.serial_side import Cable
from simulators.wire import wire_for
from tests.key_events import DROPPED, ENTER, F13, REPORT, Node, node, tap
from tests.key_events import typed as keys_typing
from tests.running import BENCH, client, opened_build, service, typed
from tests.support import eventually_async

fifos = pytest.mark.skipif(sys.platform == "win32", reason="no FIFOs on Windows")
DEVICE = "/dev/input/by-id/usb-invented-scanner-event-kbd"
WHO = """
[[operator]]
name = "first shift"
badge = "OP-0017"

[[operator]]
name = "A. B."

[[operator]]
name = "second shift"
badge = "0018"
"""
GAUGE = """
[[instrument]]
id = "mic-2"
kind = "micrometer"
port = "{port}"
profile = "decimal-line"
unit = "mm"
resolution = "0.001"
simulated = true
"""
READER = f"""
[[badge_reader]]
device = "{DEVICE}"
"""


# bench.toml -----------------------------------------------------------------------------------


def bench(text: str) -> Bench:
    return parse_bench(BENCH + text, "bench.toml", Path())


def test_operators_and_their_badge_reader() -> None:
    found = bench(WHO + READER + 'id = "door"\nkeys = { "/" = "-" }\n')

    assert found.operators == (
        Operator("first shift", "OP-0017"),
        Operator("A. B."),
        Operator("second shift", "0018"),
    )
    assert found.badge_readers == (BadgeReader("door", DEVICE, (("/", "-"),)),)
    scanner = Attached(DEVICE, DEVICE, "Invented scanner", frozenset(range(2, 30)), ("1", "2"))
    assert Known(found).others(scanner) == ["door"]
    assert (bench("").operators, bench("").badge_readers) == ((), ())


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        ('[[operator]]\nbadge = "1"\n', "operator[1].name", "missing"),
        ('[[operator]]\nname = " A"\n', "operator[1].name", "initials or a name of the shift"),
        ('[[operator]]\nname = ""\n', "operator[1].name", "1 to 200 characters"),
        ('[[operator]]\nname = "A"\nbadge = "1\\t2"\n', "operator[1].badge", "without its Enter"),
        ('[[operator]]\nname = "A"\nbagde = "1"\n', "operator[1].bagde", "did you mean badge?"),
        (WHO + '[[operator]]\nname = "A. B."\n', "operator[4].name", "already the name"),
        (
            WHO + '[[operator]]\nname = "C"\nbadge = "0018"\n',
            "operator[4].badge",
            "already the badge of second shift",
        ),
        (READER, "badge_reader[1]", "no operator has a badge"),
        (WHO + "[[badge_reader]]\n", "badge_reader[1].device", "missing"),
        (WHO + READER + 'id = "a b"\n', "badge_reader[1].id", "letters, digits"),
        (WHO + READER + 'keys = { nokey = "1" }\n', "badge_reader[1].keys", "no key known here"),
        (WHO + READER + READER, "badge_reader[2].device", "another badge reader's"),
        (
            WHO + '[[badge_reader]]\ndevice = "/dev/ttyUSB7"\n',
            "badge_reader[1].device",
            "no input device",
        ),
        (
            WHO + READER + f'[[pedal]]\ndevice = "{DEVICE}"\ndoes = "void"\n',
            "badge_reader[1].device",
            "a pedal's",
        ),
        (
            WHO + READER.replace(DEVICE, "keys:A") + 'id = "x"\n' + READER + 'id = "x"\n',
            "badge_reader[x].id",
            "already the id",
        ),
    ],
)
def test_what_is_wrong_is_said_with_the_mend(text: str, key: str, words: str) -> None:
    with pytest.raises(BenchError) as caught:
        bench(text)
    (problem,) = caught.value.problems
    assert problem.key == key
    assert words in f"{problem.message} {problem.mend}"
    assert problem.line


# scans ----------------------------------------------------------------------------------------


def scans(*chunks: tuple[float, bytes]) -> list[Scan]:
    made = Scans()
    return [scan for at, text in chunks for scan in made.feed(text, at)]


def test_a_scan_is_what_comes_up_to_enter() -> None:
    assert scans((5, b"OP-00"), (5.1, b"17\n0018\r\n\n")) == [Scan("OP-0017"), Scan("0018")]
    assert scans((5, b" OP-0017\t\n")) == [Scan("OP-0017")]


def test_letters_of_any_alphabet_are_counted_as_letters() -> None:
    assert [one.text for one in Scans().feed(("ä" * 200 + "\r").encode(), 1.0)] == ["ä" * 200]
    for letters in (201, 900):
        (scan,) = Scans().feed(("ä" * letters + "\r").encode(), 1.0)
        assert scan == ("", "it is longer than 200 characters")


def test_what_was_begun_long_ago_is_no_part_of_a_scan() -> None:
    assert scans((5, b"OP-"), (5.1 + PAUSE, b"0018\n")) == [Scan("0018")]
    assert scans((5, b"OP-"), (4.9 + PAUSE, b"0018\n")) == [Scan("OP-0018")]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (mark(LOST) + b"17\n", "lost"),
        (mark(MIDWAY) + b"17\n", "being opened"),
        (b"1" + mark("f13") + b"7\n", "the key f13 in it types no character"),
        (b"1" * 201 + b"\n", "longer than 200"),
    ],
)
def test_a_scan_that_is_not_whole_names_nobody(text: str | bytes, why: str) -> None:
    assert isinstance(text, bytes)
    spoilt, good = scans((1, text + b"0018\n"))
    assert spoilt.text == ""
    assert why in spoilt.spoilt
    assert good == Scan("0018")


@fifos
async def test_a_scanner_that_may_not_be_read_says_the_mend_and_is_opened_later(
    tmp_path: Path,
) -> None:
    told: list[tuple[str, str]] = []
    seen: list[str] = []
    with node(tmp_path) as recorded:
        recorded.trouble = OSError(errno.EACCES, "Permission denied")
        badges = Badges(
            [BadgeReader("door", DEVICE)],
            lambda _, scan: seen.append(scan.text),
            lambda _, state, detail: told.append((state.value, detail)),
            keyboards=Keyboards(recorded.open, settling=0.0),
            random=lambda: 0.0,
        )
        await badges.start()
        await eventually_async(lambda: [one for one, _ in told][-1:] == ["lost"], "lost")
        assert "no permission" in told[-1][1]
        assert "70-gauges.rules" in told[-1][1]
        recorded.trouble = None
        await eventually_async(lambda: [one for one, _ in told][-1:] == ["ready"], "ready")
        assert recorded.opened[-1].grabbed
        recorded.put(keys_typing("OP-0017\n"))
        await eventually_async(lambda: seen == ["OP-0017"], "a scan")
        await badges.stop()
    assert told[-1][0] == "closed"
    assert all(one.closed for one in recorded.opened)


# the whole service ----------------------------------------------------------------------------


class Door:
    """A badge scanner, and what the service says of it."""

    def __init__(
        self, listening: Listening, http: httpx.AsyncClient, recorded: Node, cable: Cable
    ) -> None:
        self.service, self.http, self.recorded = listening.service, http, recorded
        self._cable = cable

    def state(self) -> dict[str, Any]:
        assert self.service.badges is not None
        (state,) = self.service.badges.states()
        return state

    async def scan(self, events: bytes) -> dict[str, Any]:
        """Events of a scan, and what it came to."""
        before = self.state()["scan"]
        self.recorded.put(events)
        await eventually_async(lambda: self.state()["scan"] is not before, "answered")
        told: dict[str, Any] = self.state()["scan"]
        return told

    async def press(self, value: str) -> None:
        """SEND on the gauge on the cable; returns once its reading and decision are stored."""
        size = self.service.pipeline.size
        self._cable.write(wire_for("decimal-line").message(Decimal(value), "mm"))
        await eventually_async(lambda: self.service.pipeline.size == size + 2, f"{value} stored")

    async def get(self, path: str) -> dict[str, Any]:
        answer = await self.http.get(path)
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found


@contextlib.asynccontextmanager
async def door(folder: Path, monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Door]:
    cable = Cable(folder / "cable")
    gauge = GAUGE.format(port=cable.path)
    (folder / "bench.toml").write_text(BENCH + gauge + WHO + READER, "utf-8")
    with contextlib.closing(cable), node(folder) as recorded:
        monkeypatch.setattr(
            "drivers.keys.badges.Keyboards", lambda: Keyboards(recorded.open, settling=0.0)
        )
        async with service(folder) as listening, client(listening) as http:
            made = Door(listening, http, recorded, cable)
            await eventually_async(
                lambda: (
                    {one.state for one in listening.service.devices.states()} == {"ready"}
                    and made.state()["state"] == "ready"
                ),
                "ready",
            )
            yield made


@fifos
async def test_a_scan_says_who_makes_the_entries_from_then_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with door(tmp_path, monkeypatch) as made:
        await opened_build(made.http)
        await made.press("25.001")
        told = await made.scan(keys_typing("OP-0017\n"))
        await made.press("25.002")
        again = await made.scan(keys_typing("0018\n"))
        await made.press("25.003")
        await typed(made.http, "25.004")

        assert (told["result"], told["operator"]) == ("done", "first shift")
        found = (await made.get("/v1/readings"))["readings"]
        assert [(one["value"], one["operator"]) for one in found] == [
            ("25.001", None),
            ("25.002", "first shift"),
            ("25.003", "second shift"),
            ("25.004", "second shift"),
        ]
        entries = (await made.get(f"/v1/entries?after={again['seq']}"))["entries"]
        assert {one["kind"] for one in entries} == {"press", "decision"}
        assert {one["operator"] for one in entries} == {"second shift"}
        entry = await made.get(f"/v1/entries/{told['seq']}")
        assert (entry["kind"], entry["operator"]) == ("operator", "first shift")
        assert entry["body"] == {"operator": "first shift"}  # no badge in the ledger
        state = await made.get("/v1/bench")
        assert state["operator"] == "second shift"
        assert state["operators"][:2] == [
            {"name": "first shift", "badge": "OP-0017"},
            {"name": "A. B.", "badge": None},
        ]
        assert state["badge_readers"] == [made.state()]
        assert (await made.get("/v1/operators")) == {
            name: state[name] for name in ("operator", "operators", "badge_readers")
        }
        assert again["seq"] > told["seq"]


@fifos
async def test_a_scan_that_changes_nothing_is_answered_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async with door(tmp_path, monkeypatch) as made:
        await made.scan(keys_typing("OP-0017\n"))
        size = made.service.pipeline.size
        with caplog.at_level(logging.WARNING, "api.badges"):
            again = await made.scan(keys_typing("OP-0017\n"))
            strange = await made.scan(keys_typing("op-0017\n"))  # small letters are others
            spoilt = await made.scan(keys_typing("00") + tap(F13) + keys_typing("18\n"))
            lost = await made.scan(DROPPED + REPORT + tap(ENTER))

        assert (again["result"], again["seq"]) == ("nothing", None)
        assert strange["result"] == "unknown"
        assert strange["badge"] == "op-0017"
        assert "under an [[operator]] of bench.toml" in strange["detail"]
        assert [one["result"] for one in (spoilt, lost)] == ["failed", "failed"]
        assert "the key f13" in spoilt["detail"]
        assert "badge-reader-1: No operator of this bench has the badge 'op-0017'" in caplog.text
        assert "OP-0017" not in caplog.text
        assert made.service.pipeline.size == size
        assert (await made.get("/v1/operators"))["operator"] == "first shift"


@fifos
async def test_a_page_is_told_of_the_reader_and_of_its_loss(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with (
        door(tmp_path, monkeypatch) as made,
        made.http.stream("GET", "/v1/events", timeout=10) as stream,
    ):
        lines = stream.aiter_lines()

        async def news() -> dict[str, Any]:
            async for line in lines:
                if line == "event: badge":
                    data = await anext(lines)
                    found: dict[str, Any] = json.loads(data.removeprefix("data: "))
                    return found
            raise AssertionError("the stream ended")

        assert (await news())["state"] == "ready"  # as it opens
        made.recorded.put(keys_typing("nobody\n"))
        told = await news()
        assert (told["reader"], told["scan"]["result"]) == ("badge-reader-1", "unknown")
        made.recorded.unplug()
        told = await news()
        assert told["state"] == "lost"
        assert told["detail"]
        assert told["scan"]["result"] == "unknown"
        while "no such device" not in told["detail"]:
            told = await news()
        assert "ls -l /dev/input/by-id" in told["detail"]
        made.recorded.plug_in()
        while told["state"] != "ready":
            told = await news()


async def test_a_badge_may_be_posted_by_a_page(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(BENCH + WHO, "utf-8")
    async with service(tmp_path) as listening, client(listening) as http:

        async def post(**body: str) -> httpx.Response:
            return await http.post("/v1/operator", json=body)

        answer = await post(badge="OP-0017 ")
        assert answer.status_code == 201
        assert answer.json()["operator"] == "first shift"
        assert (await post(operator="a guest")).status_code == 201

        unknown = await post(badge="OP-9999")
        assert unknown.status_code == 404
        assert "'OP-9999'" in unknown.json()["detail"]
        assert "bench.toml" in unknown.json()["mend"]
        for body in ({}, {"operator": "A. B.", "badge": "0018"}):
            refused = await post(**body)
            assert refused.status_code == 422
            assert "Give operator or badge" in refused.json()["mend"]
        state = (await http.get("/v1/operators")).json()
        assert (state["operator"], state["badge_readers"]) == ("a guest", [])
        assert [one["name"] for one in state["operators"]] == [
            "first shift",
            "A. B.",
            "second shift",
        ]
