"""A build's state: what is next, what holds it, rework, scrap, concession, pieces."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture import command as c
from capture.errors import Conflict, NotFound, RequestError
from tests.paper import GOOD_BORES, SPEC, Paper


def measured(paper: Paper) -> str:
    """Bores and plungers measured, all good."""
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    for digits in ("19.980", "19.981", "19.982"):
        paper.press(digits)
    return build


def test_order_of_work_and_tightening_order(paper: Paper) -> None:
    build = measured(paper)
    walked = []
    for torque in ("10.0", "10.1", "10.2", "9.9", "25.0", "25.1", "25.2", "24.9"):
        walked.append(paper.next_id(build))
        paper.press(torque, "wrench", "N·m")
    assert walked == [f"cover/{n}/{stage}" for stage in ("snug", "final") for n in (2, 3, 1, 4)]
    assert paper.next_id(build) == "turn/1"


def test_derived_quantities_appear_with_the_size_that_completes_them(paper: Paper) -> None:
    paper.ready()
    decided = paper.bores("0.010", "0.011", "0.004", "0.008")
    assert [d["derived"] for d in decided[:3]] == [[], [], []]
    (taper,) = decided[3]["derived"]
    assert (taper["id"], taper["number"]) == ("bore-taper", 1)
    assert taper["verdict"]["measured"] == "0.006"
    paper.bores(*GOOD_BORES * 2)
    (clearance,) = paper.press("19.980")["derived"]
    # mean of 20.010, 20.011, 20.004, 20.008 is 20.00825
    assert clearance["verdict"]["measured"] == "0.02825"
    assert clearance["verdict"]["result"] == "conforming"


def test_nonconforming_size_holds_what_comes_after_until_conceded(paper: Paper) -> None:
    build = paper.ready()
    paper.bores("0.030", "0.029", "0.031", "0.030", *GOOD_BORES * 2)
    for digits in ("19.981", "19.980", "19.982"):
        paper.press(digits)
    found = paper.desk.build(build)
    assert found.next_index() is None
    # Barrel 1 is so large that its plunger's clearance is undecided as well.
    paper.do(c.Concede(build, "plunger-clearance/1", "customer agreed"))
    assert set(found.works["bores"].holds) == {f"bores/1/{p}" for p in (
        "top-a", "top-b", "bottom-a", "bottom-b")}  # fmt: skip
    for point in ("top-a", "top-b", "bottom-a"):
        paper.do(c.Concede(build, f"bores/1/{point}", "customer agreed"))
    assert paper.next_id(build) is None
    paper.do(c.Concede(build, "bores/1/bottom-b", "customer agreed"))
    assert paper.next_id(build) == "cover/2/snug"
    with pytest.raises(Conflict, match="holds nothing"):
        paper.do(c.Concede(build, "bores/1/bottom-b", "again"))


def test_derived_result_holds_and_can_be_conceded(paper: Paper) -> None:
    build = paper.ready()
    paper.bores("0.016", "0.015", "0.004", "0.004", *GOOD_BORES * 2)
    for digits in ("19.980", "19.981", "19.982"):
        paper.press(digits)
    found = paper.desk.build(build)
    assert set(found.works["bores"].holds) == {"bore-taper/1"}
    assert paper.next_id(build) is None
    paper.do(c.Concede(build, "bore-taper/1", "as agreed"))
    assert paper.next_id(build) == "cover/2/snug"
    assert found.conceded == {"bore-taper/1": "as agreed"}


def test_undecided_near_a_limit(paper: Paper) -> None:
    paper.ready()
    (decided,) = paper.bores("0.0200")
    verdict = decided["verdict"]
    assert verdict["result"] == "undecided"
    assert verdict["rule"] == "guarded"
    assert verdict["guard_band"] == verdict["expanded_uncertainty"]


def test_rework_reopens_the_piece_and_what_rests_on_it(paper: Paper) -> None:
    build = measured(paper)
    for torque in ("10.0", "10.1"):
        paper.press(torque, "wrench", "N·m")
    found = paper.desk.build(build)
    paper.do(c.Rework(build, "barrel", 2, "honed"))
    assert paper.next_id(build) == "bores/2/top-a"
    assert found.fills[found.index["bores/1/top-a"]] is not None
    assert found.fills[found.index["plungers/2"]] is not None
    # Tightening rests on the bores, and bolts do not count barrels: all of it is to be done again.
    assert found.fills[found.index["cover/2/snug"]] is None
    assert ("plunger-clearance", 2) not in found.derived
    assert ("plunger-clearance", 1) in found.derived
    decided = paper.bores(*GOOD_BORES)
    assert [d["step"]["pass"] for d in decided] == [2, 2, 2, 2]
    assert {d["id"] for d in decided[3]["derived"]} == {"bore-taper", "plunger-clearance"}
    assert paper.next_id(build) == "cover/2/snug"


def test_scrap_gives_the_place_to_a_nameless_successor(paper: Paper) -> None:
    build = measured(paper)
    paper.do(c.Scrap(build, "plunger", 3, "scored"))
    found = paper.desk.build(build)
    assert found.pieces.at("plunger", 3) == "plunger-3.2"
    assert paper.next_id(build) == "plungers/3"
    with pytest.raises(Conflict, match="scrapped"):
        paper.do(c.Assign(build, "plunger", 1, "plunger-3"))


def test_sizes_move_with_their_piece_and_clearances_are_derived_anew(paper: Paper) -> None:
    build = measured(paper)
    before = paper.desk.build(build).derived["plunger-clearance", 1].verdict["measured"]
    entry = paper.do(c.Assign(build, "plunger", 1, "plunger-3"))
    assert entry["body"]["displaced"] == "plunger-1"
    assert entry["body"]["displaced_to"] == 3
    found = paper.desk.build(build)
    pieces = [found.pieces.at("plunger", number) for number in (1, 3)]
    assert pieces == ["plunger-3", "plunger-1"]
    first = found.fills[found.index["plungers/1"]]
    assert first is not None
    assert str(first.value) == "19.982"
    after = found.derived["plunger-clearance", 1].verdict["measured"]
    assert (before, after) == ("0.0295", "0.0275")
    assert {(d["id"], d["number"]) for d in entry["body"]["derived"]} == {
        ("plunger-clearance", 1), ("plunger-clearance", 3),
    }  # fmt: skip


def test_a_new_piece_has_no_sizes_yet(paper: Paper) -> None:
    build = measured(paper)
    paper.do(c.Assign(build, "plunger", 2, "P-77"))
    assert paper.next_id(build) == "plungers/2"
    assert paper.press("19.979")["step"]["piece"] == "P-77"


def test_assigning_shows_its_result_without_changing_the_state(paper: Paper) -> None:
    from capture.act import act

    build = measured(paper)
    found = paper.desk.build(build)
    before = (list(found.fills), dict(found.pieces.named), dict(found.derived))
    act(paper.desk, paper, c.Assign(build, "plunger", 1, "plunger-3"), paper.stamp())
    assert (found.fills, found.pieces.named, found.derived) == before


def test_choosing_another_open_step(paper: Paper) -> None:
    build = paper.ready()
    paper.do(c.ChooseStep(build, "plungers/3"))
    assert paper.press("19.980")["step"]["id"] == "plungers/3"
    assert paper.next_id(build) == "bores/1/top-a"
    with pytest.raises(Conflict, match="already answered"):
        paper.do(c.ChooseStep(build, "plungers/3"))
    with pytest.raises(Conflict, match="not open yet") as caught:
        paper.do(c.ChooseStep(build, "turn/1"))
    assert caught.value.mend == "Complete cover first."
    with pytest.raises(NotFound, match="no step"):
        paper.do(c.ChooseStep(build, "turn/9"))


def test_void_reopens_and_place_answers(paper: Paper) -> None:
    build = paper.ready()
    decided = paper.press("0.010", "bore")
    press = decided["press"]
    paper.do(c.Void(press, "gauge was not rocked"))
    assert paper.next_id(build) == "bores/1/top-a"
    with pytest.raises(Conflict, match="void already"):
        paper.do(c.Void(press, "again"))
    paper.do(c.Place(press, build, "bores/3/bottom-b", "this was barrel 3"))
    found = paper.desk.build(build)
    assert found.press_at[press] == found.index["bores/3/bottom-b"]
    other = paper.press("0.011", "bore")["press"]
    with pytest.raises(Conflict, match="already answered by reading") as caught:
        paper.do(c.Place(other, build, "bores/3/bottom-b", "no"))
    assert "Void reading" in caught.value.mend


def test_correction_changes_value_and_verdict_and_keeps_the_original(paper: Paper) -> None:
    build = paper.ready()
    decided = paper.press("0.050", "bore")
    assert decided["verdict"]["result"] == "nonconforming"
    entry = paper.do(c.Correct(decided["press"], "0.005", None, "misread"))
    assert entry["body"]["verdict"]["measured"] == "20.005"
    assert entry["body"]["corrected"] == {"digits": "0.005", "unit": "mm"}
    press = paper.entry(decided["press"])
    assert press is not None
    assert press["body"]["digits"] == "0.050"
    assert not paper.desk.build(build).works["bores"].holds


def test_correcting_the_unit_of_a_slip_places_it(paper: Paper) -> None:
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    decided = paper.press("0.7866")
    assert decided["reason"]["code"] == "unit-slip"
    entry = paper.do(c.Correct(decided["press"], "0.7866", "in", "the gauge was in inches"))
    assert entry["body"]["step"]["id"] == "plungers/1"
    assert entry["body"]["verdict"]["measured"] == "19.97964"
    assert entry["body"]["by"] == "person"
    assert paper.next_id(build) == "plungers/2"


def test_closed_build_takes_nothing_more(paper: Paper) -> None:
    build = paper.ready()
    paper.do(c.CloseBuild(build, "sold"))
    assert paper.press("0.010", "bore")["reason"]["code"] == "no-open-build"
    with pytest.raises(Conflict, match="closed"):
        paper.do(c.ChooseStep(build, None))


def test_several_builds_one_active(paper: Paper) -> None:
    first = paper.ready()
    second = paper.open(SPEC.replace('revision = "1"', 'revision = "2"'))
    paper.do(c.ActivateBuild(first))
    assert paper.press("0.010", "bore")["build"] == first
    assert paper.desk.build(second).filled == 0


@pytest.mark.parametrize(
    "command",
    [
        c.Void(4, "  "),
        c.SetOperator(" "),
        c.SetGauge("mic", "ring", Decimal(20), "mm", None, None),
        c.SetGauge("bore", "ring", Decimal(-20), "mm", None, None),
        c.SetGauge("bore", "ring", Decimal(20), "N·m", None, None),
        c.OpenBuild("00000000", "x"),
        c.Confirm("b99", "x", ""),
    ],
)
def test_wrong_requests_are_refused_with_a_mend(paper: Paper, command: c.Command) -> None:
    before = len(paper.entries)
    with pytest.raises(RequestError) as caught:
        paper.do(command)
    assert str(caught.value)
    assert len(paper.entries) == before


def test_a_fold_of_the_entries_is_the_same_state(paper: Paper) -> None:
    from capture.desk import Desk
    from capture.view import build as view_build
    from capture.view import steps

    build = measured(paper)
    paper.do(c.Rework(build, "barrel", 2, "honed"))
    paper.bores("0.030", *GOOD_BORES[1:])
    paper.do(c.Concede(build, "bores/2/top-a", "agreed"))
    paper.do(c.Assign(build, "plunger", 1, "plunger-2"))
    anew = Desk()
    for entry in paper.entries:
        anew.apply(entry)
    assert view_build(anew, build) == view_build(paper.desk, build)
    assert steps(anew, build) == steps(paper.desk, build)
