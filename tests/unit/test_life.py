"""The life of an instrument, from entries made on paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from capture import command as c
from capture.entry import Envelope, Kind
from capture.inquiry.aside import aside
from capture.inquiry.life import (
    Entries,
    calibrations,
    changes,
    counts,
    life,
    moments,
    standing,
)
from capture.inquiry.taken_part import may_take_part, taken_part
from tests.contract.trade import SPEC as TRADE
from tests.paper import CERTIFIED, INSTRUMENTS, Paper

BORE = next(one for one in INSTRUMENTS if one.id == "bore")


def of(paper: Paper, kind: Kind, instrument: str = "bore") -> list[Envelope]:
    key = "id" if kind is Kind.INSTRUMENT else "instrument"
    return [e for e in paper.entries if e["kind"] == kind and e["body"].get(key) == instrument]


def decisions(paper: Paper) -> list[Envelope]:
    return [entry for entry in paper.entries if entry["kind"] == "decision"]


def recorded(paper: Paper, **changed: Any) -> None:
    body = replace(BORE, **changed).to_body()
    paper.now_ms += 1000
    paper.write(Kind.INSTRUMENT, {**body, "profile_seq": None})


@pytest.mark.parametrize(
    ("due", "state", "days"),
    [
        ("2026-06-30", "valid", 31),
        ("2026-06-29", "soon", 30),
        ("2026-05-30", "soon", 0),  # its due day is the last one
        ("2026-05-29", "overdue", -1),
        ("after the season", "unknown", None),
    ],
)
def test_a_calibration_is_due_soon_for_thirty_days(due: str, state: str, days: int | None) -> None:
    assert standing({"due": due}, date(2026, 5, 30)) == {"state": state, "days": days}


def test_without_a_certificate_nothing_is_due() -> None:
    assert standing(None, date(2026, 5, 30)) == {"state": "none", "days": None}


def test_certificates_follow_one_another() -> None:
    paper = Paper()
    recorded(paper, resolution=Decimal("0.0005"))
    recorded(paper, calibration=replace(CERTIFIED, certificate="invented 2"))
    recorded(paper, calibration=None)
    found = calibrations(of(paper, Kind.INSTRUMENT))
    assert [one["calibration"] and one["calibration"]["certificate"] for one in found] == [
        "invented", "invented 2", None,
    ]  # fmt: skip
    assert [one["until"] for one in found] == [found[1]["at"], found[2]["at"], None]
    assert found[0]["seq"] == of(paper, Kind.INSTRUMENT)[0]["seq"]


def test_what_else_changed_is_told_with_its_values() -> None:
    paper = Paper()
    recorded(paper, resolution=Decimal("0.0005"), comparative=False, drift=Decimal("0.001"))
    recorded(paper, calibration=None, resolution=Decimal("0.0005"), comparative=False,
             drift=Decimal("0.001"))  # fmt: skip
    (one,) = changes(of(paper, Kind.INSTRUMENT))
    assert one["changed"] == [
        {"name": "comparative", "before": "true", "after": "false"},
        {"name": "drift", "before": None, "after": "0.001"},
        {"name": "resolution", "before": "0.001", "after": "0.0005"},
    ]


def set_of(paper: Paper, *deviations: str) -> None:
    """A zero check, readings, a zero check that reads the last of these."""
    for digits in (deviations[0], deviations[-1]):
        paper.do(c.ExpectZero("bore"))
        paper.press(digits, "bore")
        if digits is deviations[0]:
            paper.bores(*deviations[1:-1])


def test_zero_checks_say_how_far_the_zero_moved() -> None:
    paper = Paper()
    paper.ready()
    set_of(paper, "0.000", "0.010", "0.011", "0.004")
    zeros = [entry for entry in decisions(paper) if "zero" in entry["body"]]
    found = life(Entries(of(paper, Kind.INSTRUMENT), of(paper, Kind.SETTING), zeros))
    first, second = found["zero_checks"]
    assert (first["drift"], first["steady"], first["readings"]) == ("0", True, 0)
    assert (second["drift"], second["steady"], second["readings"]) == ("0.004", False, 2)
    assert second["opened"] == first["reading"]
    (setting,) = found["settings"]
    assert (setting["standard"], setting["size"], setting["from_instrument"]) == (
        "ring", "20.000", None,
    )  # fmt: skip


def test_moments_stand_in_one_line_newest_first() -> None:
    paper = Paper()
    paper.ready()
    set_of(paper, "0.000", "0.010", "0.011", "0.004")
    recorded(paper, calibration=replace(CERTIFIED, certificate="invented 2"), drift=Decimal(1))
    gap = {"port": "typed", "instrument": "bore", "raw": "", "code": "gap", "detail": "Pulled out."}
    noise = {**gap, "raw": "ff", "code": "noise"}
    trouble = [paper.write(Kind.UNDECODABLE, {**one, "late": None}) for one in (gap, noise)]
    zeros = [entry for entry in decisions(paper) if "zero" in entry["body"]]
    records = of(paper, Kind.INSTRUMENT)
    found = moments(life(Entries(records, of(paper, Kind.SETTING), zeros, trouble=trouble)))
    assert [one["word"] for one in found] == [
        "gap", "calibration", "change", "drift", "setting", "calibration",
    ]  # fmt: skip
    assert [one["seq"] for one in found] == sorted((one["seq"] for one in found), reverse=True)


def test_a_zero_check_in_inches_is_told_in_the_unit_of_the_gauge() -> None:
    paper = Paper()
    paper.ready()
    paper.do(c.ExpectZero("bore"))
    paper.press("0.0001", "bore", "in")
    zeros = [entry for entry in decisions(paper) if "zero" in entry["body"]]
    (one,) = life(Entries(of(paper, Kind.INSTRUMENT), (), zeros))["zero_checks"]
    assert (one["drift"], one["unit"]) == ("0.00254", "mm")


def test_a_zero_check_of_when_it_measured_something_else_stays_as_it_was() -> None:
    paper = Paper()
    paper.ready()
    set_of(paper, "0.000", "0.010", "0.011", "0.004")
    zeros = [entry for entry in decisions(paper) if "zero" in entry["body"]]
    recorded(paper, unit="N·m")
    found = life(Entries(of(paper, Kind.INSTRUMENT), (), zeros))["zero_checks"]
    assert [(one["drift"], one["unit"]) for one in found] == [("0", "mm"), ("0.004", "mm")]


def test_readings_are_counted_by_what_became_of_them() -> None:
    paper = Paper()
    paper.ready()
    paper.bores("0.010", "0.011", "0.050")
    paper.press("12.0", "bore")  # beyond what it can show
    found = counts(decisions(paper)[::-1])
    assert found["of_last"] == 4
    assert found["results"] == {"conforming": 2, "nonconforming": 1}
    assert found["checks"] == []
    assert [one["count"] for one in found["not_counted"]] == [1]


def test_a_zero_that_moved_is_no_nonconforming_size() -> None:
    paper = Paper()
    paper.ready()
    set_of(paper, "0.000", "0.010", "0.011", "0.004")
    newest = {entry["body"]["press"]: entry for entry in decisions(paper)}
    found = counts(list(newest.values()))
    assert found["of_last"] == 4
    assert found["results"] == {"undecided": 2}  # the zero that moved marks them
    assert found["checks"] == [{"kind": "zero", "count": 2}]


def test_studies_and_checks_name_the_instrument_that_took_part() -> None:
    paper = Paper()
    text = TRADE.replace('tool = "click-1"', 'tool = "click"')
    build = paper.open(text)
    steps = [step.id for step in paper.desk.build(build).steps if step.kind == "study"]
    sizes = ("80.001", "80.002", "80.000", "80.001", "80.002", "80.002", "80.001", "80.000")
    for step, digits in zip(steps, sizes, strict=True):
        paper.do(c.ChooseStep(build, step))
        paper.press(digits)
    record = {name: paper.desk.instruments[name].seq for name in ("mic", "click", "wrench")}
    counted = decisions(paper)
    studied = {entry["body"]["step"]["kind"] for entry in counted if entry["body"]["step"]}
    assert studied == {"study"}, [entry["body"]["reason"] for entry in counted]
    card = paper.desk.cards[build]
    desk = aside(card, paper.desk.specs[card.spec], counted)
    studies, checks = taken_part(desk, build, counted, "mic", {record["mic"]})
    assert checks == []
    (one,) = studies
    assert (one["study"], one["readings"], one["wanted"], one["complete"]) == (
        "mic-study", 8, 8, True,
    )  # fmt: skip
    assert float(one["gauge"]["standard_deviation"]) > 0
    assert float(one["gauge"]["percent_of_tolerance"]) == pytest.approx(
        6 * float(one["gauge"]["standard_deviation"]) / 0.030 * 100, rel=0.01
    )
    assert taken_part(desk, build, counted, "wrench", {record["wrench"]}) == ([], [])


def test_a_spec_without_studies_is_not_looked_through() -> None:
    paper = Paper()
    spec = paper.desk.build(paper.open()).spec
    assert not may_take_part(spec, "mic", "micrometer")
    trade = paper.desk.build(paper.open(TRADE)).spec
    assert may_take_part(trade, "mic", "micrometer")
    assert may_take_part(trade, "click-1", "click-wrench")  # the tool that is checked
    assert not may_take_part(trade, "feeler", "feeler")
