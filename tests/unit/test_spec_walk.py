"""A spec walked as the bench asks for it, and held against the instruments of a bench."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from api.cli.spec import command
from api.starter import starter
from capture.errors import Problem
from capture.instrument import Calibration, Instrument
from capture.spec.bench_advice import bench_warnings
from capture.spec.load import load
from capture.spec.model import Kind, Spec
from capture.walk import MOST, Stretch, Walk, walk, walk_body
from tests.running import BENCH, SPEC
from tests.unit.spec_page import line_of

STARTER = starter().decode()
DAY = "2026-06-01"


def loaded(text: str) -> Spec:
    return load(text.encode(), "engine.toml")


def edited(*changes: tuple[str, str]) -> str:
    text = STARTER
    for old, new in changes:
        assert text.count(old) == 1, f"{text.count(old)} places to edit: {old!r}"
        text = text.replace(old, new)
    return text


def stretch(found: Walk, operation: str) -> Stretch:
    return next(one for one in found.stretches if one.operation.id == operation)


# the walk -------------------------------------------------------------------------------------


def test_the_steps_come_in_the_order_of_work() -> None:
    found = walk(loaded(SPEC))

    assert (found.total, found.walked, found.never) == (5, True, ())
    assert [(one.operation.id, one.spans) for one in found.stretches] == [
        ("measure-diameter", [(1, 4)]),
        ("confirm-faces-clean", [(5, 5)]),
    ]
    first, second = found.stretches
    assert [(a.nth, a.step.number, a.step.point) for a in first.steps] == [
        (1, 1, "top"), (2, 1, "bottom"), (3, 2, "top"), (4, 2, "bottom")
    ]  # fmt: skip
    assert (first.part, first.parts, first.numbers, first.points) == (
        "Sleeve", 2, [1, 2], ["top", "bottom"]
    )  # fmt: skip
    assert first.cautions == ("Support the sleeve: it rolls.",)
    assert [one.id for one in second.waits_for] == ["measure-diameter"]
    assert second.text == "Both faces wiped and free of nicks."


def test_a_round_goes_number_by_number() -> None:
    found = walk(loaded(STARTER))

    assert stretch(found, "confirm-ring-square").spans == [(18, 18), (20, 20)]
    assert stretch(found, "measure-ring-gap").spans == [(19, 19), (21, 21)]
    bolts = stretch(found, "tighten-main-bolts")
    assert [(a.step.number, a.step.point) for a in bolts.steps] == [
        (number, stage) for stage in ("snug", "final") for number in (1, 2, 3, 4)
    ]
    assert [want.target for want in bolts.wants] == ["12", "30"]
    assert dict(bolts.facts)["lubricant"] == "engine oil"


def test_what_stands_first_in_the_file_may_be_asked_later() -> None:
    """An operation that waits for one below it."""
    clean = '[[operation]]\nconfirm = "faces-clean"\nafter = ["measure-diameter"]\n'
    text = SPEC.replace(clean, "").replace("[[operation]]\n", clean + "\n[[operation]]\n", 1)
    assert text.index("confirm = ") < text.index("measure = ")

    found = walk(loaded(text))
    assert [one.operation.kind for one in found.stretches] == [Kind.MEASURE, Kind.CONFIRM]


def test_a_derived_quantity_is_judged_with_the_last_size_it_needs() -> None:
    found = walk(loaded(STARTER))
    judged = {one.operation.id: [each.id for each in one.completes] for one in found.stretches}

    assert {id_: names for id_, names in judged.items() if names} == {
        "measure-bore": ["bore-taper", "bore-out-of-round", "swept-volume"],
        "measure-piston-diameter": ["piston-clearance"],
        "measure-main-bearing-bore": ["main-clearance"],
    }
    assert stretch(found, "measure-ring-gap").follows == "0.0040 … 0.0070 × Cylinder bore"


def test_a_very_large_spec_is_told_by_its_operations() -> None:
    text = SPEC.replace("count = 2", f"count = {MOST}")
    began = time.perf_counter()
    found = walk(loaded(text))

    assert (found.total, found.walked) == (2 * MOST + 1, False)
    assert [(one.operation.id, one.total, one.steps) for one in found.stretches] == [
        ("measure-diameter", 2 * MOST, ()),
        ("confirm-faces-clean", 1, ()),
    ]
    assert time.perf_counter() - began < 2


def test_the_walk_as_data() -> None:
    body = json.loads(json.dumps(walk_body(walk(loaded(STARTER)))))

    assert body["steps"] == sum(one["total"] for one in body["operations"]) == 32
    bore = body["operations"][1]
    assert bore["wants"] == [
        {
            "title": None,
            "unit": "mm",
            "target": None,
            "lower": "68.000",
            "upper": "68.015",
            "plausible": ["67.319", "68.696"],
        }
    ]
    assert bore["steps"][0] == {
        "nth": 2, "id": "measure-bore/1/top-thrust", "number": 1, "point": "top-thrust",
        "repeat": None,
    }  # fmt: skip


# on a bench -----------------------------------------------------------------------------------


def gauge(
    id_: str,
    kind: str,
    unit: str = "mm",
    *,
    u: str | None = "0.002",
    due: str = "2027-01-01",
    reach: tuple[str, str] | None = None,
    comparative: bool = False,
    step: str = "0.001",
) -> Instrument:
    return Instrument(
        id=id_,
        kind=kind,
        unit=unit,
        resolution=Decimal(step),
        port="typed",
        profile="typed",
        range=None if reach is None else (Decimal(reach[0]), Decimal(reach[1])),
        comparative=comparative,
        calibration=None if u is None else Calibration("invented", due, Decimal(u), Decimal(2)),
    )


SHOP = (
    gauge("bore-1", "internal-micrometer"),
    gauge("mic-1", "micrometer"),
    gauge("leaves-1", "feeler", u=None),
    gauge("dial-1", "dial-indicator", u=None),
    gauge("wrench-1", "torque-wrench", "N·m", u="0.2"),
)


def told(
    bench: Sequence[Instrument], text: str = STARTER, day: str = DAY
) -> list[tuple[str, str, str]]:
    """Key, message and mend of each warning."""
    problems: Sequence[Problem] = bench_warnings(loaded(text), bench, day, "engine.toml")
    assert all(one.line for one in problems)
    return [(one.key, one.message, one.mend) for one in problems]


def test_a_bench_that_can_do_it_is_told_nothing() -> None:
    assert told(SHOP) == []


def test_a_step_that_nobody_can_do_names_what_it_keeps_from_being_reached() -> None:
    bench = [one for one in SHOP if one.kind != "micrometer"]
    (journal, piston) = sorted(told(bench), key=lambda one: "piston" in one[0])

    assert piston[0] == "characteristic[piston-diameter].instruments"
    assert 'nobody can do "measure-piston-diameter" on this bench' in piston[1]
    assert "ever gets" not in piston[1]  # nothing waits for it
    assert (
        'so nobody ever gets to "confirm-crank-laid", "tighten-main-bolts", "measure-end-float" '
        "and 1 more behind it" in journal[1]
    )
    assert "ask for a kind of this bench (internal-micrometer, feeler," in piston[2]
    assert 'port = "typed"' in piston[2]
    bench.append(gauge("mic-1", "micrometre"))  # spelled otherwise
    assert all('if "micrometre" is meant, write that' in mend for _, _, mend in told(bench))


def test_what_cannot_show_the_unit_does_not_suit() -> None:
    bench = [*SHOP[:4], gauge("wrench-1", "torque-wrench", "mm")]
    assert [key for key, _, _ in told(bench)] == [
        "fastener[main-bolts].instruments",
        "turning_test[crank-turns].instruments",
    ]


def test_an_instrument_that_is_too_coarse_is_named_with_the_limit() -> None:
    bench = [gauge("bore-1", "internal-micrometer", u="0.02"), *SHOP[1:]]
    found = {key: message for key, message, _ in told(bench)}

    assert set(found) == {
        "characteristic[bore].instruments",
        "derived[bore-taper].upper_limit",
        "derived[bore-out-of-round].upper_limit",
        "characteristic[main-bearing-bore].instruments",
    }
    assert "bore-1 is too coarse" in found["characteristic[bore].instruments"]
    assert "68.000 to 68.015 mm" in found["characteristic[bore].instruments"]


def test_sizes_outside_the_range_of_all_that_suits() -> None:
    small = gauge("mic-1", "micrometer", reach=("0", "25"))
    key, message, _ = told([*SHOP[:1], small, *SHOP[2:]])[0]
    assert key == "characteristic[piston-diameter].instruments"
    assert "nothing on this bench reaches 67.955 to 67.970 mm" in message
    assert "mic-1 is 0 to 25 mm" in message
    # another one that reaches it is enough, whatever its unit; a comparative one is set anywhere
    inch = gauge("mic-2", "micrometer", "in", u="0.0001", reach=("1", "3"), step="0.00005")
    assert told([*SHOP, small, inch]) == []
    dial = gauge("bore-1", "internal-micrometer", reach=("-1", "1"), comparative=True)
    assert told([dial, *SHOP[1:]]) == []
    narrow = gauge("bore-1", "internal-micrometer", reach=("-0.01", "0.01"), comparative=True)
    assert [key for key, _, _ in told([narrow, *SHOP[1:]])] == [
        "characteristic[main-bearing-bore].instruments"
    ]


def test_an_overdue_instrument_marks_or_holds() -> None:
    assert told(SHOP, day="2027-01-01") == []  # the last day it is valid
    found = told(SHOP, day="2027-01-02")
    assert [key for key, _, _ in found] == [
        "characteristic[bore].instruments",
        "characteristic[piston-diameter].instruments",
        "fastener[main-bolts].instruments",
    ]
    assert "was due on 2027-01-01: its verdicts are marked" in found[0][1]

    held = told(SHOP, edited(('overdue = "mark"  ', 'overdue = "hold"  ')), "2027-01-02")
    assert any("its readings would not count" in message for _, message, _ in held)
    assert any('nobody can do "measure-bore"' in message for _, message, _ in held)


def test_a_tool_check_of_a_tool_that_is_not_there() -> None:
    check = (
        '\n[[tool_check]]\nid = "check"\ntitle = "Wrench on the tester"\nunit = "N·m"\n'
        'tool = "wrench-9"\nmaximum = "100"\npermissible_deviation_percent = "4"\n'
        'instruments = ["torque-wrench"]\n\n[[operation]]\ncheck = "check"\n'
    )
    ((key, message, mend),) = told(SHOP, STARTER + check)
    assert key == "tool_check[check].tool"
    assert "wrench-9" in message
    assert "bench.toml" in mend


# the commands ---------------------------------------------------------------------------------


def run(*words: str) -> Result:
    return CliRunner().invoke(command, words)


@pytest.fixture
def engine(tmp_path: Path) -> Path:
    (tmp_path / "engine.toml").write_text(STARTER, "utf-8")
    (tmp_path / "bench.toml").write_text(BENCH, "utf-8")
    return tmp_path


def test_walk_in_words(engine: Path) -> None:
    said = run("walk", str(engine / "engine.toml"), "--steps")

    assert said.exit_code == 0, said.output
    assert said.output.startswith("Small twin, revision 1: 32 steps.\nInvented. ")
    assert "2-9       Measure: Cylinder bore  [measure-bore]\n" in said.output
    assert "          68.000 to 68.015 mm\n" in said.output
    assert "    9  cylinder 2  bottom-axial\n" in said.output
    assert "Caution: Keep fingers clear of the counterweights." in said.output
    assert max(map(len, said.output.splitlines())) <= 100


def test_walk_on_a_bench_says_what_is_missing(engine: Path) -> None:
    said = run("walk", str(engine / "engine.toml"), "--bench", str(engine / "bench.toml"))

    assert said.exit_code == 0, said.output
    assert "with micrometer; on this bench: mic-1" in said.output
    assert "with feeler; NOTHING ON THIS BENCH SUITS" in said.output
    assert 'nobody can do "measure-ring-gap" on this bench' in said.output


def test_walk_as_json(engine: Path) -> None:
    said = run("walk", str(engine / "engine.toml"), "--json")
    assert json.loads(said.output)["operations"][1]["id"] == "measure-bore"


def test_walk_of_a_wrong_spec_lists_its_errors(engine: Path) -> None:
    (engine / "engine.toml").write_text(edited(('"67.955"', '"67.995"')), "utf-8")
    said = run("walk", str(engine / "engine.toml"))
    line = line_of(edited(('"67.955"', '"67.995"')), '"67.995"')
    assert said.exit_code == 1
    assert f"engine.toml:{line}: characteristic[piston-diameter]" in said.output


def test_check_on_a_bench_warns_with_line_and_mend(engine: Path) -> None:
    said = run(
        "check", str(engine / "engine.toml"), "--bench", str(engine / "bench.toml"), "--json"
    )
    body = json.loads(said.output)
    assert (said.exit_code, body["ok"]) == (0, True)
    keys = {one["key"] for one in body["warnings"]}
    assert "characteristic[ring-gap].instruments" in keys
    assert body["warnings"][0]["line"]
