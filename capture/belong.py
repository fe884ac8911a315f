"""Which numbers belong together: the bore of a cylinder, the piston in it, its two rod bolts.

A part's numbers count places of its position, ``per`` of them at each place. Parts of the same
position and place belong together; a part of another position belongs to every number if there is
one of it (the crank), and to none if there are several. A derived quantity is computed for every
number of its own part, from what belongs to that number.

=================  ============================================  ===============
part               compared with the derived quantity's part     its numbers
=================  ============================================  ===============
the same           or same position and as many at each place    the same number
same position      one at each place                             the place
same position      several at each place, but not as many        all at the place
another position   one in all                                    1
another position   several in all                                none
=================  ============================================  ===============
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from capture.spec.model import Derived, Part, Spec


def part_of(spec: Spec, name: str) -> str:
    """The part whose numbers a characteristic or derived quantity is counted by.

    A derived quantity that does not say is counted by the part with most numbers (the first such)
    of those it rests on. Raises KeyError for a name that is neither, ValueError for a derived
    quantity that rests on nothing.
    """
    one = spec.characteristics.get(name)
    if one is not None:
        return one.part
    derived = spec.derived[name]
    if derived.part:
        return derived.part
    if not derived.of:
        raise ValueError(f"{name} rests on no measured size: name one in it")
    return max((part_of(spec, each) for each in derived.of), key=lambda each: _count(spec, each))


def _count(spec: Spec, part: str) -> int:
    return spec.parts[part].count


def numbers(spec: Spec, derived: Derived) -> range:
    """The numbers a derived quantity is computed for: all of its part."""
    return range(1, _count(spec, part_of(spec, derived.id)) + 1)


def counterpart(spec: Spec, derived_part: str, number: int, part: str) -> range:
    """The numbers of ``part`` that belong to ``number`` of ``derived_part``: mostly one, in order;
    none where the part has no such place (see the table above)."""
    return _between(spec.parts[derived_part], number, spec.parts[part])


def _between(one: Part, number: int, other: Part) -> range:
    """The numbers of ``other`` that belong to a number of ``one``; the relation is symmetric
    unless ``one`` is a part of another position of which there are several."""
    if one.position != other.position:
        return range(1, 2 if other.count == 1 else 1)
    if one.per == other.per:
        first, last = number, number
    else:
        last = one.place(number) * other.per
        first = last - other.per + 1
    return range(first, min(last, other.count) + 1)


def concerned(spec: Spec, derived: Derived, part: str, number: int) -> range:
    """The numbers of a derived quantity that a size of ``part`` at ``number`` concerns: those it
    is a ``counterpart`` of."""
    own, other = spec.parts[part_of(spec, derived.id)], spec.parts[part]
    if own.position != other.position:
        return range(1, own.count + 1 if other.count == 1 else 1)
    return _between(other, number, own)


class _Ties:
    """What rests on what in one spec, worked out once."""

    def __init__(self, spec: Spec) -> None:
        self.spec = spec
        self.order = _inputs_first(spec.derived)
        self.dependents: dict[str, tuple[str, ...]] = {}


_KEPT_MOST: Final = 32
_kept: dict[int, _Ties] = {}


def _ties(spec: Spec) -> _Ties:
    """Kept by identity (a spec is immutable but cannot be hashed), as long as few specs are."""
    found = _kept.get(id(spec))
    if found is None:
        if len(_kept) >= _KEPT_MOST:
            _kept.clear()
        found = _kept[id(spec)] = _Ties(spec)
    return found


def _inputs_first(derived: Mapping[str, Derived]) -> tuple[str, ...]:
    found: dict[str, None] = {}
    left = dict(derived)
    while left:
        ready = [name for name, one in left.items() if not any(each in left for each in one.of)]
        if not ready:
            raise ValueError(f"derived quantities rest on each other: {', '.join(sorted(left))}")
        for name in ready:
            found[name] = None
            del left[name]
    return tuple(found)


def in_order(spec: Spec) -> tuple[str, ...]:
    """Ids of all derived quantities, what they rest on first. Raises ValueError for a circle."""
    return _ties(spec).order


def dependents(spec: Spec, name: str) -> tuple[str, ...]:
    """Ids of the derived quantities that rest on a characteristic or derived quantity, directly or
    through others, what they rest on first."""
    ties = _ties(spec)
    found = ties.dependents.get(name)
    if found is None:
        resting = {name}
        for each in ties.order:
            if not resting.isdisjoint(spec.derived[each].of):
                resting.add(each)
        found = tuple(each for each in ties.order if each in resting and each != name)
        ties.dependents[name] = found
    return found


def affected(spec: Spec, name: str, number: int) -> tuple[tuple[str, int], ...]:
    """Every (derived quantity, number) that a size or result of ``name`` at ``number`` of its own
    part goes into, directly or through others, what they rest on first."""
    reached = {name: {number}}
    for each in dependents(spec, name):
        derived = spec.derived[each]
        reached[each] = {
            at
            for source in derived.of
            for there in reached.get(source, ())
            for at in concerned(spec, derived, part_of(spec, source), there)
        }
    del reached[name]
    return tuple((each, at) for each, found in reached.items() for at in sorted(found))
