"""What a build has measured, whole: the values of a quantity that count, and what they came from.

Only placed readings that answer a step now: what was voided, and earlier passes, is no longer
there. A quantity is *whole* in a build once it is there at every number and every point.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from typing import NamedTuple

from capture import shapes
from capture.belong import counterpart, part_of
from capture.build import Build, Fill
from capture.derivation import Derivation
from capture.desk import Card
from capture.evaluate import measured_of
from capture.quantity import Number, plain
from capture.spec.model import Characteristic, Derived, Limits, TurningTest


class Sort(StrEnum):
    """What a quantity is."""

    CHARACTERISTIC = "characteristic"
    DERIVED = "derived"
    TURNING = "turning"


class Value(NamedTuple):
    """One value of a quantity in a build."""

    number: int
    point: str
    value: Number
    presses: tuple[int, ...]
    """Of its repeats; empty for what is derived."""
    entry: int
    """Seq of the entry that decided; of what is derived, the newest that it rests on."""


class Measured(NamedTuple):
    """A quantity that is whole in a build."""

    title: str
    sort: Sort
    unit: str
    position: str
    """What its numbers count: ``cylinder``."""
    numbers: int
    points: int
    lower: str | None
    """Limits of size, as the spec has them; None also where they follow from another size."""
    upper: str | None
    follows: str
    """The size that the limits follow from; empty where they stand in the spec."""
    values: tuple[Value, ...]
    """By number, then point."""


class Gathered(NamedTuple):
    """A build and what is whole in it."""

    build: str
    title: str
    opened_at: str
    spec: str
    revision: str
    whole: dict[str, Measured]
    begun: frozenset[str]
    """Quantities that have some of their values, and not all."""


def gathered(card: Card, build: Build) -> Gathered:
    """Every quantity of the build's spec that is whole in it."""
    spec, whole, begun = build.spec, dict[str, Measured](), set[str]()
    for name, said, values in _all(build):
        if None not in values:
            whole[name] = said._replace(values=tuple(one for one in values if one is not None))
        elif any(values):
            begun.add(name)
    return Gathered(
        card.id, card.title, card.opened_at, card.spec, spec.revision, whole, frozenset(begun)
    )


def _all(build: Build) -> Iterator[tuple[str, Measured, list[Value | None]]]:
    spec = build.spec
    sizes: dict[str, list[Value | None]] = {}
    for name, one in spec.characteristics.items():
        if build.works_of(name):
            sizes[name] = _sizes(build, one)
            yield name, _said_of_size(build, one), sizes[name]
    derivation = Derivation(build, {})
    for name, derived in spec.derived.items():
        said = _said_of_derived(build, derived)
        numbers = range(1, said.numbers + 1)
        yield name, said, [_derived(derivation, derived, number, sizes) for number in numbers]
    for name, test in spec.turning_tests.items():
        if name not in spec.characteristics and name not in spec.derived and build.works_of(name):
            yield name, _said_of_turning(build, test), _turned(build, name)


def _said_of_size(build: Build, one: Characteristic) -> Measured:
    part = build.spec.parts[one.part]
    follows = "" if one.factors is None else one.factors.of
    lower, upper = _ends(one.limits, known=not follows)
    return Measured(
        one.title, Sort.CHARACTERISTIC, one.unit, part.position, part.count, len(one.points),
        lower, upper, follows, (),
    )  # fmt: skip


def _said_of_derived(build: Build, one: Derived) -> Measured:
    part = build.spec.parts[part_of(build.spec, one.id)]
    lower, upper = _ends(one.limits)
    return Measured(
        one.title, Sort.DERIVED, one.unit, part.position, part.count, 1, lower, upper, "", ()
    )


def _said_of_turning(build: Build, one: TurningTest) -> Measured:
    part = build.spec.parts[one.part] if one.part else None
    lower, upper = _ends(one.limits)
    count, position = (1, "") if part is None else (part.count, part.position)
    return Measured(one.title, Sort.TURNING, one.unit, position, count, 1, lower, upper, "", ())


def _ends(limits: Limits, *, known: bool = True) -> tuple[str | None, str | None]:
    return (plain(limits.lower), plain(limits.upper)) if known else (None, None)


def _sizes(build: Build, one: Characteristic) -> list[Value | None]:
    """From the last operation that has measured a number whole (see ``capture.sized``)."""
    count, per = build.spec.parts[one.part].count, len(one.points) * one.repeats
    found: list[Value | None] = []
    for number in range(1, count + 1):
        best: list[Value | None] = [None] * len(one.points)
        for work in reversed(build.works_of(one.id)):
            start = work.start + (number - 1) * per
            if start >= work.stop:
                continue
            here = [_point(build, at, one.repeats) for at in range(start, start + per, one.repeats)]
            if None not in here:
                best = here
                break
            best = best if any(best) else here
        found += best
    return found


def _point(build: Build, at: int, repeats: int) -> Value | None:
    """The size at one point: the mean of its repeats."""
    fills = [fill for fill in build.fills[at : at + repeats] if fill is not None]
    values = [size for fill in fills if (size := _size(fill)) is not None]
    if len(values) < repeats:
        return None
    step = build.steps[at]
    presses = tuple(fill.press for fill in fills if fill.press is not None)
    value = values[0] if repeats == 1 else shapes.mean(values)
    return Value(step.number, step.point, value, presses, max(fill.seq for fill in fills))


def _size(fill: Fill) -> Number | None:
    """Of a bracket its middle; a bracket with one end gives no size."""
    if fill.bracket is None:
        return fill.value
    ends = [end for end in fill.bracket if end is not None]
    return shapes.mean(ends) if len(ends) == len(fill.bracket) else None


Sizes = Mapping[str, list[Value | None]]
"""Those of a build by characteristic, as ``_sizes`` gives them."""


def _derived(derivation: Derivation, one: Derived, number: int, sizes: Sizes) -> Value | None:
    """As it was decided, where that is newer than every size it rests on; else derived from them
    again, for what was decided before one of them was voided is not so any more."""
    build = derivation.build
    newest = _newest_under(build, one, number, sizes)
    if newest is None:
        return None
    fill = build.derived.get((one.id, number))
    if fill is not None and fill.seq >= newest:
        return Value(number, "", measured_of(fill.verdict), (), newest)
    found = derivation.value(one, number)
    return None if found is None else Value(number, "", found.value, (), newest)


def _newest_under(build: Build, one: Derived, number: int, sizes: Sizes) -> int | None:
    """Seq of the newest entry that decided on a size that goes into a derived quantity at a number;
    None where a size is missing."""
    part, newest = part_of(build.spec, one.id), build.seq
    for name in one.of:
        for at in counterpart(build.spec, part, number, part_of(build.spec, name)):
            derived = build.spec.derived.get(name)
            if derived is not None:
                under = _newest_under(build, derived, at, sizes)
            else:
                under = _newest_size(build.spec.characteristics[name], at, sizes.get(name, []))
            if under is None:
                return None
            newest = max(newest, under)
    return newest


def _newest_size(one: Characteristic, number: int, sizes: list[Value | None]) -> int | None:
    points = len(one.points)
    here = sizes[(number - 1) * points : number * points]
    entries = [size.entry for size in here if size is not None]
    return max(entries) if len(entries) == points else None


def _turned(build: Build, name: str) -> list[Value | None]:
    """Of the last operation that makes the test."""
    work = build.works_of(name)[-1]
    return [_point(build, at, 1) for at in range(work.start, work.stop)]
