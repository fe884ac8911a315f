"""What a drifted zero does to the readings of its set: each is decided again, marked.

The size stays as it was measured; what it says becomes *undecided*, with the drift in its notes, so
that it holds what comes after until the set is measured anew or a person accepts it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from capture.build import Build
from capture.derive import derived_results
from capture.desk import Desk
from capture.draft import Lookup
from capture.entry import Envelope
from capture.evaluate import Verdict
from capture.zero import drift_note, drift_of, undecided

Body = dict[str, Any]

LEFT_OUT = ("because", "act", "supersedes", "first_build", "idempotency", "zero")


def mark(body: Body, drift: Body) -> Body:
    """The decision with its verdict marked; what is derived with it is marked where it is made."""
    note = drift_note(drift)
    return {
        **body,
        "verdict": undecided(body["verdict"], note),
        "derived": [
            each
            if note in each["verdict"]["notes"]
            else {**each, "verdict": undecided(each["verdict"], note)}
            for each in body["derived"]
        ],
        "drift": drift,
    }


def marked(desk: Desk, lookup: Lookup, seq: int, drift: Body) -> tuple[Envelope, Body] | None:
    """The press and its decision made again with the mark; None where it no longer counts."""
    press, newest = lookup.entry(seq), lookup.decision(seq)
    if press is None or newest is None or newest["body"]["step"] is None:
        return None
    before = newest["body"]
    build = desk.build(before["build"])
    at = build.press_at.get(seq)
    if at is None or build.closed:
        return None
    step = build.steps[at]
    derived = []
    if build.rests_on(step.subject):
        derived = derived_results(build, step.subject, step.number, {}, desk.evaluator)
    body = {name: value for name, value in before.items() if name not in LEFT_OUT}
    body |= {
        "by": "zero",
        "step": build.placement(step),  # the piece may have moved since
        "verdict": _verdict(lookup, build, at, before["verdict"]),
        "derived": derived,
    }
    return press, mark(body, drift)


def _verdict(lookup: Lookup, build: Build, at: int, own: Verdict) -> Verdict:
    """The newest verdict on the point: of several repeats it is on all of them together."""
    fills = [build.fills[other] for other in build.repeats(at)]
    if len(fills) == 1 or None in fills:
        return own
    newest = max((fill for fill in fills if fill is not None), key=lambda fill: fill.seq)
    assert newest.press is not None
    decision = lookup.decision(newest.press)
    assert decision is not None
    verdict: Verdict = {**decision["body"]["verdict"], "this": own["this"]}
    return verdict


def all_marked(
    desk: Desk, lookup: Lookup, press: int, found: Body
) -> Iterator[tuple[Envelope, Body]]:
    """Every reading of the set that a zero check found drifted, one after the other: each must be
    folded in before the next is asked for."""
    drift = drift_of(press, found)
    for seq in found["presses"]:
        made = marked(desk, lookup, seq, drift)
        if made is not None:
            yield made
