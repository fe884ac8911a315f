"""Explanations of binary messages: where the number is, and its sign and unit beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from drivers.learn.beside import Mark, is_drift, marks, states
from drivers.learn.numbers import Place, places
from drivers.learn.press import Press
from drivers.learn.scale import Count, Scaling, Worth, scalings


@dataclass(frozen=True, slots=True)
class BinaryReading:
    """One explanation of binary messages."""

    place: Place
    scaling: Scaling
    sign: Mark | None
    unit: Mark | None
    doubts: tuple[str, ...] = ()

    def varying(self, messages: Sequence[bytes]) -> frozenset[int]:
        """The bytes of the number that change from press to press."""
        return frozenset(
            at for at in self.place.bytes_used if len({message[at] for message in messages}) > 1
        )


def explanations(
    messages: Sequence[bytes], presses: Sequence[Press], check: range, slack: int
) -> list[BinaryReading]:
    """Every explanation that fits all presses, the one of the most bytes first. ``check``: the
    bytes that are a check, which nothing else is read from."""
    found: list[BinaryReading] = []
    for place, counts in places(messages):
        if set(place.bytes_used) & set(check):
            continue
        if place.way == "float":
            options = _float_scalings(counts, presses)
        else:
            options = scalings(counts, presses, place.signed, slack)
        for scaling in options:
            found += _beside(messages, presses, place, scaling, check)
    plain = [_one(reading) for reading in found if reading.scaling.base.factor is None]
    if plain:
        found = [
            reading
            for reading in found
            if reading.scaling.base.factor is None
            or _step_of_two(reading)
            or _one(reading) * 10 < min(plain)
        ]
    kept = _without_parts(found, messages)
    # a worth that is no power of ten lets a still byte be taken for a number's lowest
    lively = [
        reading
        for reading in kept
        if reading.scaling.base.factor is None
        or len({message[_lowest(reading)] for message in messages}) > 2
    ]
    return [_doubted(reading, messages) for reading in lively or kept]


def _one(reading: BinaryReading) -> Fraction:
    """What one count is worth; of a number that brings its point along, next to nothing."""
    worth = reading.scaling.base
    return Fraction(1, 10**12) if worth.sent else worth.size(Count(1))


def _step_of_two(reading: BinaryReading) -> bool:
    """Whether a count is 2 or 5 of the last digit."""
    return reading.scaling.base.places is not None and reading.scaling.base.factor is not None


def _lowest(reading: BinaryReading) -> int:
    """The byte with the lowest digits."""
    place = reading.place
    return place.at + place.size - 1 if place.order == "big" else place.at


def _doubted(reading: BinaryReading, messages: Sequence[bytes]) -> BinaryReading:
    """The reading with what the presses cannot tell about it."""
    place = reading.place
    last = _lowest(reading)
    if place.way in ("packed", "unpacked") and len({message[last] for message in messages}) == 1:
        return with_doubt(
            reading,
            f"byte {last}, which may hold the last digits, never changed: press at a size that "
            "is not round",
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
        if abs(value - size) > max(abs(size) / 100, span / 1000):
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
        signs = [*marks(messages, negative, switched, used)]
    units: list[Mark | None] = [None]
    if scaling.follows:
        units = [*marks(messages, switched, negative, used)]
        if len([unit for unit in units if unit and unit.clean]) > 1:
            units = [u for u in units if u and not is_drift(messages, u.at)] or units
        others = [unit for unit in units if unit and not _says_places(messages, unit, scaling)]
        units = [*others] or units
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
    if _low(one.place) != _low(two.place):
        return False
    return one.sign == two.sign and one.unit == two.unit


def _nearly_full(reading: BinaryReading, messages: Sequence[bytes]) -> bool:
    """Whether the number's changing bytes would soon be too few for it, so that zeros before
    them are more likely its own than another field's."""
    varying = len(reading.varying(messages))
    counts = [reading.place.count(message) for message in messages]
    top = max(abs(count.value) for count in counts if count is not None)
    return reading.place.sign == "none" and top * 8 >= 1 << (8 * varying)


def _low(place: Place) -> int:
    return place.at + place.size if place.order == "big" else place.at


def _rank(reading: BinaryReading, messages: Sequence[bytes]) -> tuple[float, ...]:
    """Simplest first."""
    place, scaling = reading.place, reading.scaling
    odd_worth = scaling.base.factor is not None
    unclean = sum(1 for mark in (reading.sign, reading.unit) if mark and not mark.clean)
    wide = place.sign == "twos" or place.way in ("packed", "unpacked")
    return (
        scaling.open,
        odd_worth,
        unclean,
        -len(reading.varying(messages)),
        place.sign == "none",
        -place.size if wide or _nearly_full(reading, messages) else place.size,
        place.at,
    )


def with_doubt(reading: BinaryReading, doubt: str) -> BinaryReading:
    """The same with one more reason not to be sure."""
    return replace(reading, doubts=(*reading.doubts, doubt))
