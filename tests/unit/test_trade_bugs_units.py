"""Mistakes once made with units, brackets of one end, names of pieces and what is kept: each with
the day on which it showed. The engine is invented."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from capture import command as c
from capture.case import Case
from capture.entry import Kind
from capture.evaluate import KEPT_MOST, Taken
from capture.fineness import finer_than_shown
from capture.inquiry.fits import fit_answer, fit_asked
from capture.instrument import Calibration, Instrument
from capture.means import add_set, case_of, means_now
from capture.view import build as view
from tests.paper import Paper
from tests.unit.test_trade_bugs_marks import COLD, OTHERS, ready
from tests.unit.twin import BORES, SPEC, again, opened, whole

WARM = Instrument(
    "thermometer", "thermometer", "°C", Decimal("0.1"), "typed", "x",
    calibration=Calibration("invented", "2099-12-31", Decimal("0.2"), Decimal(2)),
)  # fmt: skip
WRENCH = Instrument(
    "wrench", "torque-adapter", "N·m", Decimal("0.1"), "typed", "x",
    calibration=Calibration("invented", "2099-12-31", Decimal("0.5"), Decimal(2)),
)  # fmt: skip


def known(paper: Paper, instrument: Instrument) -> None:
    paper.write(Kind.INSTRUMENT, {**instrument.to_body(), "profile_seq": None})


def test_a_thermometer_may_send_the_other_degrees(paper: Paper) -> None:
    known(paper, WARM)
    fahrenheit = SPEC.replace(
        'unit = "°C"\nlower_limit_of_size = "10"\nupper_limit_of_size = "35"\n'
        'plausible = { lower = "0", upper = "45" }',
        'unit = "°F"\nlower_limit_of_size = "50"\nupper_limit_of_size = "95"\n'
        'plausible = { lower = "45", upper = "120" }',
    )
    paper.open(fahrenheit)
    said = paper.press("20.0", "thermometer", "°C")
    assert said["reason"] is None, said["reason"]
    assert said["verdict"]["measured"] == "68"
    # U = 2 × √(0.1² + 0.1²/12) °C × 1.8, rounded up
    assert said["verdict"]["expanded_uncertainty"] == "0.38"
    assert not finer_than_shown("77.0", "°F", WARM)


def test_an_angle_by_a_torque_tool_has_no_uncertainty_and_no_extension(paper: Paper) -> None:
    known(paper, WRENCH)
    turned = COLD.replace('unit = "N·m"\n  target = "50"', 'unit = "°"\n  target = "90"')
    assert turned != COLD
    build = whole_of(paper, turned)
    paper.do(c.Confirm(build, "confirm-piston-in/1", ""))
    for digits in ("20.0", "20.1"):
        paper.press(digits, "wrench", "N·m")
    said = paper.press("90", "wrench", "°")
    assert said["step"]["id"] == "tighten-rod-bolts/1/final"
    assert said["verdict"]["measured"] == "90"
    assert said["verdict"]["expanded_uncertainty"] is None
    paper.do(c.FitExtension("click", Decimal(400), Decimal(50), Decimal(0), "mm"))
    assert paper.press("91", "click", "°")["verdict"]["measured"] == "91"
    assert again(paper) == []


def whole_of(paper: Paper, spec: str) -> str:
    build = ready(paper, spec)
    paper.press("0.000", "bore")
    paper.bores(*BORES, *OTHERS)
    paper.press("0.000", "bore")
    for digits in ("79.960", "79.962"):
        paper.press(digits)
    for _ in range(2):
        paper.bracket("0.35", "0.40", leaves=("0.35",), beside=("0.30", "0.40"))
    return build


def test_the_zero_of_a_gauge_in_another_unit_is_as_sure_as_in_its_own(paper: Paper) -> None:
    ready(paper, COLD)
    own = paper.press("0.000", "bore")["zero"]["expanded_uncertainty"]
    other = Paper()
    ready(other, COLD)
    inches = other.press("0.00000", "bore", "in")["zero"]["expanded_uncertainty"]
    assert (own, inches) == ("0.0012", "0.0012")
    coarse = Paper()
    ready(coarse, COLD)
    # U = 2 × √(0.0005² + 0.00254²/12) mm, rounded up: the step sent is 0.0001 in
    said = coarse.press("0.0000", "bore", "in")["zero"]
    assert (said["expanded_uncertainty"], said["unit"]) == ("0.0018", "mm")


def test_a_bracket_of_one_end_is_no_size_to_derive_from(paper: Paper) -> None:
    spec = COLD.replace(
        'lower_limit_factor = "0.004"\nupper_limit_factor = "0.006"\nfactor_of = "bore-mean"',
        'lower_limit_of_size = "0.20"',
    )
    ready(paper, spec)
    paper.press("0.000", "bore")
    paper.bores(*BORES, *OTHERS)
    paper.press("0.000", "bore")
    for digits in ("79.960", "79.962"):
        paper.press(digits)
    said = paper.bracket("0.50", None, leaves=("0.50",), beside=("0.45", None))
    assert said["verdict"]["result"] == "conforming"
    assert said["derived"] == []


def test_a_held_formula_over_a_derived_quantity_can_be_seen(paper: Paper) -> None:
    build = whole_of(paper, COLD.replace('upper_limit = "0.007"', 'upper_limit = "0.002"'))
    holds = {hold["subject"]: hold for hold in view(paper.desk, build)["holds"]}
    hold = holds["gap-ratio/1"]
    assert hold["places"] == [{"part": "cylinder", "number": 1}, {"part": "ring", "number": 1}]


def test_a_successor_has_a_name_that_was_never_used(paper: Paper) -> None:
    build = ready(paper, COLD)
    paper.do(c.Assign(build, "piston", 2, "piston-1.2"))
    paper.do(c.Scrap(build, "piston", 1, "cracked"))
    pieces = paper.desk.build(build).pieces
    names = [pieces.at("piston", number) for number in (1, 2)]
    assert len(set(names)) == 2
    paper.do(c.Assign(build, "piston", 1, "spare"))
    paper.do(c.Scrap(build, "piston", 1, "cracked too"))
    assert pieces.at("piston", 1) not in ("spare", "piston-1", *names)


def test_what_is_kept_for_verdicts_does_not_grow_for_ever(paper: Paper) -> None:
    from capture.spec.model import Decision, Limits

    limits, decision = Limits(Decimal(1), Decimal(2)), Decision()
    evaluator = paper.desk.evaluator
    for number in range(KEPT_MOST + 10):
        evaluator.judge("mm", limits, decision, None, (str(number),))
    assert len(evaluator._judges) <= KEPT_MOST
    for seq in range(KEPT_MOST + 10):  # a gauge set again and again: its certificate stays
        taken = Taken(1, seq, Decimal("0.1"), "°C", "°C")
        kept = evaluator.budget(taken, WARM, None)
        assert evaluator.zero_budget(seq, WARM, Decimal("0.1"), "°C") == kept
        evaluator.expanded(taken, WARM, None, Decimal(2))
    for some in (evaluator._budgets, evaluator._zeros, evaluator._expanded):
        assert 0 < len(some) <= KEPT_MOST


def test_a_press_looks_through_no_more_than_what_is_distinct(paper: Paper) -> None:
    build = ready(paper, COLD)
    for size in ("80.000", "80.00", "80.000", "79.998"):
        ring = c.SetGauge("bore", "ring", Decimal(size), "mm", Decimal("0.0005"), Decimal(2))
        paper.do(ring)
    for length in (50, 0, 50, 100, 50):
        paper.do(c.FitExtension("click", Decimal(400), Decimal(length), Decimal(0), "mm"))
    desk = paper.desk
    assert sorted(desk.standards) == [(Decimal("79.998"), "mm"), (Decimal("80.000"), "mm")]
    assert [one.length for one in desk.extensions_of["click"]] == [Decimal(50), Decimal(100)]

    def looked_at(instrument: str, digits: str, unit: str) -> Case:
        press = {"instrument": instrument, "digits": digits, "unit": unit, "flags": []}
        means = means_now(desk, instrument)
        case = case_of(press, desk.build(build), None, means, "2026-01-01T00:00:00Z", (1, 1))
        add_set(desk, case)
        return case

    # The gauge's own standard is none of the others.
    assert [one.size for one in looked_at("bore", "0.010", "mm").standards] == [Decimal(80)]
    assert len(looked_at("click", "20.0", "N·m").extensions) == 2


def test_a_proposal_that_leaves_some_unmeasured_is_still_a_change_of_places(
    paper: Paper,
) -> None:
    build = ready(paper, COLD)
    paper.press("0.000", "bore")
    paper.bores(*BORES)  # cylinder 1 only
    paper.press("0.014", "bore")
    for bore in ("0.016", "0.013", "0.015"):
        paper.press(bore, "bore")
    paper.press("0.000", "bore")
    paper.press("79.973")
    paper.press("79.960")
    found = paper.desk.build(build)
    fill = found.fills[found.index["measure-bore/2/top-axial"]]
    assert fill is not None
    assert fill.press is not None
    paper.do(c.Void(fill.press, "slipped"))
    changes = fit_answer(fit_asked(paper.desk, build, "piston-clearance"))["changes"]
    assert changes == {"1": "piston-2", "2": "piston-1"}
    order = tuple((int(number), piece) for number, piece in changes.items())
    paper.do(c.AcceptFit(build, "piston-clearance", order))
    assert again(paper) == []


def test_a_leaf_has_no_resolution_of_its_own(paper: Paper) -> None:
    from dataclasses import replace

    from capture.uncertainty import single

    certified = Calibration("invented", "2099-12-31", Decimal("0.004"), Decimal(2))
    feeler = replace(paper.desk.instruments["feeler"].instrument, calibration=certified)
    budget = single(feeler, Decimal("0.05"), "mm", None)
    assert budget is not None
    assert [one.name for one in budget.contributions] == ["calibration"]


def test_the_budget_of_a_size_at_twenty_degrees_has_its_temperature(paper: Paper) -> None:
    from capture.inquiry.budget import budget

    known(paper, WARM)
    opened(paper, block="30.0")
    paper.press("0.000", "bore")
    seq = paper.press("0.020", "bore")["press"]
    press, decision = paper.entry(seq), paper.decision(seq)
    assert press is not None
    assert decision is not None
    said: dict[str, Any] = budget(paper.desk, press, decision)
    names = [line["name"] for line in said["lines"]]
    assert "temperature of the part" in names
    assert said["expanded_uncertainty"] == decision["body"]["verdict"]["expanded_uncertainty"]


def test_an_angle_is_offered_no_setting_of_a_torque_tool(paper: Paper) -> None:
    from capture.titles import describe

    turned = COLD.replace('unit = "N·m"\n  target = "50"', 'unit = "°"\n  target = "90"')
    build = whole_of(paper, turned)
    paper.do(c.FitExtension("click", Decimal(400), Decimal(50), Decimal(0), "mm"))
    found = paper.desk.build(build)
    settings = [
        describe(paper.desk, found, found.steps[found.index[f"tighten-rod-bolts/1/{stage}"]])[
            "tool_settings"
        ]
        for stage in ("snug", "final")
    ]
    assert settings == [{"click": "17.78"}, {}]


def test_whole_days_still_go_through(paper: Paper) -> None:
    build = whole(paper)
    assert view(paper.desk, build)["open_sets"] == []
