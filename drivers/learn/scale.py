"""From counts to sizes: what one count is worth, in which unit, so that every press fits.

A count fits where count × worth lies within half a step of the stated size. The step is one
count, or 2 or 5 of them where every count is a multiple of that (a display that moves by 5 in
its last place); a tolerance in steps may be allowed on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import log2
from typing import NamedTuple

from capture.quantity import convert, dimension
from drivers.learn.press import Press
from drivers.learn.roundness import roundest

_HAIR = Fraction(1, 1000)
"""Of a step: sizes are typed rounded."""
_BESIDE = {
    "length": ("mm", "in"),
    "torque": ("N·m", "lbf·ft", "lbf·in"),
    "mass": ("g", "oz"),
    "angle": ("°",),
}


class Count(NamedTuple):
    """What stands in one message: a whole number, and where its point is, if it was sent."""

    value: int
    places: int | None = None


class Worth(NamedTuple):
    """What one count is worth in a unit."""

    unit: str
    places: int | None
    """Digits behind the point; None where the message sends the point."""
    factor: Fraction | None = None
    """Worth of a count where it is no power of ten."""
    sent: bool = False

    def size(self, count: Count) -> Fraction:
        if self.factor is not None:
            return count.value * self.factor
        places = self.places if count.places is None else count.places
        return Fraction(count.value, 10 ** (places or 0))


@dataclass(frozen=True, slots=True)
class Scaling:
    """How all presses' counts become sizes."""

    base: Worth
    switched: Worth | None
    """After the gauge's unit was switched; None where nobody switched it."""
    follows: bool
    """The number changes with the unit; otherwise it stays in the first one."""
    bits: float
    """Evidence: how unlikely it is to fit by accident, in powers of two."""
    loose: bool = False
    open: bool = False
    """The worth of a count is not pinned down by the presses."""
    near: float = 0.0
    """How far the sizes are from the stated ones at most, or half a step: a part of the largest."""
    off: float = 0.0
    """How far they are at most."""

    def worth(self, press: Press) -> Worth:
        if press.switched is None or self.switched is None:
            return self.base
        return self.switched


def scalings(
    counts: Sequence[Count], presses: Sequence[Press], signed: bool, slack: int = 0
) -> list[Scaling]:
    """Every way in which the counts are the stated sizes. ``signed``: the counts carry the sign;
    otherwise magnitudes are compared. ``slack``: steps of tolerance beside half a step."""
    known = [(count, press) for count, press in zip(counts, presses, strict=True) if press.unit]
    if not known or not _in_proportion(known, signed):
        return []
    first = known[0][1].unit
    assert first is not None
    plain = [pair for pair in known if pair[1].switched is None]
    turned = [pair for pair in known if pair[1].switched is not None]
    others = [unit for unit in _BESIDE.get(dimension(first), ()) if unit != first]
    unit = turned[0][1].switched if turned else None
    found: list[Scaling] = []
    for base in [first, *others]:
        if base == unit and plain and base != first:
            continue
        found += _stays(known, base, signed, slack, bool(turned))
        if unit is not None and plain and unit != base:
            found += _follows(plain, turned, base, unit, signed, slack)
    if not found:
        found += _counted(known, first, signed)
    return found


def as_stated(scaling: Scaling, presses: Sequence[Press]) -> Scaling:
    """The scaling in the unit in which the sizes are stated, where nothing says another."""
    first = next((press.unit for press in presses if press.unit), scaling.base.unit)
    base = scaling.base
    if scaling.switched is not None or base.unit == first or base.sent:
        return scaling
    one = Fraction(convert(Decimal(1), base.unit, first)) * base.size(Count(1))
    return replace(scaling, base=Worth(first, None, one))


def _in_proportion(known: _Pairs, signed: bool) -> bool:
    """A quick look whether the counts can be the sizes at all."""
    plain = [
        (float(Worth("", None).size(count)), float(press.at(press.unit or "")))
        for count, press in known
        if press.switched is None
    ]
    if not signed:
        plain = [(abs(count), abs(size)) for count, size in plain]
    top = max(plain, key=lambda pair: abs(pair[1]), default=(0.0, 0.0))
    if not top[0] or top[0] * top[1] < 0:
        return not plain
    return all(
        abs(count * top[1] - top[0] * size) <= 0.02 * abs(top[0] * top[1]) for count, size in plain
    )


_Pairs = Sequence[tuple[Count, Press]]


def _stays(known: _Pairs, base: str, signed: bool, slack: int, turned: bool) -> list[Scaling]:
    return [
        Scaling(worth, worth if turned else None, False, bits, bool(slack), near=near, off=off)
        for worth, bits, near, off in _fits(known, base, signed, slack)
    ]


def _follows(
    plain: _Pairs, turned: _Pairs, base: str, unit: str, signed: bool, slack: int
) -> list[Scaling]:
    return [
        Scaling(one, two, True, bits + more, bool(slack), near=near, off=off)
        for one, bits, near, off in _fits(plain, base, signed, slack)
        for two, more, _, _ in _fits(
            turned, unit, signed, slack, _turned_step(plain, turned, one, unit)
        )
    ]


def _fits(
    known: _Pairs, unit: str, signed: bool, slack: int, least: Fraction = Fraction(0)
) -> list[tuple[Worth, float, float, float]]:
    """The powers of ten, and twice and five times them, that make the counts the sizes."""
    sizes = [_size(press, unit, signed) for _, press in known]
    counts = [count for count, _ in known]
    if not any(count.value for count in counts):
        return []
    if counts[0].places is not None:
        worth = Worth(unit, None, sent=True)
        bits, near, off = _bits(counts, sizes, worth, slack, least)
        return [(worth, bits, near, off)] if bits else []
    size, count = max(
        (abs(size), abs(count.value)) for size, count in zip(sizes, counts, strict=True)
    )
    one = float(size / count) if count else 0.0
    for factor in (1, 5, 2):
        for places in range(8):
            if not 0.9 * one < factor * 10.0**-places < 1.1 * one:
                continue
            exact = None if factor == 1 else Fraction(factor, 10**places)
            worth = Worth(unit, places, exact)
            bits, near, off = _bits(counts, sizes, worth, slack, least)
            if bits:
                return [(worth, bits - (0 if factor == 1 else 2), near, off)]
    return []


def _turned_step(plain: _Pairs, turned: _Pairs, worth: Worth, unit: str) -> Fraction:
    """The first unit's step in the other unit: sizes are no better known after the switch."""
    counts = [count for count, _ in plain]
    span = max(abs(_size(press, worth.unit, True)) for _, press in plain)
    step = _step(counts, worth, span)
    press = next((press for _, press in turned if press.size), None)
    if press is None:
        return Fraction(0)
    ratio = press.at(unit) / press.at(worth.unit)
    return min(step * ratio, abs(press.at(unit)) / 50)


def _size(press: Press, unit: str, signed: bool) -> Fraction:
    size = press.at(unit)
    return size if signed else abs(size)


def _bits(
    counts: Sequence[Count],
    sizes: Sequence[Fraction],
    worth: Worth,
    slack: int,
    least: Fraction = Fraction(0),
) -> tuple[float, float, float]:
    """Evidence that the worth fits, 0 where it does not; and how near the sizes are."""
    span = max(abs(size) for size in sizes)
    if not span:
        return 0, 1, 1
    shown = [worth.size(count) for count in counts]
    off = max(abs(value - size) for value, size in zip(shown, sizes, strict=True))
    step = max(least, _step(counts, worth, span))
    allowed = step * (Fraction(1, 2) + _HAIR + slack)
    if off > allowed:
        return 0, 1, 1
    bits = len(set(sizes)) * log2(max(1, float(span / allowed / 2)))
    return bits, float(max(off, step / 2) / span), float(off / span)


def _step(counts: Sequence[Count], worth: Worth, span: Fraction) -> Fraction:
    """The display's step: the greatest 1, 2 or 5 × 10^n that every count is a multiple of, but no
    more than what a few round sizes would make it look like."""
    places = max((count.places or 0) for count in counts)
    values = [count.value * 10 ** (places - (count.places or 0)) for count in counts]
    one = worth.size(Count(1, None if counts[0].places is None else places))
    step = 1
    if worth.factor is not None:
        return one
    for more in range(8):
        for multiple in (2 * 10**more, 5 * 10**more, 10 * 10**more):
            if one * multiple * 40 > span:
                return one * step
            if all(value % multiple == 0 for value in values) and (
                one * multiple * 250 <= span or _in_fives(values, multiple)
            ):
                step = multiple
    return one * step


def _in_fives(values: Sequence[int], multiple: int) -> bool:
    """Whether some are multiples of 5 (or 2) of a place and not of 10: the display steps so."""
    tens = 10 ** len(str(multiple))
    return multiple % 10 != 0 and len({value for value in values if value % tens}) > 1


def _counted(known: _Pairs, unit: str, signed: bool) -> list[Scaling]:
    """A worth that is no power of ten: so many counts to the unit. The number then stays when the
    unit is switched."""
    pairs: list[tuple[Fraction, Fraction]] = []
    for count, press in known:
        if count.places is not None:
            return []
        pairs.append((Fraction(count.value), _size(press, unit, signed)))
    span = max(abs(size) for _, size in pairs)
    if len({abs(size) for _, size in pairs if size}) < 2 or max(abs(c) for c, _ in pairs) < 100:
        return []
    squares = sum((c * c for c, _ in pairs), Fraction(0))
    middle = sum((c * s for c, s in pairs), Fraction(0)) / squares
    if middle <= 0:
        return []
    off = max(abs(c * middle - s) for c, s in pairs)
    if off > span / 300:
        return []
    # the display rounds too, by a step nobody has seen: the sizes can be off by more than is seen
    allowed = max(off * 3, middle)
    far = [(abs(c), abs(s)) for c, s in pairs if abs(c) > 20]
    low, high = max((s - allowed) / c for c, s in far), min((s + allowed) / c for c, s in far)
    bits = log2(float(span / allowed / 2)) * (len({s for _, s in pairs}) - 1)
    turned = any(press.switched for _, press in known)
    round_one = roundest(low, high, unit, most=max(c for c, _ in far))
    factor = round_one or middle
    # exact sizes pin down any worth
    loose = (high - low) * span > middle * middle * Fraction(3, 2)
    worth = Worth(unit, None, factor)
    return [
        Scaling(
            worth,
            worth if turned else None,
            False,
            bits,
            open=round_one is None and loose,
            near=float(max(off, middle / 2) / span),
            off=float(off / span),
        )
    ]
