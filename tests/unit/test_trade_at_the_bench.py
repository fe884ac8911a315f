"""What an assembler does beside pressing SEND on sizes: zero checks, feelers, rounds, extensions,
fits, temperatures. The engine is invented."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture import command as c
from capture.errors import Conflict, RequestError
from tests.paper import Paper
from tests.unit.twin import BESIDE, BORES, SPEC, again, measured, opened

# zero checks -------------------------------------------------------------------------------------


def test_a_zero_that_stays_is_conforming_and_opens_the_next_set(paper: Paper) -> None:
    build = opened(paper)
    first = paper.press("0.000", "bore")
    assert first["step"]["id"] == "zero-before/1"
    assert first["verdict"]["result"] == "conforming"
    assert first["verdict"]["measured"] == "0.000"  # the deviation itself: no standard added
    paper.bores(*BORES, *BORES)
    last = paper.press("0.001", "bore")
    assert last["zero"]["steady"] is True
    assert last["zero"]["readings"] == 8
    assert not paper.desk.build(build).works["zero-after"].holds
    assert again(paper) == []


def test_a_zero_that_moved_marks_every_reading_of_its_set(paper: Paper) -> None:
    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES, *BORES)
    last = paper.press("0.004", "bore")
    assert last["verdict"]["result"] == "nonconforming"
    assert len(last["zero"]["presses"]) == 8
    found = paper.desk.build(build)
    marked = [fill for fill in found.fills if fill is not None and fill.result == "undecided"]
    assert len(marked) == 8
    assert set(found.works["measure-bore"].holds) >= {"measure-bore/1/top-thrust"}
    newest = paper.decision(last["zero"]["presses"][0])
    assert newest is not None
    assert newest["body"]["by"] == "zero"
    assert any("zero moved by 0.004 mm" in note for note in newest["body"]["verdict"]["notes"])
    assert paper.next_id(build) is None
    assert again(paper) == []


def test_a_drifted_set_is_measured_again_as_a_new_pass(paper: Paper) -> None:
    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES, *BORES)
    paper.press("0.004", "bore")
    with pytest.raises(Conflict, match="no zero check that closed a set"):
        paper.do(c.Remeasure(build, "measure-bore/1/top-thrust", "x"))
    entry = paper.do(c.Remeasure(build, "zero-after/1", "the clamp had slipped"))
    assert len(entry["body"]["steps"]) == 10  # eight sizes and both checks
    assert paper.next_id(build) == "zero-before/1"
    paper.do(c.SetGauge("bore", "ring", Decimal("80.000"), "mm", Decimal("0.0005"), Decimal(2)))
    assert paper.press("0.000", "bore")["step"]["pass"] == 2
    paper.bores(*BORES, *BORES)
    assert paper.press("0.000", "bore")["verdict"]["result"] == "conforming"
    assert not paper.desk.build(build).works["measure-bore"].holds
    assert again(paper) == []


def test_a_mark_outlives_a_correction(paper: Paper) -> None:
    opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES, *BORES)
    seq = paper.press("0.004", "bore")["zero"]["presses"][0]
    entry = paper.do(c.Correct(seq, "0.011", None, "misread"))
    assert entry["body"]["verdict"]["result"] == "undecided"
    assert again(paper) == []


def test_an_announced_zero_check_answers_no_step(paper: Paper) -> None:
    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES)
    paper.do(c.ExpectZero("bore"))
    said = paper.press("0.005", "bore")
    assert said["reason"]["code"] == "zero-check"
    assert said["zero"]["steady"] is False
    assert paper.next_id(build) == "measure-bore/2/top-thrust"
    assert paper.press("0.014", "bore")["step"]["number"] == 2  # the one after is a size again
    assert again(paper) == []


def test_without_a_certificate_a_drift_cannot_be_judged_and_says_so(paper: Paper) -> None:
    bare = paper.desk.instruments["bore"].instrument
    body = {**bare.to_body(), "calibration": None, "profile_seq": None}
    from capture.entry import Kind

    paper.write(Kind.INSTRUMENT, body)
    opened(paper)
    said = paper.press("0.000", "bore")
    assert said["verdict"]["result"] == "not_evaluated"
    assert any("cannot be said" in note for note in said["verdict"]["notes"])


# feelers and brackets ----------------------------------------------------------------------------


def test_a_gap_is_judged_by_the_whole_interval_against_its_own_bore(paper: Paper) -> None:
    measured(paper)
    said = paper.bracket("0.35", "0.40", leaves=("0.35",), beside=BESIDE["0.35"])
    verdict = said["verdict"]
    assert (verdict["lower"], verdict["upper"]) == ("0.320042", "0.480063")  # × 80.0105 mm
    assert verdict["bracket"] == ["0.35", "0.40"]
    assert verdict["result"] == "conforming"
    wide = paper.bracket("0.40", "0.50", leaves=("0.40",), beside=BESIDE["0.40"])
    assert wide["reason"]["code"] == "finer-step-wanted"
    assert "try 0.45 mm" in wide["reason"]["detail"]
    finer = paper.bracket("0.40", "0.45", leaves=("0.40",), beside=BESIDE["0.40"])
    assert finer["step"]["number"] == 2  # the step had stayed open
    assert finer["verdict"]["result"] == "conforming"
    assert again(paper) == []


def test_limits_by_factor_wait_for_the_bore(paper: Paper) -> None:
    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES, *BORES)
    paper.press("0.000", "bore")
    paper.do(c.ChooseStep(build, "measure-ring-gap/2"))
    found = paper.desk.build(build)
    fill = found.fills[found.index["measure-bore/2/bottom-axial"]]
    assert fill is not None
    assert fill.press is not None
    paper.do(c.Void(fill.press, "slipped"))
    said = paper.bracket("0.35", "0.40", leaves=("0.35",), beside=BESIDE["0.35"])
    assert said["reason"]["code"] == "limits-not-known"
    assert said["reason"]["follows_from"] == "bore-mean"


@pytest.mark.parametrize(
    ("leaves", "beside", "code"),
    [
        (("0.40",), None, "neighbours-not-said"),
        (("0.40",), ("0.30", "0.45"), "hidden-leaf"),
        (("0.40",), ("0.20", "0.30"), "wrong-leaf"),
        (("0.42",), ("0.40", "0.45"), "leaf-not-in-set"),
    ],
)
def test_a_leaf_that_cannot_stand_there_is_kept_but_not_counted(
    paper: Paper, leaves: tuple[str, ...], beside: tuple[str, str] | None, code: str
) -> None:
    build = measured(paper)
    said = paper.bracket(None, "0.50", leaves=leaves, beside=beside)
    assert said["reason"]["code"] == code, said["reason"]
    assert paper.next_id(build) == "measure-ring-gap/1"


def test_a_leaf_without_one_that_does_not_go_is_asked_for(paper: Paper) -> None:
    measured(paper)
    assert paper.press("0.40", "feeler")["reason"]["code"] == "not-bracketed"


def test_stacked_leaves_count_when_said(paper: Paper) -> None:
    measured(paper)
    said = paper.bracket(None, "0.40", leaves=("0.15", "0.20"), beside=("0.10", "0.25"))
    assert said["reason"] is None, said["reason"]
    assert said["verdict"]["bracket"] == ["0.35", "0.40"]


def test_a_bracket_is_voided_not_corrected(paper: Paper) -> None:
    measured(paper)
    seq = paper.bracket("0.35", "0.40", leaves=("0.35",), beside=BESIDE["0.35"])["press"]
    with pytest.raises(Conflict, match="between which two values"):
        paper.do(c.Correct(seq, "0.36", None, "x"))


def test_a_crossed_bracket_is_refused_with_the_mend(paper: Paper) -> None:
    measured(paper)
    with pytest.raises(RequestError, match="lower end"):
        paper.bracket("0.45", "0.40")
    with pytest.raises(RequestError, match="one end"):
        paper.bracket(None, None)
    with pytest.raises(RequestError, match="do not make"):
        paper.bracket("0.40", "0.45", leaves=("0.10", "0.20"))


def test_repeatability_and_drift_stated_for_a_gauge_enter_its_uncertainty(paper: Paper) -> None:
    from capture.entry import Kind
    from capture.instrument import Instrument

    known = paper.desk.instruments["mic"].instrument
    body = {**known.to_body(), "repeatability": "0.0012", "drift": "0.0009", "profile_seq": None}
    assert Instrument.from_body(body).repeatability == Decimal("0.0012")
    paper.write(Kind.INSTRUMENT, body)
    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES, *BORES)
    paper.press("0.000", "bore")
    said = paper.press("79.960")
    # √(0.0005² + 0.001²/12 + 0.0012² + 0.0009²/3) × 2, rounded up to two digits
    assert said["verdict"]["expanded_uncertainty"] == "0.0029"
    assert paper.next_id(build) == "measure-piston-diameter/2"


# temperature, fits -------------------------------------------------------------------------------


def test_a_warm_block_is_brought_to_twenty_degrees_beside_the_size_as_it_was(paper: Paper) -> None:
    opened(paper, block="30.0")
    paper.press("0.000", "bore")
    verdict = paper.press("0.020", "bore")["verdict"]
    assert verdict["uncorrected"] == "80.020"
    # 80.020 / (1 + 11.5e-6 × 10): the gauge's own expansion is not stated
    assert Decimal(verdict["measured"]).quantize(Decimal("0.000001")) == Decimal("80.010799")
    assert Decimal(verdict["correction"]) == Decimal("-0.009201242")
    assert any("more than 10 %" in note for note in verdict["notes"])
    assert again(paper) == []


def test_a_gauge_set_from_a_micrometer_takes_its_certificate(paper: Paper) -> None:
    paper.open(SPEC)
    command = c.SetGauge("bore", "micrometer at 80", Decimal("80.000"), "mm", None, None, "mic")
    body = paper.do(command)["body"]
    assert body["expanded_uncertainty"] == "0.0012"  # √(0.0005² + (0.001/√12)²) × 2, rounded up
    shared = dict(
        paper.desk.shared(paper.desk.instruments["bore"].seq, paper.desk.settings["bore"].seq, "mm")
    )
    mic = paper.desk.instruments["mic"].seq
    assert shared[f"certificate of mic (entry {mic})"] == pytest.approx(0.0005)
    assert again(paper) == []


# the set and its sisters -------------------------------------------------------------------------


def test_a_reading_of_the_other_cylinder_in_the_middle_of_a_set_is_asked_about(
    paper: Paper,
) -> None:
    opened(paper)
    paper.press("0.000", "bore")
    paper.bores("0.001", "0.002", "0.001", "0.002")
    first = paper.bores("0.021", "0.022")
    assert all(said["reason"] is None for said in first)
    said = paper.press("0.001", "bore")  # back at cylinder 1
    assert said["reason"]["code"] == "unlike-its-set"
    assert said["reason"]["like"] == "1"
    # The others may be the wrong ones: they are named, and no number has digits that say nothing.
    assert said["reason"]["detail"].startswith(
        "80.001 mm lies 0.0205 mm from the others of cylinder 2 (top-thrust 80.021, top-axial "
        "80.022), where 0.010 mm would be far; it is where cylinder 1 was"
    )
    assert paper.press("0.021", "bore")["reason"] is None
    assert again(paper) == []


def test_parts_of_different_warmth_are_worth_a_look(paper: Paper) -> None:
    from capture.findings import findings

    two = SPEC.replace('id = "block"\ntitle = "Block"', 'id = "block"\ntitle = "Block"\ncount = 2')
    two = two.replace("[characteristic.expansion]", "").replace(
        'temperature = "block-temperature"\ncoefficient = "11.5"\ncoefficient_uncertainty = "0.5"',
        "",
    )
    build = paper.open(two)
    paper.press("20.0", "thermometer", "°C")
    paper.press("21.5", "thermometer", "°C")
    assert [one.code for one in findings(paper.desk.build(build))] == []
    paper.do(c.Void(len(paper.entries) - 1, "read too early"))
    paper.press("23.5", "thermometer", "°C")
    (found,) = findings(paper.desk.build(build))
    assert found.code == "parts-not-one-temperature"
    assert found.numbers == {"low": "20.0", "high": "23.5", "apart": "3.5"}
