"""The starter spec: right as it is, and a build on it comes to its end by typed readings."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import httpx
import jsonschema_rs
from click.testing import CliRunner

from api.cli.spec import command
from api.starter import FILE, starter
from capture.spec.bench_advice import bench_warnings
from capture.spec.load import load, warnings
from capture.spec.schema import schema
from capture.walk import walk
from drivers.bench import parse_bench
from tests.running import client, opened_build, service

TYPED = """
title = "Bench 1"

[[instrument]]
id = "internal-micrometer-1"
kind = "internal-micrometer"
port = "typed"
unit = "mm"
resolution = "0.001"
calibration = { certificate = "invented", due = "2099-12-31", \
expanded_uncertainty = "0.002", coverage_factor = "2" }

[[instrument]]
id = "micrometer-1"
kind = "micrometer"
port = "typed"
unit = "mm"
resolution = "0.001"
calibration = { certificate = "invented", due = "2099-12-31", \
expanded_uncertainty = "0.002", coverage_factor = "2" }

[[instrument]]
id = "feeler-1"
kind = "feeler"
port = "typed"
unit = "mm"
resolution = "0.01"
leaves = ["0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.35", "0.40", "0.45", "0.50"]

[[instrument]]
id = "dial-indicator-1"
kind = "dial-indicator"
port = "typed"
unit = "mm"
resolution = "0.01"

[[instrument]]
id = "torque-wrench-1"
kind = "torque-wrench"
port = "typed"
unit = "N·m"
resolution = "0.1"
calibration = { certificate = "invented", due = "2099-12-31", \
expanded_uncertainty = "0.2", coverage_factor = "2" }
"""
"""The bench of the README's guide."""
READINGS = {
    "bore": ["68.006", "68.007", "68.005", "68.008", "68.009", "68.006", "68.007", "68.005"],
    "piston-diameter": ["67.962", "67.963"],
    "main-journal-diameter": ["34.993", "34.992", "34.994", "34.993"],
    "main-bearing-bore": ["35.031", "35.033"],
    "main-bolts": ["12.1", "11.9", "12.0", "12.2", "30.1", "29.8", "30.3", "30.0"],
    "end-float": ["0.14"],
    "ring-gap": ["0.35", "0.40"],
    "crank-turns": ["1.6"],
}


def test_it_loads_without_a_warning() -> None:
    spec = load(starter(), "engine.toml")

    assert warnings(spec) == ()
    assert spec.invented
    assert "no real engine" in spec.notice
    assert walk(spec).never == ()
    bench = parse_bench(TYPED, "bench.toml", Path()).instruments
    assert bench_warnings(spec, bench, "2026-06-01") == ()


def test_editors_take_it() -> None:
    assert jsonschema_rs.validator_for(schema()).is_valid(tomllib.loads(starter().decode()))


def test_every_number_that_is_the_makers_is_marked() -> None:
    """What limits, targets, counts or names this engine is to be changed, and says so."""
    makers = re.compile(
        r"(id = \"small-twin\"|revision|count|per|order|lubricant|value|target|nominal_size|"
        r"(lower|upper)_limit\w*|permissible_deviation_percent) = "
    )
    for number, line in enumerate(starter().decode().splitlines(), 1):
        if makers.match(line):
            assert "# CHANGE" in line, f"line {number}: {line}"


def test_what_is_switched_off_is_right_when_switched_on() -> None:
    """Every remark that is a key or a table in waiting."""
    text = re.sub(
        r"^# ((?:\[\[[a-z_]+\]\]|[a-z_]+ = .*))$", r"\1", starter().decode(), flags=re.MULTILINE
    )
    assert text.count("\n[[zero_check]]\n") == 1
    text = text.replace('measure = "bore"\nafter = [', 'measure = "bore"\nafter = ["open-bores", ')

    spec = load(text.encode(), "engine.toml")
    assert spec.characteristics["piston-diameter"].repeats == 2
    assert spec.fasteners["main-bolts"].torque_to_yield
    assert len(spec.fasteners["main-bolts"].layout) == 4
    assert walk(spec).total == 32 + 2 + 2


def test_the_command_prints_it_and_writes_no_file_over_another(tmp_path: Path) -> None:
    runner, path = CliRunner(), tmp_path / "engine.toml"
    assert runner.invoke(command, ["starter"]).output.encode() == starter() == FILE.read_bytes()
    saved = runner.invoke(command, ["starter", "--save", str(path)])
    assert (saved.exit_code, path.read_bytes()) == (0, starter())
    path.write_text("mine", "utf-8")
    again = runner.invoke(command, ["starter", "--save", str(path)])
    assert (again.exit_code, path.read_text("utf-8")) == (2, "mine")
    assert "give another name" in again.output
    nowhere = runner.invoke(command, ["starter", "--save", str(tmp_path / "none" / "a.toml")])
    assert nowhere.exit_code == 2


async def test_a_build_on_it_comes_to_its_end_by_typed_readings(tmp_path: Path) -> None:
    (tmp_path / "bench.toml").write_text(TYPED, "utf-8")
    # nobody types as fast as a program: without this, quick readings are taken for second presses
    quick = starter().decode().replace("[decision]\n", "[decision]\nrepeat_window_ms = 0\n")
    async with service(tmp_path) as listening, client(listening) as http:
        build = await opened_build(http, quick)
        asked = await _worked_through(http, build)
        found = (await http.get(f"/v1/builds/{build}")).json()

    spec = load(starter(), "engine.toml")
    assert asked == [a.step.id for a in sorted(
        (each for one in walk(spec).stretches for each in one.steps), key=lambda each: each.nth
    )]  # fmt: skip
    assert (found["state"], found["steps_done"], found["holds"]) == ("done", 32, [])
    derived = {(one["id"], one["number"]): one["verdict"] for one in found["derived"]}
    assert {verdict["result"] for verdict in derived.values()} == {"conforming"}
    # by hand: mean of 68.006, 68.007, 68.005, 68.008 less 67.962; 35.031 less the mean of the two
    assert derived["piston-clearance", 1]["measured"] == "0.0445"
    assert derived["main-clearance", 1]["measured"] == "0.0385"
    # taper: 68.007 less 68.008 on the axis where it is largest, or 68.006 less 68.005: 0.001
    assert derived["bore-taper", 1]["measured"].lstrip("-") == "0.001"


async def _worked_through(http: httpx.AsyncClient, build: str) -> list[str]:
    """Does what the build asks until it asks nothing more; gives the steps in order."""
    given = {name: iter(values) for name, values in READINGS.items()}
    asked: list[str] = []
    while True:
        following = (await http.get(f"/v1/builds/{build}/next")).json()
        step = following["step"]
        if step is None:
            assert following["done"], following["waiting"]
            return asked
        assert len(asked) < 40, f"it goes in circles: {asked}"
        asked.append(step["id"])
        if step["kind"] == "confirm":
            answer = await http.post(f"/v1/builds/{build}/confirmations", json={"step": step["id"]})
            assert answer.status_code == 201, answer.text
            continue
        kind = step["instruments"][0]
        body: dict[str, Any] = {"instrument": f"{kind}-1", "unit": step["unit"]}
        value = next(given[step["characteristic"]])
        if kind == "feeler":  # the leaf that goes, those beside it, the one that does not
            beside = [f"{float(value) + by:.2f}" for by in (-0.05, 0.05)]
            body["bracket"] = {"leaves": [value], "beside": beside, "upper": beside[1]}
        else:
            body["value"] = value
        answer = await http.post("/v1/readings", json=body)
        assert answer.status_code == 201, answer.text
        placed = answer.json()
        assert placed["verdict"]["result"] == "conforming", str(placed)
