"""Rounds, fasteners, extensions and fits at the bench, on an invented twin."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from capture import command as c
from capture.errors import Conflict, RequestError
from capture.titles import describe
from tests.paper import Paper
from tests.unit.twin import again, opened, whole

# rounds, fasteners -------------------------------------------------------------------------------


def test_a_round_goes_cylinder_by_cylinder(paper: Paper) -> None:
    build = whole(paper)
    order: list[Any] = []
    for number in (1, 2):
        order.append(paper.next_id(build))
        paper.do(c.Confirm(build, f"confirm-piston-in/{number}", ""))
        for digits in ("20.0", "20.1", "50.0", "50.2"):
            order.append(paper.press(digits, "wrench", "N·m")["step"]["id"])
        order.append(paper.bracket("5", "6", "click")["step"]["id"])
    assert order == [
        "confirm-piston-in/1",
        "tighten-rod-bolts/1/snug", "tighten-rod-bolts/2/snug",
        "tighten-rod-bolts/1/final", "tighten-rod-bolts/2/final",
        "turn-turns/1",
        "confirm-piston-in/2",
        "tighten-rod-bolts/3/snug", "tighten-rod-bolts/4/snug",
        "tighten-rod-bolts/3/final", "tighten-rod-bolts/4/final",
        "turn-turns/2",
    ]  # fmt: skip
    assert paper.desk.build(build).done
    assert again(paper) == []


def test_a_hold_in_a_round_stops_its_own_cylinder(paper: Paper) -> None:
    build = whole(paper)
    paper.do(c.Confirm(build, "confirm-piston-in/1", ""))
    for digits in ("20.0", "20.1", "50.0", "57.0"):
        paper.press(digits, "wrench", "N·m")
    found = paper.desk.build(build)
    assert not found.is_open(found.index["turn-turns/1"])
    assert paper.next_id(build) == "confirm-piston-in/2"


def test_a_fastener_is_not_tightened_into_yield_twice(paper: Paper) -> None:
    build = whole(paper)
    paper.do(c.Confirm(build, "confirm-piston-in/1", ""))
    for digits in ("20.0", "20.1", "50.0", "50.2"):
        paper.press(digits, "wrench", "N·m")
    paper.do(c.Rework(build, "rod-bolt", 1, "cap taken off again"))
    said = paper.press("20.0", "wrench", "N·m")  # from its first stage on
    assert said["reason"]["code"] == "tightened-into-yield"
    step = describe(
        paper.desk,
        paper.desk.build(build),
        paper.desk.build(build).steps[paper.desk.build(build).index["tighten-rod-bolts/1/snug"]],
    )
    assert "was tightened into yield" in step["cautions"][0]
    assert "new one" in said["reason"]["detail"]
    paper.do(c.Assign(build, "rod-bolt", 1, "fresh-1"))
    assert paper.press("20.0", "wrench", "N·m")["step"]["piece"] == "fresh-1"
    assert paper.press("50.0", "wrench", "N·m")["verdict"]["result"] == "conforming"
    assert again(paper) == []


def test_a_second_pull_within_the_window_is_asked_about(paper: Paper) -> None:
    build = whole(paper)
    paper.do(c.Confirm(build, "confirm-piston-in/1", ""))
    paper.press("20.0", "wrench", "N·m")
    assert paper.press("20.4", "wrench", "N·m", after_ms=400)["reason"]["code"] == "second-pull"
    assert paper.press("20.4", "wrench", "N·m")["step"]["id"] == "tighten-rod-bolts/2/snug"


def test_an_extension_left_out_is_named(paper: Paper) -> None:
    build = whole(paper)
    paper.do(c.Confirm(build, "confirm-piston-in/1", ""))
    paper.do(c.FitExtension("click", Decimal(400), Decimal(240), Decimal(0), "mm"))
    paper.do(c.FitExtension("click", Decimal(400), Decimal(0), Decimal(0), "mm"))
    said = paper.press("12.5", "click", "N·m")  # 20 N·m at the fastener
    assert said["reason"]["code"] == "extension-slip"
    assert "extension of 240 mm it had before" in said["reason"]["detail"]
    assert again(paper) == []


def test_a_fastener_out_of_order_is_named(paper: Paper) -> None:
    build = whole(paper)
    paper.do(c.Confirm(build, "confirm-piston-in/1", ""))
    paper.do(c.ChooseStep(build, "tighten-rod-bolts/2/snug"))
    said = paper.press("20.0", "wrench", "N·m")
    assert said["verdict"]["notes"][-1] == "out of order: rod-bolt 2 (snug) before 1"
    assert paper.next_id(build) == "tighten-rod-bolts/1/snug"  # the one skipped comes next
    assert again(paper) == []


def test_an_extension_turns_torque_at_the_tool_into_torque_at_the_fastener(paper: Paper) -> None:
    build = whole(paper)
    paper.do(c.Confirm(build, "confirm-piston-in/1", ""))
    paper.do(c.FitExtension("click", Decimal(400), Decimal(50), Decimal(0), "mm"))
    said = paper.press("17.8", "click", "N·m")
    assert said["verdict"]["measured"] == "20.025"  # × 450/400
    assert any("extension of 50" in note for note in said["verdict"]["notes"])
    assert said["cites"]["extension"]
    with pytest.raises(Conflict, match="changes nothing"):
        paper.do(c.FitExtension("wrench", Decimal(400), Decimal(50), Decimal(0), "mm"))
    paper.do(c.FitExtension("click", Decimal(400), Decimal(0), Decimal(0), "mm"))
    assert paper.press("20.0", "click", "N·m")["verdict"]["measured"] == "20.0"
    assert again(paper) == []


def test_the_order_of_a_fit_moves_pieces_with_their_sizes(paper: Paper) -> None:
    from capture.inquiry.fits import fit_answer, fit_asked

    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores("0.005", "0.006", "0.005", "0.006", "0.022", "0.021", "0.022", "0.021")
    paper.press("0.000", "bore")
    for digits in ("79.970", "79.957"):  # first come: 0.0355 and 0.0645 mm, outside 0.040…0.060
        paper.press(digits)
    found = paper.desk.build(build)
    results = [found.derived["piston-clearance", n].verdict["result"] for n in (1, 2)]
    assert "conforming" not in results
    proposal = fit_answer(fit_asked(paper.desk, build, "piston-clearance"))
    assert proposal["changes"] == {"1": "piston-2", "2": "piston-1"}
    order = tuple((int(number), piece) for number, piece in proposal["changes"].items())
    entry = paper.do(c.AcceptFit(build, "piston-clearance", order))
    assert entry["body"]["derived"]
    found = paper.desk.build(build)
    assert [found.derived["piston-clearance", n].verdict["result"] for n in (1, 2)] == [
        "conforming", "conforming",
    ]  # fmt: skip
    assert found.pieces.at("piston", 1) == "piston-2"
    with pytest.raises(RequestError, match="do not change places"):
        paper.do(c.AcceptFit(build, "piston-clearance", ((1, "piston-1"),)))
    assert again(paper) == []
