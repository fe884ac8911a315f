"""What pages call the places of a spec: words where there are words, never a bare id."""

from __future__ import annotations

import pytest

from api.placed import Places
from capture.spec.load import load
from tests.unit.twin import SPEC

TWIN = load(SPEC.encode(), "twin.toml")


@pytest.mark.parametrize(
    ("subject", "said"),
    [
        ("measure-bore", "Cylinder bore"),
        ("bore", "Cylinder bore"),
        ("measure-ring-gap/2", "Top ring end gap, Top ring 2"),
        ("measure-block-temperature/1", "Block temperature, Block"),  # there is but one
        ("tighten-rod-bolts/3/snug", "Rod bolts, Rod bolt 3, Snug"),
        ("confirm-piston-in/1", "Piston in, Piston 1"),
        ("turn-turns/2", "Turning torque, Piston 2"),
        ("zero-before/1", "Bore gauge on its ring"),
        ("piston-clearance/2", "Piston clearance, Cylinder 2"),
        ("of-a-newer-store/1", "of-a-newer-store/1"),
        ("", ""),
    ],
)
def test_a_place_is_told_by_the_titles_of_its_spec(subject: str, said: str) -> None:
    assert Places(TWIN).of(subject) == said


def test_every_step_has_words_of_its_own() -> None:
    from capture.step import steps_of

    places = Places(TWIN)
    steps = [step for _, some in steps_of(TWIN) for step in some]
    for step in steps:
        said = places.of(step.id)
        assert "/" not in said, step.id
        assert said.endswith(places.rest(step.id)), step.id
    # the two zero checks are the same in words: they are told apart by when
    assert len({places.of(step.id) for step in steps}) == len(steps) - 1
    assert places.all(["measure-bore", "measure-bore", "turn-turns"]) == (
        "Cylinder bore, Turning torque"
    )
