"""The robot builder against a stand-in service, and the ``python -m simulators`` process."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from simulators import scenario
from simulators.builder import Builder
from simulators.client import Client, Refused, Unreachable
from simulators.plan import ScenarioError
from simulators.press import BuilderStuck, Stopped
from simulators.workbench import Workbench
from tests.fake_service import FakeService

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

SCENARIO = """
title = "Two bores"
spec = "engine.toml"
lot = "a"
operator = "robot builder"
part_temperature = 20.0
gauge_temperature = 20.0
[[port]]
id = "one"
[[port]]
id = "two"
[[port]]
id = "three"
[[instrument]]
id = "bore-gauge-1"
kind = "bore-gauge"
port = "one"
profile = "decimal-line"
unit = "mm"
resolution = "0.001"
range = ["-1.000", "1.000"]
comparative = true
[[instrument]]
id = "micrometer-1"
kind = "micrometer"
port = "two"
profile = "decimal-line"
unit = "mm"
resolution = "0.001"
sends_unit = false
range = ["0.000", "75.000"]
[[instrument]]
id = "wrench-1"
kind = "torque-wrench"
port = "three"
profile = "asked-decimal-line"
unit = "N·m"
resolution = "0.01"
sends_unit = false
[[instrument]]
id = "feeler-1"
kind = "feeler"
port = "typed"
profile = "typed"
unit = "mm"
resolution = "0.01"
[[standard]]
id = "ring-86"
size = "86.000"
unit = "mm"
expanded_uncertainty = "0.001"
coverage_factor = "2"
[[feature]]
characteristic = "bore"
size = 86.010
taper = 0.004
scatter = 0.001
depths = ["top", "bottom"]
offsets = { bore-2 = -0.030 }
[[feature]]
characteristic = "journal"
size = 48.000
scatter = 0.002
depths = ["front", "rear"]
[[feature]]
characteristic = "gap"
size = 0.40
[[turning]]
test = "crank"
torque = 3.0
[[assign]]
part = "journal"
number = 1
piece = "crank-7"
[[remedy]]
about = "measure-bore"
number = 2
rework = "bore"
machines = "bore"
change = 0.030
reason = "Honed."
"""
STEP = """
[[step]]
id = "{operation}/{number}{tail}"
kind = "{kind}"
operation = "{operation}"
characteristic = "{what}"
part = "{what}"
number = {number}
point = "{point}"
instruments = ["{instrument}"]
unit = "{unit}"
middle = "{middle}"
band = "{band}"
lower = "{lower}"
upper = "{upper}"
"""


def steps(
    kind: str, what: str, points: list[str], instrument: str,
    middle: float, band: float, half: float, numbers: int = 1, unit: str = "mm",
) -> str:  # fmt: skip
    return "".join(
        STEP.format(
            operation=f"{kind}-{what}", number=number, tail=f"/{point}" if point else "", kind=kind,
            what=what, point=point, instrument=instrument, unit=unit, middle=middle, band=band,
            lower=round(middle - half, 4), upper=round(middle + half, 4),
        )
        for number in range(1, numbers + 1)
        for point in points
    )  # fmt: skip


SPEC = "".join(
    (
        "[decision]\nrepeat_window_ms = 120\n",
        steps("confirm", "clean", [""], "", 0, 0, 0),
        steps("measure", "bore", ["top", "bottom"], "bore-gauge", 86.01, 0.2, 0.01, 2),
        steps("measure", "journal", ["front", "rear"], "micrometer", 48.0, 0.2, 0.01, 2),
        steps("measure", "gap", [""], "feeler", 0.4, 0.2, 0.1),
        steps("turn", "crank", [""], "torque-wrench", 3.0, 2, 1, unit="N·m"),
    )
)
MISTAKES = """
[[mistake]]
kind = "unset-gauge"
about = "bore"
[[mistake]]
kind = "noise"
about = "bore"
point = "top"
[[mistake]]
kind = "split"
about = "bore"
number = 1
point = "bottom"
[[mistake]]
kind = "merge"
about = "journal"
number = 1
point = "front"
[[mistake]]
kind = "wrong-unit"
about = "journal"
number = 2
point = "front"
[[mistake]]
kind = "double-press"
about = "journal"
number = 2
point = "front"
[[mistake]]
kind = "vanish"
about = "journal"
number = 2
point = "rear"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    there = tmp_path / "scenarios" / "two-bores"
    there.mkdir(parents=True)
    (there / "scenario.toml").write_text(SCENARIO + MISTAKES, "utf-8")
    (there / "engine.toml").write_text(SPEC, "utf-8")
    return tmp_path


@pytest.fixture
def bench(folder: Path) -> Iterator[Workbench]:
    plan = scenario.load("two-bores", folder / "scenarios")
    with Workbench(plan, folder / "bench") as one:
        yield one


@pytest.fixture
def service(bench: Workbench) -> Iterator[FakeService]:
    with FakeService(bench.bench_file) as one:
        yield one


@pytest.fixture
def client(service: FakeService) -> Iterator[Client]:
    one = Client(service.url)
    yield one
    one.close()


def test_a_whole_engine_with_every_mistake_mended(
    bench: Workbench, service: FakeService, client: Client
) -> None:
    said: list[dict[str, Any]] = []
    counts = Builder(bench, client, said.append).run()
    assert all(step["done"] for step in service.steps)
    assert counts["steps_done"] == len(service.steps) == 11
    assert counts["readings_sent"] == len(service.readings)
    assert counts["noise_sent"] == len(service.undecodable) == 1
    assert sorted(counts["mistakes"]) == sorted(
        ["unset-gauge", "noise", "split", "merge", "wrong-unit", "double-press", "vanish"]
    )
    assert counts["mistakes_left"] == []
    # 8 sizes, gap and crank; bore 2 once more after honing; unset, wrong unit and repeat.
    assert counts["readings_sent"] == 8 + 2 + 2 + 3
    assert counts["reworks"] == 1
    assert counts["voided"] == 3
    assert counts["settings"] == 1
    assert counts["concessions"] == 0
    events = Counter(event["event"] for event in said)
    assert events["press"] == counts["readings_sent"]
    assert events["vanished"] == events["back"] == 1
    reasons = [r["placement"].get("reason") for r in service.readings]
    assert reasons.count("voids") == 3


def test_the_first_press_of_an_unset_gauge_is_not_counted(
    bench: Workbench, service: FakeService, client: Client
) -> None:
    said: list[dict[str, Any]] = []
    Builder(bench, client, said.append).run()
    first = next(event for event in said if event["event"] == "press")
    assert first["instrument"] == "bore-gauge-1"
    assert first["reason"] == "gauge-not-set"
    order = [event["event"] for event in said]
    assert order.index("press") < order.index("void") < order.index("set")


def test_a_wrong_cylinder_is_moved_to_where_it_belongs(folder: Path, tmp_path: Path) -> None:
    file = folder / "scenarios" / "two-bores" / "scenario.toml"
    file.write_text(
        SCENARIO.replace("bore-2 = -0.030", "bore-9 = 0")
        + '[[mistake]]\nkind = "wrong-cylinder"\nabout = "bore"\nnumber = 1\npoint = "top"\n'
        "measures_number = 2\n"
        '[[mistake]]\nkind = "wrong-part"\nabout = "bore"\nnumber = 1\npoint = "bottom"\n'
        'measures = "journal"\nmeasures_number = 2\nmeasures_point = "rear"\n',
        "utf-8",
    )
    plan = scenario.load("two-bores", folder / "scenarios")
    with Workbench(plan, tmp_path / "bench") as bench, FakeService(bench.bench_file) as service:
        # The stand-in's bore step takes a bore gauge only; the journal step a micrometer.
        for text in ('["bore-gauge"]', '["micrometer"]'):
            assert text in SPEC
        engine = folder / "scenarios" / "two-bores" / "engine.toml"
        engine.write_text(SPEC.replace('["bore-gauge"]', '["bore-gauge", "micrometer"]'), "utf-8")
        client = Client(service.url)
        counts = Builder(bench, client, lambda _: None).run()
        client.close()
    placed = [body["step"] for path, body in service.posts if path.endswith("/placements")]
    assert placed == ["measure-bore/2/top", "measure-journal/2/rear"]
    assert counts["placed_by_hand"] == 2
    assert counts["voided"] == 0
    assert counts["readings_sent"] == len(service.readings) == 10


def test_the_same_digits_again_wait_out_the_repeat_window(
    folder: Path, service: FakeService, client: Client, bench: Workbench
) -> None:
    engine = folder / "scenarios" / "two-bores" / "engine.toml"
    engine.write_text(
        "[decision]\nrepeat_window_ms = 120\n"
        + steps("measure", "gap", ["", "", ""], "feeler", 0.4, 0.2, 0.1)
        .replace('"measure-gap/1"', '"measure-gap/1/x"', 1)
        .replace('"measure-gap/1"\nkind', '"measure-gap/1/y"\nkind', 1),
        "utf-8",
    )
    counts = Builder(bench, client, lambda _: None).run()
    assert [one["value"] for one in service.readings] == ["0.40"] * 3
    assert counts["voided"] == 0


def test_a_result_without_a_remedy_is_accepted_with_a_reason(folder: Path, tmp_path: Path) -> None:
    file = folder / "scenarios" / "two-bores" / "scenario.toml"
    file.write_text(SCENARIO.partition("[[remedy]]")[0], "utf-8")
    plan = scenario.load("two-bores", folder / "scenarios")
    with Workbench(plan, tmp_path / "bench") as bench, FakeService(bench.bench_file) as service:
        client = Client(service.url)
        counts = Builder(bench, client, lambda _: None).run()
        client.close()
    assert counts["concessions"] == 2  # both points of bore 2
    assert all(body["reason"] for path, body in service.posts if path.endswith("/concessions"))


def test_a_step_that_stays_open_ends_the_builder(
    folder: Path, bench: Workbench, service: FakeService, client: Client
) -> None:
    engine = folder / "scenarios" / "two-bores" / "engine.toml"
    engine.write_text(SPEC.replace('band = "0.2"', 'band = "0.0"'), "utf-8")
    with pytest.raises(BuilderStuck, match="measure-bore/1/top pass 1 was tried 6 times"):
        Builder(bench, client, lambda _: None).run()


def test_it_stops_when_asked(bench: Workbench, client: Client) -> None:
    stop = threading.Event()
    said: list[dict[str, Any]] = []

    def report(event: dict[str, Any]) -> None:
        said.append(event)
        if event["event"] == "confirm":
            stop.set()

    with pytest.raises(Stopped):
        Builder(bench, client, report, pace=30, stop=stop).run()
    assert [event["event"] for event in said] == ["spec", "build", "confirm"]


def test_refusals_and_silence_are_told_apart(service: FakeService, client: Client) -> None:
    with pytest.raises(Refused, match="GET /v1/nothing was answered 404: Not there"):
        client.get("/v1/nothing")
    with pytest.raises(Unreachable, match="no http:// address"):
        Client("ftp://bench")
    nobody = Client("http://127.0.0.1:9")
    with pytest.raises(Unreachable, match="does not answer"):
        nobody.get("/v1/health")
    nobody.close()


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('lot = "a"', "", "missing: lot"),
        ('lot = "a"', 'lot = "a"\nlots = 2', "unknown: lots"),
        ('port = "one"', 'port = "won"', "'won', which is not there"),
        ('kind = "noise"', 'kind = "static"', "There is no mistake 'static'"),
        ('resolution = "0.01"', "resolution = 0.01", "resolution must be a decimal in quotes"),
        ('id = "ring-86"', 'name = "ring-86"', r"\[\[standard\]\] number 1: unknown: name"),
        ("[[port]]", "[[port]", "Mend the TOML"),
    ],
)
def test_what_is_wrong_in_a_scenario_is_named(folder: Path, old: str, new: str, says: str) -> None:
    file = folder / "scenarios" / "two-bores" / "scenario.toml"
    file.write_text((SCENARIO + MISTAKES).replace(old, new, 1), "utf-8")
    with pytest.raises(ScenarioError, match=says):
        scenario.load("two-bores", folder / "scenarios")


def test_an_unknown_scenario_lists_those_there_are() -> None:
    with pytest.raises(ScenarioError, match=r"Give one of: .*inline-four"):
        scenario.load("flat-twin")


def test_every_shipped_scenario_loads_and_its_values_fit_their_wires(tmp_path: Path) -> None:
    plan = scenario.load("inline-four")
    assert plan.spec.name == "engine.toml"
    kinds = {mistake.kind for mistake in plan.mistakes}
    assert {"double-press", "wrong-unit", "wrong-cylinder", "unset-gauge"} < kinds
    with Workbench(plan, tmp_path) as bench:
        for station in bench.stations.values():
            value = station.plan.resolution * 3
            assert station.wire is None or bench.message(station, value, station.plan.unit)


# the process ----------------------------------------------------------------------------------


def start(folder: Path, *more: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "simulators", *more],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    )


def heard(process: subprocess.Popen[str]) -> dict[str, Any]:
    assert process.stdout is not None
    event: dict[str, Any] = json.loads(process.stdout.readline())
    return event


def tell(process: subprocess.Popen[str], line: str) -> None:
    assert process.stdin is not None
    process.stdin.write(line + "\n")
    process.stdin.flush()


def test_the_bench_process_is_ready_and_ends_with_its_input(tmp_path: Path) -> None:
    with start(tmp_path, "bench", "--dir", str(tmp_path / "bench")) as process:
        ready = heard(process)
        assert ready["event"] == "ready"
        assert Path(ready["bench"]).is_file()
        assert Path(ready["spec"]).is_file()
        assert os.path.islink(tmp_path / "bench" / "ports" / "cable-1")
        tell(process, "not json")
        assert "is not JSON" in heard(process)["message"]
        tell(process, '{"service": "http://127.0.0.1:9", "token": null, "pace": 0}')
        assert heard(process)["event"] == "stopped"
        assert heard(process)["kind"] == "Unreachable"
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(20) == 1
    assert not os.path.lexists(tmp_path / "bench" / "ports" / "cable-1")


def test_the_bench_process_ends_cleanly_on_a_signal(tmp_path: Path) -> None:
    with start(tmp_path, "bench", "--dir", str(tmp_path / "bench")) as process:
        assert heard(process)["event"] == "ready"
        process.send_signal(signal.SIGTERM)
        assert process.wait(20) == 0
    assert not os.path.lexists(tmp_path / "bench" / "ports" / "cable-1")


def test_the_bench_process_names_an_unknown_scenario(tmp_path: Path) -> None:
    arguments = ("bench", "--scenario", "flat-twin", "--dir", str(tmp_path))
    with start(tmp_path, *arguments) as process:
        assert "There is no scenario 'flat-twin'" in heard(process)["message"]
        assert process.wait(20) == 1


def test_the_line_process_sends_what_it_is_told(tmp_path: Path) -> None:
    with start(tmp_path, "line", "--baud", "9600", "--parity", "even") as process:
        assert heard(process)["url"].startswith("rfc2217://127.0.0.1:")
        tell(process, '{"send": "+1.000\\r\\n"}')
        # The port stands at 9600 8N1 until a client says otherwise: parity is not expected.
        assert heard(process)["event"] == "sent"
        tell(process, '{"sand": 1}')
        assert '"send" (text) or "send_hex"' in heard(process)["message"]
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(20) == 0
