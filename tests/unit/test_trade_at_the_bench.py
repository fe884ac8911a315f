"""What an assembler does beside pressing SEND on sizes: zero checks, feelers, rounds, extensions,
fits, temperatures. The engine is invented."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from capture import command as c
from capture.errors import Conflict, RequestError
from capture.recompute import Recomputation
from capture.titles import describe
from tests.paper import Paper

SPEC = """
format = 1
id = "small-engine"
title = "Invented twin"
revision = "1"
invented = true
notice = "Invented."

[[part]]
id = "block"
title = "Block"

[[part]]
id = "cylinder"
title = "Cylinder"
count = 2

[[part]]
id = "piston"
title = "Piston"
count = 2
position = "cylinder"

[[part]]
id = "ring"
title = "Top ring"
count = 2
position = "cylinder"

[[part]]
id = "rod-bolt"
title = "Rod bolt"
count = 4
position = "cylinder"
per = 2

[[characteristic]]
id = "block-temperature"
title = "Block temperature"
part = "block"
unit = "°C"
lower_limit_of_size = "10"
upper_limit_of_size = "35"
plausible = { lower = "0", upper = "45" }
instruments = ["thermometer"]

[[characteristic]]
id = "bore"
title = "Cylinder bore"
part = "cylinder"
unit = "mm"
nominal_size = "80.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.030"
depths = ["top", "bottom"]
axes = ["thrust", "axial"]
instruments = ["bore-gauge"]

[characteristic.expansion]
temperature = "block-temperature"
coefficient = "11.5"
coefficient_uncertainty = "0.5"

[[characteristic]]
id = "piston-diameter"
title = "Piston diameter"
part = "piston"
unit = "mm"
nominal_size = "79.960"
lower_limit_deviation = "-0.015"
upper_limit_deviation = "+0.015"
instruments = ["micrometer"]

[[characteristic]]
id = "ring-gap"
title = "Top ring end gap"
part = "ring"
unit = "mm"
lower_limit_factor = "0.004"
upper_limit_factor = "0.006"
factor_of = "bore-mean"
plausible = { lower = "0.05", upper = "1.5" }
instruments = ["feeler"]

[[derived]]
id = "bore-mean"
title = "Bore, mean"
quantity = "mean"
of = ["bore"]
unit = "mm"
lower_limit = "80.000"
upper_limit = "80.030"

[[derived]]
id = "piston-clearance"
title = "Piston clearance"
quantity = "clearance"
of = ["bore", "piston-diameter"]
unit = "mm"
lower_limit = "0.040"
upper_limit = "0.060"

[[derived]]
id = "gap-ratio"
title = "Ring gap over bore"
formula = "ring-gap / bore-mean"
unit = "1"
upper_limit = "0.007"

[[fastener]]
id = "rod-bolts"
title = "Rod bolts"
part = "rod-bolt"
order = [1, 2, 3, 4]
together = 2
lubricant = "oil"
torque_to_yield = true
instruments = ["torque-adapter", "click-wrench"]

  [[fastener.stage]]
  id = "snug"
  title = "Snug"
  unit = "N·m"
  target = "20"
  permissible_deviation_percent = "10"

  [[fastener.stage]]
  id = "final"
  title = "Final"
  unit = "N·m"
  target = "50"
  permissible_deviation_percent = "5"

[[confirmation]]
id = "piston-in"
title = "Piston in"
text = "Rings oiled, gaps staggered."
part = "piston"

[[turning_test]]
id = "turns"
title = "Turning torque"
part = "piston"
unit = "N·m"
lower_limit = "2"
upper_limit = "15"
plausible = { lower = "0", upper = "60" }
instruments = ["click-wrench"]

[[zero_check]]
id = "bore-gauge-zero"
title = "Bore gauge on its ring"
unit = "mm"
plausible = { lower = "-0.2", upper = "0.2" }
instruments = ["bore-gauge"]

[[operation]]
measure = "block-temperature"

[[operation]]
id = "zero-before"
zero = "bore-gauge-zero"
after = ["measure-block-temperature"]

[[operation]]
measure = "bore"
after = ["zero-before"]

[[operation]]
id = "zero-after"
zero = "bore-gauge-zero"
after = ["measure-bore"]

[[operation]]
measure = "piston-diameter"
after = ["zero-after"]

[[operation]]
measure = "ring-gap"
after = ["zero-after"]

[[operation]]
confirm = "piston-in"
after = ["measure-piston-diameter", "measure-ring-gap"]
round = "cylinder"

[[operation]]
tighten = "rod-bolts"
after = ["confirm-piston-in"]
round = "cylinder"

[[operation]]
turn = "turns"
after = ["tighten-rod-bolts"]
round = "cylinder"
"""
BORES = ("0.010", "0.012", "0.009", "0.011")
BESIDE = {"0.30": ("0.25", "0.35"), "0.35": ("0.30", "0.40"), "0.40": ("0.35", "0.45")}


@pytest.fixture
def paper() -> Paper:
    return Paper()


def opened(paper: Paper, *, block: str = "20.0") -> str:
    """A build whose block is at ``block`` °C and whose bore gauge is set on an 80 mm ring."""
    build = paper.open(SPEC)
    paper.do(c.SetGauge("bore", "ring", Decimal("80.000"), "mm", Decimal("0.0005"), Decimal(2)))
    paper.press(block, "thermometer", "°C")
    return build


def measured(paper: Paper) -> str:
    """Everything measured and steady, up to the ring gaps."""
    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES, "0.014", "0.016", "0.013", "0.015")
    paper.press("0.000", "bore")
    for digits in ("79.960", "79.962"):
        paper.press(digits)
    return build


def whole(paper: Paper) -> str:
    """Gaps in, pistons not yet."""
    build = measured(paper)
    for _ in range(2):
        said = paper.bracket("0.35", "0.40", leaves=("0.35",), beside=BESIDE["0.35"])
        assert said["verdict"]["result"] == "conforming", said
    return build


def again(paper: Paper) -> list[str]:
    """What verify finds when it makes everything again."""
    found: list[str] = []
    made = Recomputation(lambda _seq, _code, message: found.append(message), paper.entry)
    for entry in paper.entries[1:]:
        made.add(entry)
    return [one for one in found if "envelope" not in one and "first entry" not in one]


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
