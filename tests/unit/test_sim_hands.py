"""What the robot builder does beside pressing SEND: leaves, zero checks, traces, fits and more."""

from __future__ import annotations

import sys
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from simulators import scenario
from simulators.builder import Builder
from simulators.client import Client
from simulators.workbench import Workbench
from tests.fake_service import FakeService
from tests.unit.test_sim_builder import steps

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

SCENARIO = """
title = "Two gaps"
spec = "engine.toml"
lot = "a"
operator = "robot builder"
part_temperature = 20.0
gauge_temperature = 20.5
[[port]]
id = "one"
[[instrument]]
id = "bore-gauge-1"
kind = "bore-gauge"
port = "one"
profile = "decimal-line"
unit = "mm"
resolution = "0.001"
range = ["-1.000", "1.000"]
comparative = true
expansion = "11.5"
[[instrument]]
id = "feeler-1"
kind = "feeler"
port = "typed"
profile = "typed"
unit = "mm"
resolution = "0.01"
leaves = ["0.03", "0.04", "0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.35"]
[[instrument]]
id = "tracer-1"
kind = "torque-adapter"
port = "typed"
profile = "typed"
unit = "N·m"
resolution = "0.1"
traces = true
[[instrument]]
id = "wrench-1"
kind = "torque-wrench"
port = "typed"
profile = "typed"
unit = "N·m"
resolution = "0.1"
range = ["1.0", "200.0"]
[[standard]]
id = "ring-86"
size = "86.000"
unit = "mm"
[[standard]]
id = "ring-87"
size = "87.000"
unit = "mm"
[[zero]]
operation = "open"
instrument = "bore-gauge-1"
standard = "ring-86"
[[zero]]
operation = "close"
instrument = "bore-gauge-1"
standard = "ring-86"
[[traced]]
operation = "tighten-cap"
instrument = "tracer-1"
[[extension]]
operation = "tighten-again"
instrument = "wrench-1"
tool_length = "400"
length = "100"
[[feature]]
characteristic = "bore"
size = 86.010
scatter = 0.001
depths = ["top", "bottom"]
[[feature]]
characteristic = "gap"
size = 0.27
offsets = { gap-2 = 0.067 }
"""
MARKS = 'instruments = ["feeler"]'


def zero(operation: str) -> str:
    return (
        steps("zero", "zero", [""], "bore-gauge", 0, 0.05, 0.004)
        .replace('"zero-zero/1"', f'"{operation}/1"')
        .replace('"zero-zero"', f'"{operation}"')
    )


BORES = steps("measure", "bore", ["top", "bottom"], "bore-gauge", 86.01, 0.2, 0.01, 2)
GAPS = steps("measure", "gap", [""], "feeler", 0.26, 0.2, 0.075, 2)
CAP = steps("tighten", "cap", [""], "torque-adapter", 80, 20, 6, 2, "N·m")
AGAIN = steps("tighten", "again", [""], "torque-wrench", 80, 10, 6, 2, "N·m")


def built(
    tmp_path: Path, spec: str, more: str = ""
) -> tuple[dict[str, Any], list[dict[str, Any]], FakeService]:
    folder = tmp_path / "scenarios" / "two-gaps"
    folder.mkdir(parents=True)
    (folder / "scenario.toml").write_text(SCENARIO + more, "utf-8")
    (folder / "engine.toml").write_text("[decision]\nrepeat_window_ms = 60\n" + spec, "utf-8")
    plan = scenario.load("two-gaps", tmp_path / "scenarios")
    said: list[dict[str, Any]] = []
    with Workbench(plan, tmp_path / "bench") as bench, FakeService(bench.bench_file) as service:
        client = Client(service.url)
        counts = Builder(bench, client, said.append).run()
        client.close()
    assert counts["readings_sent"] == len(service.readings)
    assert counts["mistakes_left"] == []
    return counts, said, service


def posts(service: FakeService, path: str) -> list[dict[str, Any]]:
    return [body for where, body in service.posts if where == path]


def test_the_leaves_of_a_set_are_in_its_bench_file_and_are_typed_as_brackets(
    tmp_path: Path,
) -> None:
    counts, _, service = built(tmp_path, GAPS.replace("0.335", "0.400"))
    assert service.instruments["feeler-1"]["leaves"][-1] == "0.35"
    first = posts(service, "/v1/readings")[0]
    assert first["bracket"] == {
        "lower": "0.25",
        "upper": "0.30",
        "leaves": ["0.25"],
        "beside": ["0.20", "0.30"],
    }
    assert counts["brackets"] == 2
    assert counts["voided"] == 0


def test_an_undecided_gap_is_found_finer_with_stacked_leaves(tmp_path: Path) -> None:
    # Gap 2 is 0.337 and the upper limit 0.335: single leaves leave 0.30 to 0.35.
    counts, _, service = built(tmp_path, GAPS)
    typed = [body["bracket"] for body in posts(service, "/v1/readings")]
    assert (typed[1]["lower"], typed[1]["upper"]) == ("0.30", "0.35")
    finer = typed[2]
    assert 0.30 < float(finer["lower"]) <= 0.337 < float(finer["upper"]) < 0.35
    assert len(finer["leaves"]) == 2
    assert len(finer["beside"]) == 2
    assert counts["voided"] == 1


def test_a_hidden_leaf_is_questioned_and_measured_again(tmp_path: Path) -> None:
    mistake = '[[mistake]]\nkind = "hidden-leaf"\nabout = "gap"\nnumber = 1\n'
    counts, said, service = built(tmp_path, GAPS, mistake)
    typed = [body["bracket"] for body in posts(service, "/v1/readings")]
    assert typed[0]["leaves"] == ["0.10"]
    assert typed[0]["beside"] == ["0.05", "0.20"]
    assert typed[1]["leaves"] == ["0.25"]
    assert counts["caught"] == ["hidden-leaf"]
    (caught,) = [event for event in said if event["event"] == "caught"]
    assert caught["by"] == "hidden-leaf"


def test_a_knocked_gauge_is_found_by_the_closing_zero_and_its_set_measured_again(
    tmp_path: Path,
) -> None:
    mistake = (
        '[[mistake]]\nkind = "knocked-gauge"\nabout = "bore"\nnumber = 2\npoint = "top"\n'
        'change = 0.006\n[[remedy]]\nabout = "close"\nremeasure = true\nreason = "Knocked."\n'
    )
    spec = zero("open") + BORES + zero("close") + steps("confirm", "done", [""], "", 0, 0, 0)
    counts, _, service = built(tmp_path, spec, mistake)
    values = [float(one["value"]) for one in service.readings]
    # Zero, four bores (the last two off), the zero that tells; then all of it again.
    assert len(values) == 12
    assert values[5] == pytest.approx(0.006)
    for bore, off in zip(range(1, 5), (0.0, 0.0, 0.006, 0.006), strict=True):
        assert values[bore] - values[bore + 6] == pytest.approx(off)
    assert values[11] == 0.0
    assert counts["sets_measured_again"] == 1
    assert counts["settings"] == 2
    assert counts["caught"] == ["knocked-gauge"]
    assert posts(service, "/v1/builds/b1/sets") == [{"step": "close/1", "reason": "Knocked."}]


def test_a_standard_that_was_not_the_one_is_entered_anew(tmp_path: Path) -> None:
    mistake = '[[mistake]]\nkind = "wrong-standard"\nabout = "bore"\nstandard = "ring-87"\n'
    counts, _, service = built(tmp_path, BORES, mistake)
    assert [body["standard"] for body in posts(service, "/v1/settings")] == ["ring-87", "ring-86"]
    assert service.readings[0]["placement"]["step"] is None
    assert counts["caught"] == ["wrong-standard"]
    assert counts["voided"] == 1


def test_the_neighbour_is_taken_out_and_measured_again(tmp_path: Path) -> None:
    mistake = (
        '[[mistake]]\nkind = "neighbour"\nabout = "bore"\nnumber = 1\npoint = "top"\n'
        "measures_number = 2\n"
    )
    counts, _, service = built(tmp_path, BORES, mistake)
    first, again, _, neighbour, _ = (float(one["value"]) for one in service.readings)
    assert first == neighbour != again
    assert counts["voided"] == 1
    # This service does not compare sisters, and the builder does not say that it did.
    assert counts["caught"] == []


def test_pulls_are_handed_over_as_traces(tmp_path: Path) -> None:
    counts, _, service = built(tmp_path, CAP)
    for body in posts(service, "/v1/pulls"):
        torque = [float(each) for each in body["torque"]]
        assert body["interval_us"] == 2000
        assert 76 < max(torque) < 84
        top = torque.index(max(torque))
        # A break: the torque falls by a good part within a few hundredths of a second of its top.
        assert min(torque[top : top + 25]) < 0.85 * torque[top]
        assert abs(torque[0]) < 1
    assert counts["pulls"] == 2


def test_a_second_pull_follows_at_once_and_is_taken_out(tmp_path: Path) -> None:
    mistake = '[[mistake]]\nkind = "second-pull"\nabout = "cap"\nnumber = 1\n'
    counts, _, service = built(tmp_path, CAP, mistake)
    assert counts["pulls"] == 3
    assert counts["voided"] >= 1
    assert service.readings[0]["placement"]["step"] == "tighten-cap/1"


def test_a_rough_pull_shows_in_its_trace_and_may_count(tmp_path: Path) -> None:
    mistake = '[[mistake]]\nkind = "rough-pull"\nabout = "cap"\nnumber = 1\npull = "second-click"\n'
    counts, _, service = built(tmp_path, CAP, mistake)
    rough, plain = (
        [float(each) for each in body["torque"]] for body in posts(service, "/v1/pulls")
    )

    def falls(torque: list[float]) -> int:
        """How often it breaks: falls by a tenth of its peak within 20 ms."""
        low = [a - b > max(torque) / 10 for a, b in zip(torque, torque[10:], strict=False)]
        return sum(now and not before for before, now in pairwise(low))

    # Letting go falls as fast.
    assert falls(rough) == falls(plain) + 1
    assert counts["pulls"] == 2
    assert counts["voided"] == 0
    assert counts["mistakes"] == ["rough-pull"]


def test_an_extension_is_entered_before_the_first_pull(tmp_path: Path) -> None:
    counts, said, service = built(tmp_path, AGAIN)
    order = [event["event"] for event in said]
    assert order.index("extension") < order.index("press")
    (extension,) = posts(service, "/v1/extensions")
    assert extension["length"] == "100"
    # 80 N·m at the fastener, with 100 mm on 400 mm, is 64 N·m at the tool.
    assert [float(one["value"]) for one in service.readings] == pytest.approx([64, 64], abs=2)
    assert counts["voided"] == 0


def test_an_extension_left_out_is_questioned(tmp_path: Path) -> None:
    mistake = '[[mistake]]\nkind = "extension-left-out"\nabout = "again"\n'
    counts, said, _ = built(tmp_path, AGAIN, mistake)
    order = [event["event"] for event in said]
    assert order.index("press") < order.index("void") < order.index("extension")
    assert counts["caught"] == ["extension-left-out"]
    assert counts["voided"] == 1


def test_a_fit_is_asked_for_and_accepted_once_everything_is_measured(tmp_path: Path) -> None:
    remedy = '[[remedy]]\nabout = "measure-bore"\nfit = true\nreason = "Swapped."\n'
    small = BORES.replace('lower = "86.0"', 'lower = "86.05"').replace("86.02", "86.06")
    counts, said, service = built(tmp_path, small, remedy)
    (accepted,) = posts(service, "/v1/builds/b1/fits/measure-bore")
    assert accepted == {"order": {"1": "b", "2": "a"}}
    assert counts["fits"] == 1
    assert Counter(event["event"] for event in said)["fit"] == 1


def test_gauges_with_a_stated_expansion_have_their_temperature_said(tmp_path: Path) -> None:
    _, _, service = built(tmp_path, BORES)
    assert posts(service, "/v1/temperatures") == [
        {"instrument": "bore-gauge-1", "value": "20.5", "unit": "°C"}
    ]
