"""Explanations of binary messages: where the number is, and its sign and unit beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from capture.errors import UnitError
from capture.quantity import convert
from drivers.learn.beside import Mark, marks, states
from drivers.learn.numbers import Place, places
from drivers.learn.own_digits import MANY, by_fives
from drivers.learn.press import Press, known_places
from drivers.learn.scale import Count, Scaling, Worth, as_stated, scalings

_FEW = 400
"""Counts at the largest size that are too few for a gauge."""
_SPARE = 4
"""How many times the largest press a number's changing bytes must hold to be all of it."""
_CLOSER = 5.0
"""How much closer a scale of any worth must fit than a plain one to be taken in its place."""


@dataclass(frozen=True, slots=True)
class BinaryReading:
    """One explanation of binary messages."""

    place: Place
    scaling: Scaling
    sign: Mark | None
    unit: Mark | None
    doubts: tuple[str, ...] = ()

    def varying(self, messages: Sequence[bytes]) -> frozenset[int]:
        """The half bytes of the number that change from press to press."""
        spare = self.place.spare
        changed = dict.fromkeys(self.place.bytes_used, 0)
        for at in changed:
            for message in messages:
                changed[at] |= message[at] ^ messages[0][at]
            changed[at] &= ~spare.get(at, 0)
        high = {2 * at for at, bits in changed.items() if bits & 0xF0}
        return frozenset(high | {2 * at + 1 for at, bits in changed.items() if bits & 0x0F})


def explanations(
    messages: Sequence[bytes], presses: Sequence[Press], check: range, slack: int
) -> list[BinaryReading]:
    """Every explanation that fits all presses, the one of the most bytes first. ``check``: the
    bytes that are a check, which nothing else is read from."""
    found: list[BinaryReading] = []
    for place, counts in places(messages):
        if set(place.bytes_used) & set(check):
            continue
        alike = _ends_alike(counts, presses) if place.way in ("packed", "unpacked") else None
        if alike is not None and alike >= MANY:
            continue
        if place.way == "float":
            options = _float_scalings(counts, presses)
        else:
            options = scalings(counts, presses, place.signed, slack)
        for scaling in options:
            found += _beside(messages, presses, place, as_stated(scaling, presses), check)
    # a worth that is no power of ten lets a still byte be taken for a number's lowest
    found = [r for r in found if not _counted(r) or _lively(r, messages)] or found
    plain = [m for m, press in zip(messages, presses, strict=True) if press.switched is None]
    found = _without_noughts(_near_enough(found, messages), plain, presses)
    kept = _without_parts(found, messages)
    return [_doubted(reading, messages, presses) for reading in kept]


def _lively(reading: BinaryReading, messages: Sequence[bytes]) -> bool:
    """Whether its lowest byte says more than two things."""
    return len({message[reading.place.low] for message in messages}) > 2


def _near_enough(found: list[BinaryReading], messages: Sequence[bytes]) -> list[BinaryReading]:
    """Without scales that may be anything where a plain one fits as closely: a counter behind the
    number, taken for its lowest byte, fits too. And without plain ones that fit only because they
    are coarse."""
    plain = [reading for reading in found if not _counted(reading)]
    counted = [reading for reading in found if _counted(reading)]
    kept = [
        reading
        for reading in counted
        if not any(_better(one, reading, messages) for one in (*plain, *counted))
    ]
    best = min((reading.scaling.near for reading in kept), default=1.0)
    return [one for one in plain if one.scaling.near < best * _CLOSER * _CLOSER] + kept


def _better(one: BinaryReading, other: BinaryReading, messages: Sequence[bytes]) -> bool:
    """Whether ``one`` is to be preferred to ``other``, whose scale may be anything."""
    if one.scaling.near < other.scaling.near * _CLOSER:
        if not _counted(one):
            return True
        return (
            set(one.place.bytes_used) < set(other.place.bytes_used)
            and one.place.order == other.place.order
            and _low(one.place) != _low(other.place)
        )
    if _counted(one) or other.scaling.off * _CLOSER < one.scaling.off:
        return False
    extra = set(other.place.bytes_used) - set(one.place.bytes_used)
    counts = [one.place.count(message) for message in messages]
    coarse = max(abs(count.value) for count in counts if count is not None) < _FEW
    return all(_runs(messages, at) for at in extra) or not (coarse and _coarse(one.scaling.base))


def _coarse(worth: Worth) -> bool:
    """Whether a count is a whole unit, or twos or fives of a place."""
    return worth.factor is not None or worth.places == 0


def _runs(messages: Sequence[bytes], at: int) -> bool:
    """Whether a byte only rises or only falls, as counters, clocks and batteries do."""
    steps = [(after[at] - before[at]) & 0xFF for before, after in pairwise(messages)]
    return all(step < 128 for step in steps) or all(step > 128 or not step for step in steps)


def _without_noughts(
    found: list[BinaryReading], messages: Sequence[bytes], presses: Sequence[Press]
) -> list[BinaryReading]:
    """Without decimal digits whose lowest byte never changes, where the digits before it fit
    alone and show that they are the last."""
    fine = [
        reading
        for reading in found
        if reading.place.way in ("packed", "unpacked")
        and not _still_end(reading, messages)
        and (reading.scaling.base.places or 0) >= known_places(presses, reading.scaling.base.unit)
        and sum(1 for m in messages if (c := reading.place.count(m)) and c.value % 10) > 1
    ]
    return [
        reading for reading in found if not any(_longer(reading, one, messages) for one in fine)
    ]


def _longer(reading: BinaryReading, fine: BinaryReading, messages: Sequence[bytes]) -> bool:
    """Whether ``reading`` is ``fine`` with digits behind that say nothing: noughts, or one of two
    numbers whatever the size."""
    if fine.place.way != reading.place.way or fine.place.order != reading.place.order:
        return False
    if _still_end(reading, messages) and fine.varying(messages) >= reading.varying(messages):
        return True
    more = (reading.scaling.base.places or 0) - (fine.scaling.base.places or 0)
    if more < 4 or not set(fine.place.bytes_used) <= set(reading.place.bytes_used):
        return False
    counts = [reading.place.count(message) for message in messages]
    return len({abs(count.value) % 10**more for count in counts if count}) <= 2


def _counted(reading: BinaryReading) -> bool:
    """Whether a count is worth neither 1, 2 nor 5 of a decimal place."""
    worth = reading.scaling.base
    return worth.factor is not None and worth.places is None


def _ends_alike(counts: Sequence[Count | None], presses: Sequence[Press]) -> int | None:
    """How many presses say that the last digits are always the same, and no noughts: they are not
    the number's then. None where they change, or are noughts."""
    first = [
        abs(count.value)
        for count, press in zip(counts, presses, strict=True)
        if press.switched is None and count is not None
    ]
    for place in (10, 100):
        ends = {value % place for value in first}
        if len(ends) == 1 and ends != {0}:
            return 0 if by_fives(str(ends.pop())) else len(first)
    return None


def _still_end(reading: BinaryReading, messages: Sequence[bytes]) -> bool:
    """Whether the last decimal digits, a byte of them, are always noughts."""
    place = reading.place
    if place.way not in ("packed", "unpacked"):
        return False
    whole = place.way == "packed" and not place.skip[1] and place.sign != "last"
    counts = [place.count(message) for message in messages]
    return all(count.value % (100 if whole else 10) == 0 for count in counts if count)


def _doubted(
    reading: BinaryReading, messages: Sequence[bytes], presses: Sequence[Press]
) -> BinaryReading:
    """The reading with what the presses cannot tell about it."""
    counts = [reading.place.count(message) for message in messages]
    alike = reading.place.way in ("packed", "unpacked") and _ends_alike(counts, presses) is not None
    if alike and reading.scaling.off:
        return with_doubt(
            reading, "the last digit was the same in every message: it may say something else"
        )
    if _still_end(reading, messages):
        return with_doubt(
            reading,
            f"byte {reading.place.low}, which may hold the last digits, never changed: press at a "
            "size that is not round",
        )
    if (
        reading.place.way == "integer"
        and _coarse(reading.scaling.base)
        and max(abs(count.value) for count in counts if count is not None) < _FEW
    ):
        return with_doubt(
            reading, "the counts are few for the size: a finer byte may stand beside them"
        )
    return reading


def _float_scalings(counts: Sequence[Count], presses: Sequence[Press]) -> list[Scaling]:
    """Floats are the size itself, in the first unit or in the switched one."""
    first = next((press.unit for press in presses if press.unit), None)
    if first is None:
        return []
    turned = next((press.switched for press in presses if press.switched), None)
    found = []
    for base in dict.fromkeys([first, *({"mm": ["in"], "in": ["mm"]}.get(first, []))]):
        for follows in (False, True) if turned and turned != base else (False,):
            bits = _near(counts, presses, base, turned if follows else None)
            if bits:
                one = Worth(base, None, sent=True)
                two = Worth(turned, None, sent=True) if follows and turned else one
                found.append(Scaling(one, two if turned else None, follows, bits))
    return found


def _near(
    counts: Sequence[Count], presses: Sequence[Press], base: str, switched: str | None
) -> float:
    """Evidence that the floats are the sizes; 0 where they are not."""
    pairs = [
        (Worth("", None).size(count), press.at(switched if switched and press.switched else base))
        for count, press in zip(counts, presses, strict=True)
        if press.unit
    ]
    span = max((abs(size) for _, size in pairs), default=Fraction(0))
    sizes = {size for _, size in pairs if size}
    if len(sizes) < 2:
        return 0
    for value, size in pairs:
        if abs(value - size) > max(abs(size) / 50, span / 150):
            return 0
    return 12.0 * len(sizes)


def _beside(
    messages: Sequence[bytes],
    presses: Sequence[Press],
    place: Place,
    scaling: Scaling,
    check: range,
) -> list[BinaryReading]:
    """The reading with its sign and unit found; nothing where they cannot be."""
    negative, switched = states(presses)
    used = {*place.bytes_used, *check, *_copies(messages, place)}
    signs: list[Mark | None] = [None]
    if not place.signed and True in negative:
        signs = [*marks(messages, negative, switched, used, place.spare)]
    units: list[Mark | None] = [None]
    if scaling.follows:
        # a number that has its sign in it has none beside it
        others = [None] * len(messages) if place.signed else negative
        units = [*marks(messages, switched, others, used, place.spare)]
        telling = [unit for unit in units if unit and not _says_places(messages, unit, scaling)]
        pure = any(unit.pure for unit in units if unit)
        units = [*telling] if any(unit.pure or not pure for unit in telling) else units
    found = []
    for sign in signs:
        for unit in units:
            if sign and unit and sign.at == unit.at and sign.mask & unit.mask:
                continue
            found.append(BinaryReading(place, scaling, sign, unit))
    return found


def _says_places(messages: Sequence[bytes], mark: Mark, scaling: Scaling) -> bool:
    """Whether the byte is no unit but how many digits stand behind the point in it."""
    if scaling.switched is None or not scaling.base.places or not scaling.switched.places:
        return False
    said = {message[mark.at] for message in messages}
    places = scaling.base.places, scaling.switched.places
    return said in ({*places}, {256 - one for one in places})


def _copies(messages: Sequence[bytes], place: Place) -> set[int]:
    """The bytes of other numbers of the same make that are sometimes this very number: the
    highest or lowest so far, or a copy."""
    own = [place.count(message) for message in messages]
    found: set[int] = set()
    for at in range(min(map(len, messages)) - place.size + 1):
        if abs(at - place.at) < place.size:
            continue
        other = replace(place, at=at)
        same = sum(
            1
            for message, count in zip(messages, own, strict=True)
            if count and count.value and other.count(message) == count
        )
        if same >= 2:
            found.update(other.bytes_used)
    return found


def _without_parts(found: list[BinaryReading], messages: Sequence[bytes]) -> list[BinaryReading]:
    """Readings that are no mere part of another: a number's upper bytes alone fit too, coarsely,
    and its lower bytes, as long as the sizes are small."""
    kept: list[BinaryReading] = []
    ordered = sorted(found, key=lambda reading: _rank(reading, messages))
    for reading in ordered:
        own = reading.varying(messages)
        if any(own < other.varying(messages) for other in ordered):
            continue
        if any(_same_number(reading, other) for other in kept):
            continue
        kept.append(reading)
    return kept


def _same_number(one: BinaryReading, two: BinaryReading) -> bool:
    """Whether they read the same bytes in the same order, one with more of the zeros in front."""
    if one.place.order != two.place.order or one.place.way != two.place.way:
        return False
    if _low(one.place) != _low(two.place) or one.place.turned != two.place.turned:
        return False
    if one.place.skip[1] != two.place.skip[1]:
        return False
    return one.sign == two.sign and one.unit == two.unit


def _nearly_full(reading: BinaryReading, messages: Sequence[bytes]) -> bool:
    """Whether the number's changing bytes would soon be too few for it, so that zeros before
    them are more likely its own than another field's."""
    place, scaling = reading.place, reading.scaling
    halves = {2 * at + side for at in place.bytes_used for side in (0, 1)}
    varying = len({half // 2 for half in reading.varying(messages) & halves})
    counts = [place.count(message) for message in messages]
    top = max(abs(count.value) for count in counts if count is not None)
    if scaling.follows and scaling.switched is not None:
        one, two = (worth.size(Count(1)) for worth in (scaling.base, scaling.switched))
        try:
            inches = convert(Decimal(1), scaling.base.unit, scaling.switched.unit)
        except UnitError:
            inches = Decimal(0)
        top = max(top, int(top * one / two * Fraction(inches)) if two else 0)
    base = {"packed": 100, "unpacked": 10}.get(place.way, 256)
    room = base**varying // 10 ** (sum(place.skip) + (place.sign == "last"))
    return place.sign in ("none", "last") and top * _SPARE >= room


def _low(place: Place) -> int:
    return place.at + place.size if place.order == "big" else place.at


def _rank(reading: BinaryReading, messages: Sequence[bytes]) -> tuple[float, ...]:
    """Simplest first."""
    place, scaling = reading.place, reading.scaling
    odd_worth = scaling.base.factor is not None
    unclean = sum(1 for mark in (reading.sign, reading.unit) if mark and not mark.clean)
    wide = place.sign in ("twos", "first")
    # a byte that is but a sign is a sign; its other bits are not taken for digits yet unseen
    bare = place.sign == "top" and all(m[place.top] & 0x7F == 0 for m in messages)
    roomy = bare and not _nearly_full(replace(reading, place=replace(place, sign="none")), messages)
    return (
        scaling.open,
        odd_worth,
        unclean,
        -len(reading.varying(messages)),
        place.sign == "none" or roomy,
        -place.size if wide or _nearly_full(reading, messages) else place.size,
        place.at,
    )


def with_doubt(reading: BinaryReading, doubt: str) -> BinaryReading:
    """The same with one more reason not to be sure."""
    return replace(reading, doubts=(*reading.doubts, doubt))
