"""Every rule of the table of placement: its code, its numbers, and which comes first."""

from __future__ import annotations

from decimal import Decimal

from capture import command as c
from capture.entry import Kind
from tests.paper import GOOD_BORES, SPEC, Paper


def reason(decided: dict[str, object]) -> dict[str, object]:
    found = decided["reason"]
    assert isinstance(found, dict)
    assert decided["step"] is None
    assert decided["verdict"] == {"result": "not_evaluated", "because": found["code"]}
    assert found["detail"]
    return found


def test_without_a_build(paper: Paper) -> None:
    assert reason(paper.press("20.000"))["code"] == "no-open-build"


def test_when_a_confirmation_is_asked_for(paper: Paper) -> None:
    paper.open()
    found = reason(paper.press("20.000"))
    assert (found["code"], found["step"]) == ("not-a-measuring-step", "wipe/1")


def test_instrument_of_no_record(paper: Paper) -> None:
    paper.ready()
    assert reason(paper.press("20.000", "nobody"))["code"] == "unknown-instrument"


def test_wrong_kind_of_instrument_names_where_it_would_fit(paper: Paper) -> None:
    paper.ready()
    found = reason(paper.press("19.980"))
    assert found["code"] == "unsuitable-instrument"
    assert found["fits"] == ["plungers/1"]


def test_unit_nobody_knows_and_unit_of_another_dimension(paper: Paper) -> None:
    paper.ready()
    assert reason(paper.press("0.010", "bore", "furlong"))["code"] == "unknown-unit"
    found = reason(paper.press("0.010", "bore", "N·m"))
    assert (found["code"], found["unit"]) == ("unknown-unit", "N·m")


def test_gauge_that_was_never_set(paper: Paper) -> None:
    build = paper.open()
    paper.do(c.Confirm(build, "wipe/1", ""))
    assert reason(paper.press("0.010", "bore"))["code"] == "gauge-not-set"
    assert paper.next_id(build) == "bores/1/top-a"


def test_same_digits_within_the_window_are_a_repeat_and_later_are_not(paper: Paper) -> None:
    build = paper.ready()
    assert paper.press("0.010", "bore")["reason"] is None
    found = reason(paper.press("0.010", "bore", after_ms=999))
    assert (found["code"], found["interval_ms"], found["window_ms"]) == (
        "repeated-press", "999", "1000",
    )  # fmt: skip
    # The repeat itself begins a window of its own: a bouncing button is one press.
    assert reason(paper.press("0.010", "bore", after_ms=500))["code"] == "repeated-press"
    assert paper.press("0.010", "bore", after_ms=1000)["reason"] is None
    assert paper.next_id(build) == "bores/1/bottom-a"


def test_other_digits_within_the_window_are_no_repeat(paper: Paper) -> None:
    paper.ready()
    paper.press("0.010", "bore")
    assert paper.press("0.011", "bore", after_ms=100)["reason"] is None


def at_the_plungers(paper: Paper) -> str:
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    assert paper.next_id(build) == "plungers/1"
    return build


def test_inch_sent_as_millimetre_and_the_reverse(paper: Paper) -> None:
    at_the_plungers(paper)
    found = reason(paper.press("0.7866"))
    assert (found["code"], found["fits_unit"]) == ("unit-slip", "in")
    assert found["size"] == "19.97964"
    found = reason(paper.press("19.980", "inch-mic", "in"))
    assert (found["code"], found["fits_unit"]) == ("unit-slip", "mm")


def test_size_that_fits_another_open_step(paper: Paper) -> None:
    build = at_the_plungers(paper)
    text = SPEC.replace('nominal_size = "19.980"', 'nominal_size = "12.000"').replace(
        'lower_limit = "0.005"\nupper_limit = "0.050"', 'lower_limit = "7"\nupper_limit = "9"'
    )
    other = text.replace(
        '[[operation]]\nid = "cover"',
        '[[characteristic]]\nid = "length"\ntitle = "Length"\npart = "plunger"\nunit = "mm"\n'
        'lower_limit_of_size = "29.9"\nupper_limit_of_size = "30.1"\n'
        'instruments = ["micrometer"]\n\n[[operation]]\nid = "lengths"\nmeasure = "length"\n\n'
        '[[operation]]\nid = "cover"',
    )
    assert build
    second = paper.open(other)
    paper.do(c.Confirm(second, "wipe/1", ""))
    paper.do(c.ChooseStep(second, "plungers/1"))
    found = reason(paper.press("30.002"))
    assert (found["code"], found["fits"], found["size"]) == (
        "fits-another-step", ["lengths/1"], "30.002",
    )  # fmt: skip


def test_decimal_point_slipped(paper: Paper) -> None:
    at_the_plungers(paper)
    found = reason(paper.press("199.80"))
    assert (found["code"], found["fits_value"]) == ("decimal-slip", "19.980")


def test_sign_slipped(paper: Paper) -> None:
    at_the_plungers(paper)
    assert reason(paper.press("-19.980"))["code"] == "sign-slip"


def test_size_nothing_fits(paper: Paper) -> None:
    at_the_plungers(paper)
    found = reason(paper.press("57.123"))
    assert found["code"] == "implausible-size"
    assert Decimal(str(found["lower"])) < 20 < Decimal(str(found["upper"])) < Decimal("57.123")


def test_press_older_than_the_step(paper: Paper) -> None:
    build = at_the_plungers(paper)
    paper.now_ms += 10_000
    paper.do(c.ChooseStep(build, "plungers/2"))
    paper.now_ms -= 5_000
    found = reason(paper.press("19.980", after_ms=0))
    assert (found["code"], found["step"]) == ("late", "plungers/2")
    assert "5000 ms" in str(found["detail"])


def test_overdue_marks_or_holds_as_the_spec_says(paper: Paper) -> None:
    at_the_plungers(paper)
    paper.now_ms += 1000
    body = {
        **paper.desk.instruments["mic"].instrument.to_body(),
        "profile_seq": None,
    }
    body["calibration"] = {**body["calibration"], "due": "2025-12-31"}
    paper.write(Kind.INSTRUMENT, body)
    decided = paper.press("19.980")
    assert decided["reason"] is None
    assert decided["verdict"]["notes"] == ["calibration of mic was due on 2025-12-31"]
    second = paper.open(SPEC.replace('rule = "guarded"', 'rule = "guarded"\noverdue = "hold"'))
    paper.do(c.Confirm(second, "wipe/1", ""))
    paper.do(c.ChooseStep(second, "plungers/1"))
    assert reason(paper.press("19.981"))["code"] == "calibration-overdue"


def test_when_everything_is_answered(paper: Paper) -> None:
    build = at_the_plungers(paper)
    for digits in ("19.980", "19.981", "19.982"):
        paper.press(digits)
    for torque in ("10.0", "10.1", "10.2", "9.9", "25.0", "25.1", "25.2", "24.9", "1.5"):
        assert paper.press(torque, "wrench", "N·m")["reason"] is None
    assert paper.desk.build(build).done
    found = reason(paper.press("1.5", "wrench", "N·m"))
    assert found["code"] == "no-open-step"
