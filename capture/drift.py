"""What a drifted zero does to the readings of its set: each is decided again, marked.

The size stays as it was measured; what it says becomes *undecided*, with the drift in its notes, so
that it holds what comes after until the set is measured anew or a person accepts it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from capture.derive import derived_results
from capture.desk import Desk
from capture.draft import Lookup
from capture.entry import Envelope
from capture.evaluate import Verdict

Body = dict[str, Any]

LEFT_OUT = ("because", "act", "supersedes", "first_build", "idempotency", "zero")


def of_check(press: int, found: Body) -> Body:
    """What is put down in a marked decision of the zero check (its press) that found the drift."""
    return {name: found[name] for name in ("drift", "unit", "expanded_uncertainty")} | {
        "zero": press
    }


def mark(body: Body, drift: Body) -> Body:
    """The decision, its verdict and what is derived with it marked."""
    return {
        **body,
        "verdict": _undecided(body["verdict"], drift),
        "derived": [
            {**each, "verdict": _undecided(each["verdict"], drift)} for each in body["derived"]
        ],
        "drift": drift,
    }


def _undecided(verdict: Verdict, drift: Body) -> Verdict:
    note = (
        f"the gauge's zero moved by {drift['drift']} {drift['unit']} over this set, beyond "
        f"U = {drift['expanded_uncertainty']} {drift['unit']} (reading {drift['zero']})"
    )
    evaluated = verdict["result"] != "not_evaluated"
    return {
        **verdict,
        "result": "undecided" if evaluated else "not_evaluated",
        "notes": [*verdict["notes"], note],
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
    return press, mark({**body, "by": "zero", "derived": derived}, drift)


def all_marked(
    desk: Desk, lookup: Lookup, press: int, found: Body
) -> Iterator[tuple[Envelope, Body]]:
    """Every reading of the set that a zero check found drifted, one after the other: each must be
    folded in before the next is asked for."""
    drift = of_check(press, found)
    for seq in found["presses"]:
        made = marked(desk, lookup, seq, drift)
        if made is not None:
            yield made
