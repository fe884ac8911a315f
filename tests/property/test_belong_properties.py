"""What belongs together does so from both sides, whatever the engine."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from capture.belong import affected, concerned, counterpart, numbers, part_of
from capture.spec.model import Part, Quantity, Spec
from tests.invented import derived, part, size, spec


@st.composite
def engines(draw: st.DrawFn) -> Spec:
    parts = []
    for index in range(draw(st.integers(1, 4))):
        position = draw(st.sampled_from(["cylinder", "main", ""]))
        parts.append(part(f"p{index}", draw(st.integers(1, 9)), position, draw(st.integers(1, 3))))
    sizes = [size(f"s{index}", one.id) for index, one in enumerate(parts)]
    names = [one.id for one in sizes]
    results = []
    for index in range(draw(st.integers(1, 4))):
        of = draw(st.lists(st.sampled_from(names), min_size=1, max_size=3, unique=True))
        results.append(derived(f"d{index}", Quantity.FORMULA, of))
        names.append(f"d{index}")
    return spec(parts, sizes, results)


def places(one: Part) -> dict[int, tuple[str, int]]:
    """Number → (position, place), by laying the parts out one after the other."""
    found, number, place = {}, 0, 0
    while number < one.count:
        place += 1
        for _ in range(one.per):
            number += 1
            if number <= one.count:
                found[number] = (one.position, place)
    return found


def belong(one: Part, number: int, other: Part, its: int) -> bool:
    """The rule said over again."""
    here, there = places(one)[number], places(other)[its]
    if here[0] != there[0]:
        return other.count == 1
    return number == its if one.per == other.per else here == there


@given(engines())
def test_counterpart_is_the_rule(engine: Spec) -> None:
    for one in engine.parts.values():
        for number in places(one):
            for other in engine.parts.values():
                found = counterpart(engine, one.id, number, other.id)
                assert list(found) == [n for n in places(other) if belong(one, number, other, n)]


@given(engines())
def test_a_size_concerns_the_numbers_it_is_a_counterpart_of(engine: Spec) -> None:
    for result in engine.derived.values():
        own = part_of(engine, result.id)
        for other in engine.parts.values():
            for number in places(other):
                assert list(concerned(engine, result, other.id, number)) == [
                    m
                    for m in numbers(engine, result)
                    if number in counterpart(engine, own, m, other.id)
                ]


def reached(engine: Spec, name: str, number: int) -> set[tuple[str, int]]:
    """What is reached from the other side: by asking every result what it is computed from."""

    def rests(result: str, at: int) -> bool:
        for source in engine.derived[result].of:
            for there in counterpart(engine, part_of(engine, result), at, part_of(engine, source)):
                if (source, there) == (name, number):
                    return True
                if source in engine.derived and rests(source, there):
                    return True
        return False

    return {
        (result.id, at)
        for result in engine.derived.values()
        for at in numbers(engine, result)
        if rests(result.id, at)
    }


@given(engines())
def test_affected_is_everything_that_rests_on_it_inputs_first(engine: Spec) -> None:
    for one in engine.characteristics.values():
        for number in places(engine.parts[one.part]):
            found = affected(engine, one.id, number)
            assert set(found) == reached(engine, one.id, number)
            assert len(set(found)) == len(found)
            ranks = [list(engine.derived).index(name) for name, _ in found]
            for at, rank in enumerate(ranks):
                of = engine.derived[found[at][0]].of
                assert not any(
                    list(engine.derived)[later] in of for later in ranks[at + 1 :] if later != rank
                )
