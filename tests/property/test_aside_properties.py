"""Whatever is done to a build, what counts in it follows from the decisions that count alone."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from capture import command as c
from capture.charts.gather import gathered
from capture.entry import Envelope
from capture.errors import CaptureError
from capture.evaluate import measured_of
from capture.inquiry.aside import aside
from tests.paper import SPEC, Paper

TWO = SPEC.replace('axes = ["a", "b"]\n', "").replace("count = 3", "count = 2")
"""The pump with two barrels, each measured at two depths."""
ACTS = frozenset({"close", "confirmation", "assign", "rework", "concession", "scrap", "fit"})
NUMBER = st.integers(1, 2)
PART = st.sampled_from(["barrel", "plunger"])
PIECE = st.sampled_from(["P1", "P2", "P3"])
STEP = st.sampled_from(["bores/1/top", "bores/2/bottom", "plungers/1", "plungers/2"])
DOES = st.one_of(
    st.tuples(st.just("bore"), st.sampled_from(["0.009", "0.010", "0.012"])),
    st.tuples(st.just("mic"), st.sampled_from(["19.979", "19.980", "19.985"])),
    st.tuples(st.just("void"), st.integers(0, 9)),
    st.tuples(st.just("correct"), st.integers(0, 9)),
    st.tuples(st.just("place"), st.integers(0, 9), STEP),
    st.tuples(st.just("rework"), PART, NUMBER),
    st.tuples(st.just("scrap"), PART, NUMBER),
    st.tuples(st.just("assign"), PART, NUMBER, PIECE),
)


def carry_out(paper: Paper, build: str, does: tuple[Any, ...]) -> None:
    what, *more = does
    presses = [entry["seq"] for entry in paper.entries if entry["kind"] == "press"]
    if what in ("bore", "mic"):
        paper.press(more[0], what)
    elif what in ("void", "correct", "place"):
        if not presses:
            return
        seq = presses[more[0] % len(presses)]
        if what == "void":
            paper.do(c.Void(seq, "Because."))
        elif what == "place":
            paper.do(c.Place(seq, build, more[1], "Because."))
        else:
            press = paper.entry(seq)
            assert press is not None
            digits = "0.011" if press["body"]["instrument"] == "bore" else "19.981"
            paper.do(c.Correct(seq, digits, None, "Because."))
    else:
        commands: dict[str, Any] = {"rework": c.Rework, "scrap": c.Scrap, "assign": c.Assign}
        last = more[2] if what == "assign" else "Because."
        paper.do(commands[what](build, more[0], more[1], last))


def counted(paper: Paper, build: str) -> list[Envelope]:
    """As ``Archive.counted_of_build``: of each reading that stands in the build the newest
    decision, and the build's own records."""
    stands: dict[int, str | None] = {}
    newest: dict[int, Envelope] = {}
    for entry in paper.entries:
        body = entry["body"]
        if entry["kind"] == "decision":
            stands[body["press"]] = body["build"] or stands.get(body["press"])
            newest[body["press"]] = entry
    found = [entry for press, entry in newest.items() if stands[press] == build]
    found += [e for e in paper.entries if e["kind"] in ACTS and e["body"]["build"] == build]
    return sorted(found, key=lambda entry: int(entry["seq"]))


@settings(max_examples=60, deadline=None)
@given(st.lists(DOES, max_size=25))
def test_what_counts_follows_from_the_decisions_that_count(doings: list[tuple[Any, ...]]) -> None:
    paper = Paper()
    build = paper.ready(TWO)
    paper.bores("0.010", "0.011", "0.010", "0.012")
    for digits in ("19.980", "19.981"):
        paper.press(digits)
    for does in doings:
        with suppress(CaptureError):
            carry_out(paper, build, does)
    card = paper.desk.cards[build]
    whole = paper.desk.build(build)
    desk = aside(card, paper.desk.specs[card.spec], counted(paper, build))
    assert [fill and fill.press for fill in desk.build(build).fills] == [
        fill and fill.press for fill in whole.fills
    ]
    found = gathered(card, desk.build(build))
    assert found == gathered(card, whole)
    # and what is derived is what the bench has on record
    recorded = {key: measured_of(fill.verdict) for key, fill in whole.derived.items()}
    for name in whole.spec.derived:
        for one in found.whole[name].values if name in found.whole else ():
            assert recorded[name, one.number] == one.value
