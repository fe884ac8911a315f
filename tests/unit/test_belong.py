"""Which numbers belong together, on an invented four-cylinder engine."""

from __future__ import annotations

from dataclasses import replace

import pytest

from capture.belong import affected, concerned, counterpart, dependents, in_order, numbers, part_of
from capture.spec.model import Quantity, Spec
from tests.invented import derived, part, size, spec

PARTS = (
    part("cylinder", 4),
    part("piston", 4, "cylinder"),
    part("rod-bolt", 8, "cylinder", per=2),
    part("ring", 12, "cylinder", per=3),
    part("journal", 5, "main"),
    part("crank", 1),
)
SIZES = (
    size("bore", "cylinder"),
    size("skirt", "piston"),
    size("stretch", "rod-bolt"),
    size("gap", "ring"),
    size("main", "journal"),
    size("end", "crank"),
)
RESULTS = (
    # what others rest on stands last in the file, to see that the order is not the file's
    derived("ratio", Quantity.FORMULA, ("room", "gap")),
    derived("evenness", Quantity.FORMULA, ("stretch", "bore")),
    derived("float", Quantity.FORMULA, ("main", "end")),
    derived("room", Quantity.CLEARANCE, ("bore", "skirt")),
)
ENGINE = spec(PARTS, SIZES, RESULTS)


@pytest.mark.parametrize(
    ("of", "number", "other", "expected"),
    [
        ("cylinder", 3, "cylinder", [3]),
        ("cylinder", 3, "piston", [3]),
        ("rod-bolt", 1, "piston", [1]),
        ("rod-bolt", 2, "piston", [1]),
        ("rod-bolt", 7, "piston", [4]),
        ("rod-bolt", 7, "rod-bolt", [7]),
        ("piston", 2, "rod-bolt", [3, 4]),
        ("piston", 2, "ring", [4, 5, 6]),
        ("rod-bolt", 3, "ring", [4, 5, 6]),
        ("ring", 6, "rod-bolt", [3, 4]),
        ("journal", 5, "cylinder", []),
        ("cylinder", 4, "crank", [1]),
        ("journal", 5, "crank", [1]),
        ("crank", 1, "journal", []),
    ],
)
def test_counterpart(of: str, number: int, other: str, expected: list[int]) -> None:
    assert list(counterpart(ENGINE, of, number, other)) == expected


def test_a_place_that_has_no_such_part_gives_none() -> None:
    parts = (part("cylinder", 4), part("piston", 3, "cylinder"), part("pin", 5, "cylinder", per=2))
    engine = spec(parts, ())
    assert list(counterpart(engine, "cylinder", 4, "piston")) == []
    assert list(counterpart(engine, "cylinder", 3, "pin")) == [5]
    assert list(counterpart(engine, "cylinder", 4, "pin")) == []


def test_a_derived_quantity_is_counted_by_the_part_with_most_numbers() -> None:
    assert {name: part_of(ENGINE, name) for name in ENGINE.derived} == {
        "ratio": "ring",
        "evenness": "rod-bolt",
        "float": "journal",
        "room": "cylinder",
    }
    assert part_of(ENGINE, "bore") == "cylinder"
    assert list(numbers(ENGINE, ENGINE.derived["room"])) == [1, 2, 3, 4]
    assert len(numbers(ENGINE, ENGINE.derived["ratio"])) == 12


def test_the_part_it_says_goes_before() -> None:
    said = replace(ENGINE.derived["evenness"], part="cylinder")
    engine = spec(PARTS, SIZES, [said])
    assert part_of(engine, "evenness") == "cylinder"
    assert list(concerned(engine, said, "rod-bolt", 4)) == [2]


def test_a_derived_quantity_of_nothing_measured_is_an_error() -> None:
    with pytest.raises(ValueError, match="rests on no measured size"):
        part_of(spec(PARTS, SIZES, [derived("odd", Quantity.FORMULA, ())]), "odd")


def test_what_a_size_concerns() -> None:
    results = ENGINE.derived
    assert list(concerned(ENGINE, results["room"], "piston", 3)) == [3]
    assert list(concerned(ENGINE, results["evenness"], "cylinder", 3)) == [5, 6]
    assert list(concerned(ENGINE, results["float"], "crank", 1)) == [1, 2, 3, 4, 5]
    assert list(concerned(ENGINE, results["room"], "journal", 1)) == []


def test_inputs_come_before_what_rests_on_them() -> None:
    assert in_order(ENGINE) == ("evenness", "float", "room", "ratio")
    assert dependents(ENGINE, "bore") == ("evenness", "room", "ratio")
    assert dependents(ENGINE, "room") == ("ratio",)
    assert dependents(ENGINE, "ratio") == ()


def test_a_circle_is_an_error() -> None:
    circle = (
        derived("one", Quantity.FORMULA, ("two",)),
        derived("two", Quantity.FORMULA, ("one", "bore")),
    )
    with pytest.raises(ValueError, match="rest on each other: one, two"):
        in_order(spec(PARTS, SIZES, circle))


def test_one_size_reaches_through_a_derived_quantity() -> None:
    assert affected(ENGINE, "skirt", 2) == (("room", 2), ("ratio", 4), ("ratio", 5), ("ratio", 6))
    assert affected(ENGINE, "bore", 1)[:2] == (("evenness", 1), ("evenness", 2))
    assert affected(ENGINE, "room", 4) == (("ratio", 10), ("ratio", 11), ("ratio", 12))
    assert affected(ENGINE, "end", 1) == tuple(("float", n) for n in range(1, 6))
    assert affected(ENGINE, "gap", 5) == (("ratio", 5),)


def test_many_specs_are_not_mixed_up() -> None:
    engines: list[Spec] = []
    for count in range(1, 80):
        chain = [derived("d0", Quantity.MEAN, ("bore",))]
        chain += [derived(f"d{n}", Quantity.FORMULA, (f"d{n - 1}",)) for n in range(1, count)]
        engines.append(spec(PARTS, SIZES, chain))
    for count, engine in enumerate(engines, start=1):
        assert len(dependents(engine, "bore")) == count
