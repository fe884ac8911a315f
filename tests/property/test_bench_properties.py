"""Whatever is pressed and asked for, in any order: ways agree with the table of rules, the state
is what its entries fold to, and correcting a unit gives what the right unit would have given."""

from __future__ import annotations

import contextlib
from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from capture import command as c
from capture.decide import by_rule, by_table
from capture.desk import Desk
from capture.entry import Envelope
from capture.errors import CaptureError
from capture.recompute import Recomputation
from capture.view import build as view_build
from capture.view import next_step, steps
from tests.paper import SPEC, Paper

DIGITS = [
    *("0.010", "0.0101", "0.011", "0.004", "-0.003", "0.030", "1.500"),
    *("19.980", "19.975", "0.7866", "0.78661", "199.80", "-19.980", "20.010", "57.1"),
    *("10.0", "10.2", "25.0", "25", "1.5", "0", "20", "19.98", "19.9801"),
]
PRESS = st.tuples(
    st.just("press"),
    st.sampled_from(["mic", "inch-mic", "bore", "bare-mic", "wrench", "nobody"]),
    st.sampled_from(DIGITS),
    st.sampled_from(["mm", "mm", "mm", "in", "N·m", "lbf·ft", "furlong"]),
    st.sampled_from([0, 1, 400, 1000, 2500]),
)
PARTS = st.sampled_from(["barrel", "plunger", "bolt", "ghost"])
NUMBERS = st.integers(0, 4)
STEPS = st.sampled_from(
    [
        *("wipe/1", "bores/1/top-a", "bores/2/bottom-b", "plungers/1", "plungers/3"),
        *("cover/2/snug", "turn/1", "none/1"),
    ]
)
ACT = st.tuples(
    st.just("act"),
    st.one_of(
        st.builds(c.Confirm, st.just("b7"), STEPS, st.just("")),
        st.builds(c.ChooseStep, st.just("b7"), STEPS | st.none()),
        st.builds(c.Rework, st.just("b7"), PARTS, NUMBERS, st.just("again")),
        st.builds(c.Scrap, st.just("b7"), PARTS, NUMBERS, st.just("cracked")),
        st.builds(
            c.Assign, st.just("b7"), PARTS, NUMBERS,
            st.sampled_from(["plunger-1", "plunger-3", "barrel-2", "P-9", " "]),
        ),
        st.builds(c.Concede, st.just("b7"), STEPS, st.just("agreed")),
        st.builds(c.Place, st.integers(8, 60), st.just("b7"), STEPS, st.just("mine")),
        st.builds(
            c.Correct, st.integers(8, 60), st.sampled_from(["19.980", "0.010", "x"]),
            st.sampled_from(["mm", "in", None]), st.just("misread"),
        ),
        st.builds(c.Void, st.integers(8, 60), st.just("slipped")),
        st.builds(
            c.SetGauge, st.just("bore"), st.just("ring"),
            st.sampled_from([Decimal("20.000"), Decimal("20.002")]),
            st.sampled_from(["mm", "in"]), st.just(Decimal("0.0005")), st.just(Decimal(2)),
        ),
        st.builds(c.ExpectZero, st.just("bore")),
        st.builds(c.CloseBuild, st.just("b7"), st.just("")),
    ),
)  # fmt: skip
DAY = st.lists(st.one_of(PRESS, PRESS, ACT), max_size=40)


REPEATED = SPEC.replace('nominal_size = "19.980"', 'nominal_size = "19.980"\nrepeats = 2')


def play(day: list[Any]) -> tuple[Paper, str]:
    """A day at the bench; days of an odd number of events are of a spec with repeats."""
    paper = Paper()
    build = paper.ready(REPEATED if len(day) % 2 else SPEC)
    for what, *details in day:
        if what == "act":
            command = details[0]
            if hasattr(command, "build"):
                command = command._replace(build=build)
            paper.now_ms += 10
            with contextlib.suppress(CaptureError):  # anything else fails the test
                paper.do(command)
        else:
            instrument, digits, unit, after = details
            paper.press(digits, instrument, unit, after_ms=after)
        paper.next_id(build)  # looking must change nothing
    return paper, build


@given(DAY)
def test_ways_decide_as_the_table_does(day: list[Any]) -> None:
    paper, _ = play(day)
    desk = Desk()
    waiting: dict[str, Any] | None = None
    for entry in paper.entries:
        if entry["kind"] == "press":
            at, mono = entry["at"], int(entry["mono"])
            arguments = (desk, entry["seq"], entry["body"], entry["boot"], at, mono)
            waiting = by_table(*arguments)
            assert by_rule(*arguments) == waiting
        elif waiting is not None:
            assert entry["body"] == waiting
            waiting = None
        desk.apply(entry)


@given(DAY)
def test_the_state_is_what_its_entries_fold_to(day: list[Any]) -> None:
    paper, build = play(day)
    anew = Desk()
    for entry in paper.entries:
        anew.apply(entry)
    for look in (view_build, steps, next_step):
        assert look(anew, build) == look(paper.desk, build)


@given(DAY)
def test_a_build_loaded_when_asked_for_is_the_same(day: list[Any]) -> None:
    paper, build = play(day)

    def loader(name: str) -> list[Envelope]:
        return [
            entry
            for entry in paper.entries
            if entry["kind"] == "decision" or entry["body"].get("build") == name
        ]

    anew = Desk(loader)
    for entry in paper.entries:
        body = entry["body"]
        if entry["kind"] != "press" and (body.get("by") != "rule" or "zero" in body):
            anew.apply(entry)
    for name, kept in anew.zeros.items():
        presses = [entry for entry in paper.entries if entry["kind"] == "press"]
        of_set = [one["seq"] for one in presses if one["body"]["instrument"] == name]
        anew.rejoin(name, [seq for seq in of_set if seq > kept.opened])
        for opened, until, earlier in anew.unclosed.get(name, ()):
            earlier.presses.extend(seq for seq in of_set if opened < seq < until)
    for look in (view_build, steps, next_step):
        assert look(anew, build) == look(paper.desk, build)


@given(DAY)
def test_what_people_asked_for_can_be_carried_out_again(day: list[Any]) -> None:
    paper, _ = play(day)
    found: list[str] = []
    again = Recomputation(lambda _seq, _code, message: found.append(message), paper.entry)
    for entry in paper.entries[1:]:
        again.add(entry)
    unlike = [one for one in found if "envelope" not in one and "first entry" not in one]
    assert unlike == []


@given(DAY)
def test_counts_and_next_step_agree_with_a_plain_look(day: list[Any]) -> None:
    paper, build = play(day)
    found = paper.desk.build(build)
    assert found.filled == sum(fill is not None for fill in found.fills)
    for work in found.works.values():
        own = found.fills[work.start : work.stop]
        assert work.filled == sum(fill is not None for fill in own)
    openings = [at for at in range(len(found.steps)) if found.is_open(at)]
    assert found.next_index() == (
        found.chosen if found.chosen in openings else min(openings, default=None)
    )
    answered = {fill.press for fill in found.fills if fill is not None and fill.press is not None}
    assert set(found.press_at) == answered


@given(st.decimals("0.7850", "0.7875", places=5))
def test_correcting_the_unit_gives_what_the_right_unit_would_have(inches: Decimal) -> None:
    text = format(inches, "f")
    one, two = Paper(), Paper()
    for paper in (one, two):
        build = paper.ready()
        paper.do(c.ChooseStep(build, "plungers/1"))
    slip = one.press(text, "bare-mic", "mm")
    assert slip["reason"]["code"] == "unit-slip"
    corrected = one.do(c.Correct(slip["press"], text, "in", "it was in inches"))["body"]
    right = two.press(text, "bare-mic", "in")
    assert corrected["verdict"] == right["verdict"]
    assert corrected["step"] == right["step"]
