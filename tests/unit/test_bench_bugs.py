"""Bugs found by others at the bench; each would fail before its mend."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest

from capture import command as c
from capture.desk import Desk
from capture.entry import Envelope
from capture.errors import Conflict
from capture.intake import Intake
from tests.paper import GOOD_BORES, SPEC, Paper


def test_full_intake_tells_of_room_although_others_put_meanwhile() -> None:
    told: list[int] = []
    intake: Intake[int] = Intake(20, lambda: told.append(1))
    assert not intake.put(range(20))
    intake.take(5)
    assert not intake.put([20])  # it is still not half empty: whoever asks waits as well
    while intake.take(5, 0.001):
        pass
    assert told == [1]


def test_looking_at_the_next_step_changes_nothing(paper: Paper) -> None:
    build = paper.ready()
    paper.do(c.ChooseStep(build, "plungers/2"))
    seq = paper.press("19.981")["press"]
    assert paper.next_id(build) == "bores/1/top-a"
    paper.do(c.Void(seq, "dirt"))
    # The choice was used up by the press, whether anybody looked in between or not.
    assert paper.press("0.010", "bore")["step"]["id"] == "bores/1/top-a"


def test_whole_numbers_and_decimals_have_uncertainties_of_their_own(paper: Paper) -> None:
    build = paper.ready()
    paper.do(c.ChooseStep(build, "plungers/1"))
    fine = paper.press("19.98")["verdict"]["expanded_uncertainty"]
    paper.do(c.ChooseStep(build, "plungers/2"))
    coarse = paper.press("20")["verdict"]["expanded_uncertainty"]
    assert Decimal(coarse) > 50 * Decimal(fine)


def set_to(size: str) -> c.SetGauge:
    return c.SetGauge("bore", f"ring {size}", Decimal(size), "mm", Decimal("0.0005"), Decimal(2))


def test_correcting_later_uses_the_setting_at_the_press(paper: Paper) -> None:
    build = paper.ready()
    press = paper.press("0.010", "bore")
    first = press["cites"]["setting"]
    paper.do(set_to("20.005"))
    corrected = paper.do(c.Correct(press["press"], "0.011", None, "misread"))["body"]
    assert corrected["verdict"]["measured"] == "20.011"
    assert corrected["cites"]["setting"] == first
    paper.do(c.Void(press["press"], "wrong barrel"))
    placed = paper.do(c.Place(press["press"], build, "bores/2/top-a", "barrel 2"))["body"]
    assert placed["verdict"]["measured"] == "20.011"
    assert placed["cites"]["setting"] == first


def test_reading_of_a_gauge_not_yet_set_is_not_counted_by_a_later_setting(paper: Paper) -> None:
    build = paper.open()
    paper.do(c.Confirm(build, "wipe/1", ""))
    press = paper.press("0.010", "bore")["press"]
    paper.do(set_to("20.000"))
    with pytest.raises(Conflict, match="was not set") as caught:
        paper.do(c.Place(press, build, "bores/1/top-a", "was fine"))
    assert "Measure again" in caught.value.mend


def test_correcting_later_uses_the_instruments_record_at_the_press(paper: Paper) -> None:
    from capture.entry import Kind

    build = paper.ready()
    paper.do(c.ChooseStep(build, "plungers/1"))
    press = paper.press("19.980")
    body = {**paper.desk.instruments["mic"].instrument.to_body(), "profile_seq": None}
    body["calibration"] = {**body["calibration"], "expanded_uncertainty": "0.0090"}
    paper.write(Kind.INSTRUMENT, body)
    corrected = paper.do(c.Correct(press["press"], "19.981", None, "misread"))["body"]
    for name in ("expanded_uncertainty", "rule"):
        assert corrected["verdict"][name] == press["verdict"][name]
    assert corrected["cites"]["instrument"] == press["cites"]["instrument"]


REPEATS = SPEC.replace('nominal_size = "19.980"', 'nominal_size = "19.980"\nrepeats = 3')


def repeats(paper: Paper, *digits: str) -> list[int]:
    build = paper.open(REPEATS)
    paper.do(c.Confirm(build, "wipe/1", ""))
    seqs = []
    for number, each in enumerate(digits, 1):
        paper.do(c.ChooseStep(build, f"plungers/1/{number}"))
        seqs.append(paper.press(each)["press"])
    return seqs


def test_repeats_are_judged_on_their_mean_and_only_when_all_are_there(paper: Paper) -> None:
    repeats(paper, "20.000")
    build = paper.desk.active_build()
    assert build is not None
    # One of three says nothing yet, and holds nothing.
    assert not build.works["plungers"].holds
    first = build.fills[build.index["plungers/1/1"]]
    assert first is not None
    assert first.result == "not_evaluated"


def test_correcting_one_repeat_judges_the_mean_of_all_again(paper: Paper) -> None:
    seqs = repeats(paper, "19.981", "19.982", "20.050")
    build = paper.desk.active_build()
    assert build is not None
    assert set(build.works["plungers"].holds) == {"plungers/1"}
    corrected = paper.do(c.Correct(seqs[2], "19.980", None, "misread"))["body"]
    assert corrected["verdict"]["measured"] == "19.981"
    assert not build.works["plungers"].holds
    again = paper.do(c.Correct(seqs[0], "20.050", None, "no, this one"))["body"]
    assert again["verdict"]["notes"][-1].startswith("mean of 3 repeats") or any(
        note == "mean of 3 repeats" for note in again["verdict"]["notes"]
    )
    assert set(build.works["plungers"].holds) == {"plungers/1"}


def test_repeats_that_scatter_are_not_called_a_coarse_instrument(paper: Paper) -> None:
    repeats(paper, "19.951", "19.999", "19.975")
    build = paper.desk.active_build()
    assert build is not None
    notes = paper.entries[-1]["body"]["verdict"]["notes"]
    assert "repeats differ too much for this tolerance" in notes
    assert not any("too coarse" in note for note in notes)


def test_moving_a_reading_within_its_part_derives_without_its_old_place(paper: Paper) -> None:
    build = paper.ready()
    seqs = [decided["press"] for decided in paper.bores("0.010", "0.011", "0.009")]
    moved = paper.do(c.Place(seqs[0], build, "bores/1/bottom-b", "it was the last one"))["body"]
    assert moved["derived"] == []
    assert ("bore-taper", 1) not in paper.desk.build(build).derived


def test_a_load_that_fails_half_way_leaves_no_half_build(paper: Paper) -> None:
    build = paper.ready()
    paper.bores("0.010", "0.011")
    calls = []

    def loader(name: str) -> Iterator[Envelope]:
        calls.append(name)
        for number, entry in enumerate(paper.entries):
            if len(calls) == 1 and number == len(paper.entries) - 1:
                raise OSError("disk, once")
            if entry["kind"] == "decision" or entry["body"].get("build") == name:
                yield entry

    desk = Desk(loader)
    for entry in paper.entries:
        if entry["kind"] not in ("press", "decision"):
            desk.apply(entry)
    with pytest.raises(OSError, match="once"):
        desk.build(build)
    assert desk.build(build).filled == paper.desk.build(build).filled


def test_scrapping_one_part_says_nothing_of_another_of_that_name(paper: Paper) -> None:
    build = paper.ready()
    paper.do(c.Assign(build, "barrel", 1, "A1"))
    paper.do(c.Scrap(build, "barrel", 1, "cracked"))
    paper.do(c.Assign(build, "plunger", 1, "A1"))
    with pytest.raises(Conflict, match="scrapped"):
        paper.do(c.Assign(build, "barrel", 2, "A1"))


def test_correction_goes_to_the_step_the_press_was_for(paper: Paper) -> None:
    build = paper.ready()
    slip = paper.press("9.0", "bore")
    assert slip["reason"]["code"] in ("outside-instrument-range", "decimal-slip")
    again = paper.press("0.010", "bore")
    assert again["step"]["id"] == slip["reason"]["step"]
    with pytest.raises(Conflict, match="answered by reading") as caught:
        paper.do(c.Correct(slip["press"], "0.009", None, "misread"))
    assert "Place" in caught.value.mend
    paper.do(c.Void(again["press"], "the first one was right"))
    corrected = paper.do(c.Correct(slip["press"], "0.009", None, "misread"))["body"]
    assert corrected["step"]["id"] == slip["reason"]["step"]
    assert corrected["build"] == build


def test_void_reading_is_not_corrected_onto_some_other_step(paper: Paper) -> None:
    paper.ready()
    press = paper.press("0.010", "bore")["press"]
    paper.do(c.Void(press, "slipped"))
    with pytest.raises(Conflict, match="void"):
        paper.do(c.Correct(press, "0.011", None, "hm"))


def test_slip_of_unit_is_seen_before_the_instruments_range(paper: Paper) -> None:
    from dataclasses import replace

    from capture.entry import Kind

    build = paper.ready()
    paper.do(c.ChooseStep(build, "plungers/1"))
    mic = paper.desk.instruments["mic"].instrument
    narrow = replace(mic, range=(Decimal(15), Decimal(25)))
    paper.write(Kind.INSTRUMENT, {**narrow.to_body(), "profile_seq": None})
    assert paper.press("0.7866")["reason"]["code"] == "unit-slip"
    assert paper.press("3.333")["reason"]["code"] == "outside-instrument-range"
    paper.do(c.ChooseStep(build, "plungers/1"))
    tight = replace(mic, range=(Decimal(0), Decimal("19.979")))
    paper.write(Kind.INSTRUMENT, {**tight.to_body(), "profile_seq": None})
    assert paper.press("19.980")["reason"]["code"] == "outside-instrument-range"


def test_a_concession_moves_with_its_piece(paper: Paper) -> None:
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    paper.press("20.010")
    paper.press("19.980")
    found = paper.desk.build(build)
    paper.do(c.Concede(build, "plungers/1", "customer agreed"))
    paper.do(c.Assign(build, "plunger", 2, "plunger-1"))
    assert "plungers/2" not in found.works["plungers"].holds
    assert found.conceded["plungers/2"] == "customer agreed"


def test_closed_build_keeps_its_readings(paper: Paper) -> None:
    first = paper.ready()
    press = paper.press("0.010", "bore")["press"]
    paper.do(c.CloseBuild(first, "delivered"))
    second = paper.open(SPEC.replace('revision = "1"', 'revision = "2"'))
    paper.do(c.Confirm(second, "wipe/1", ""))
    with pytest.raises(Conflict, match="closed"):
        paper.do(c.Place(press, second, "bores/1/top-a", "no"))
    assert paper.desk.build(first).filled == 2


def test_pull_the_other_way_is_not_counted(paper: Paper) -> None:
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    for digits in ("19.980", "19.981", "19.982"):
        paper.press(digits)
    found = paper.press("10.0", "wrench", "N·m", flags=("counterclockwise",))["reason"]
    assert (found["code"], found["step"]) == ("wrong-direction", "cover/2/snug")
    assert paper.press("10.1", "wrench", "N·m", flags=("clockwise",))["reason"] is None
    assert paper.next_id(build) == "cover/3/snug"


def test_sentences_have_numbers_a_person_can_read(paper: Paper) -> None:
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    for digits in ("19.980", "19.981", "19.982"):
        paper.press(digits)
    assert paper.next_id(build) == "cover/2/snug"
    found = paper.press("0.295", "wrench", "lbf·ft")["reason"]
    assert found["code"] == "implausible-size" or "size" in found
    assert len(found["detail"]) < 160
    assert "0.39996" not in found["detail"] or "0.3999662947" not in found["detail"]


def tightened(paper: Paper) -> str:
    build = paper.ready()
    paper.bores(*GOOD_BORES * 3)
    for digits in ("19.980", "19.981", "19.982"):
        paper.press(digits)
    for torque in ("10.0", "10.1", "10.2", "9.9", "25.0", "25.1", "25.2", "24.9"):
        paper.press(torque, "wrench", "N·m")
    assert paper.next_id(build) == "turn/1"
    return build


def test_a_new_piece_reopens_what_rests_on_the_old_one(paper: Paper) -> None:
    build = tightened(paper)
    paper.do(c.Assign(build, "plunger", 2, "P-9"))
    decided = paper.press("19.979")
    assert decided["step"]["id"] == "plungers/2"
    assert decided["step"]["pass"] == 2
    assert paper.next_id(build) == "cover/2/snug"


def test_pieces_that_change_places_reopen_what_rests_on_them(paper: Paper) -> None:
    build = tightened(paper)
    paper.do(c.Assign(build, "plunger", 1, "plunger-3"))
    assert paper.next_id(build) == "cover/2/snug"


def test_a_step_that_is_not_open_takes_no_reading_by_hand(paper: Paper) -> None:
    build = paper.ready()
    press = paper.press("25.0", "wrench", "N·m")["press"]
    with pytest.raises(Conflict, match="not open yet") as caught:
        paper.do(c.Place(press, build, "cover/2/final", "was the final stage"))
    assert "bores, plungers" in caught.value.mend


def test_a_second_correction_keeps_the_unit_of_the_first(paper: Paper) -> None:
    build = paper.ready()
    paper.do(c.ChooseStep(build, "plungers/1"))
    press = paper.press("0.7866")["press"]
    paper.do(c.Correct(press, "0.7866", "in", "inches"))
    again = paper.do(c.Correct(press, "0.7867", None, "and misread"))["body"]
    assert again["corrected"] == {"digits": "0.7867", "unit": "in"}


def test_a_reading_of_an_earlier_pass_is_not_corrected(paper: Paper) -> None:
    build = paper.ready()
    press = paper.press("0.010", "bore")["press"]
    paper.do(c.Rework(build, "barrel", 1, "honed"))
    with pytest.raises(Conflict, match="earlier pass") as caught:
        paper.do(c.Correct(press, "0.011", None, "misread"))
    assert "Measure again" in caught.value.mend
