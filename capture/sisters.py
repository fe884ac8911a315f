"""Whether a reading belongs to its set, looking at the sets of its sisters.

A *set* is the sizes of one characteristic at one number, in the order of its points; the *sisters*
are the same characteristic at the other numbers. A reading taken on another cylinder by mistake is
caught in two ways, and either is enough:

- it lies further from what its own set leads to expect than a good reading does, but for one in a
  few thousand (Student's t for the degrees of freedom there are);
- it lies far out *and* is where a sister was at that very point: the likelihood of it there over
  its likelihood here passes a threshold. Whatever the sizes are, a good reading passes a ratio of
  R with a probability of at most 1/R (Markov's inequality on the likelihood ratio).

What a good reading's scatter is (form and measurement together) is pooled over the sisters' sets
and its own. Where sisters share a form (worn at the top, wide along the thrust axis), the point's
effect is estimated from them and taken out, if that makes the expectation surer.

All sizes of one call are in one unit, and so is the answer. Pure, and quick enough to be asked at
every press: make a ``Family`` once, ask it many times.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import repeat
from typing import Final, NamedTuple

from capture.student import log_density, quantile

RARE_AT_PRESS: Final = 0.0002
"""Share of good readings that may be questioned by their distance alone, as they come."""
RARE_AFTERWARDS: Final = 0.00025
"""The same, of the readings of complete sets that are looked at again."""
RATIO_AT_PRESS: Final = 200.0
"""How many times likelier a reading must be at a sister's point than at its own."""
RATIO_AFTERWARDS: Final = 130.0
SISTERS_MOST: Final = 12
"""The nearest sets looked at beside one: more tell little more."""
LEAST_SET: Final = 3
"""Sizes a set must have to be looked at again: of two, either may be the odd one."""
FAR: Final = 2.4
"""Standard deviations nearer than which no ratio questions a reading."""
UNLIKE: Final = 0.01
"""Share of families, alike in truth, in which one is found unlike the others."""
ROUNDED: Final = 1e-12
"""Of a sum of squares, a rest so small is what subtracting it from itself leaves."""
SISTERS_FOR_POINTS: Final = 2
"""Complete sister sets from which on the effect of a point is estimated."""

_ROOT_TWO_PI: Final = math.sqrt(2.0 * math.pi)
_NO_EFFECTS: Final = repeat(0.0)

Own = Sequence[float | None]
"""Sizes of a set by point; None where there is none (yet)."""


class Outlier(NamedTuple):
    """A reading that does not belong to its set, with its numbers in the sizes' unit."""

    value: float
    expected: float
    """What the rest of its set leads to expect."""
    allowed: float
    """How far from that a good reading may lie by distance alone."""
    standard_deviation: float
    """Of a good reading's distance from what is expected."""
    degrees_of_freedom: int
    fits: int | None
    """Index of the sister it fits better; None where it fits none."""
    there: float | None
    """That sister's size at the same point."""
    ratio: float
    """How many times likelier it is there than here."""

    @property
    def distance(self) -> float:
        return self.value - self.expected


class _Model(NamedTuple):
    """A way to expect a reading: with the effects of points taken out, or as they are."""

    effects: tuple[float, ...]
    """By point; empty where they are not taken out."""
    squares: float
    degrees: int
    widen: float
    """Variance of a contrast of sizes, over that with the effects known."""

    @property
    def reach(self) -> float:
        """How far it lets a good reading lie, but for the own set's part; 0 where it cannot say."""
        if not self.degrees:
            return 0.0
        deviation = math.sqrt(self.squares / self.degrees * self.widen)
        return deviation * quantile(RARE_AT_PRESS, self.degrees)


class Family:
    """The sisters of one set, looked through once: see ``stands_out``.

    ``sisters``: each set's sizes by point, None where missing. ``u``: standard uncertainty of one
    reading, None where it is not established.
    """

    __slots__ = ("_least", "_model", "_sisters")

    def __init__(self, sisters: Sequence[Own], u: float | None) -> None:
        self._sisters = tuple(tuple(one) for one in sisters)
        self._least = 0.0 if u is None else u * u
        self._model = _model(self._sisters)

    def stands_out(
        self,
        value: float,
        own: Own,
        at: int | None = None,
        *,
        rare: float = RARE_AT_PRESS,
        ratio: float = RATIO_AT_PRESS,
    ) -> Outlier | None:
        """The reading's numbers if it does not belong to its set; None if it may well.

        ``own``: sizes its set has without it; ``at``: index of its point, the one after ``own``
        where silent. ``rare``: share of good readings that distance alone may question; ``ratio``:
        the likelihood ratio that questions one beside a sister.
        """
        effects, squares, degrees, widen = self._model
        point = len(own) if at is None else at
        origin = value - effects[point] if point < len(effects) else value
        count, total, of_squares = 0, 0.0, 0.0
        for size, effect in zip(own, effects or _NO_EFFECTS, strict=False):
            if size is not None:
                away = size - effect - origin  # from the reading itself: no digits are lost
                count += 1
                total += away
                of_squares += away * away
        degrees += count - 1
        if not count or degrees < 1:
            return None
        distance = -total / count
        squares += max(0.0, of_squares - total * total / count) / widen
        variance = max(squares / degrees, self._least) * (1.0 + 1.0 / count) * widen
        if distance * distance <= FAR * FAR * variance:
            return None
        deviation = math.sqrt(variance)
        if not deviation:
            return None
        fits, there, odds = self._fit(value, distance, deviation, degrees, point)
        reach = deviation * quantile(rare, degrees)
        if abs(distance) <= reach and odds < ratio:
            return None
        if odds < 1.0:
            fits = there = None
        expected = value - distance
        return Outlier(value, expected, reach, deviation, degrees, fits, there, odds)

    def _fit(
        self, value: float, distance: float, deviation: float, degrees: int, point: int
    ) -> tuple[int | None, float | None, float]:
        """(the sister it fits best, her size there, likelihood over that at its own place).

        The likelihood at a sister is a mixture of two guesses at how well a reading repeats there:
        as well as its uncertainty says, and no better than it scatters over the points. The ratio
        is to the mean over all sisters, as it must be for its bound to hold.
        """
        here = log_density(distance / deviation, degrees) - math.log(deviation)
        narrow = math.sqrt(2.0 * self._least)
        wide = max(deviation, narrow)
        most, found, total, count = -math.inf, None, 0.0, 0
        for index, sister in enumerate(self._sisters):
            there = sister[point] if point < len(sister) else None
            if there is None:
                continue
            count += 1
            likelihood = _normal(value - there, wide)
            if narrow:
                likelihood = 0.5 * (likelihood + _normal(value - there, narrow))
            total += likelihood
            if likelihood > most:
                most, found = likelihood, index
        if found is None or not total:
            return None, None, 0.0
        odds = math.exp(min(700.0, math.log(total / count) - here))
        return found, self._sisters[found][point], odds


def _normal(distance: float, deviation: float) -> float:
    z = distance / deviation
    return math.exp(-0.5 * z * z) / (deviation * _ROOT_TWO_PI)


def _model(sisters: tuple[tuple[float | None, ...], ...]) -> _Model:
    """The one that expects more surely, to judge by the sisters alone."""
    squares, degrees = 0.0, 0
    for one in sisters:
        sizes = [size for size in one if size is not None]
        if len(sizes) > 1:
            squares += _squares(sizes)
            degrees += len(sizes) - 1
    plain = _Model((), squares, degrees, 1.0)
    whole = _complete(sisters)
    if len(whole) < SISTERS_FOR_POINTS or len(whole[0]) < 2:
        return plain
    with_effects = _with_effects(whole)
    return with_effects if with_effects.reach < plain.reach else plain


def _complete(sisters: Sequence[Own]) -> list[list[float]]:
    """The sets that have a size at every point."""
    points = max((len(one) for one in sisters), default=0)
    full = [[size for size in one if size is not None] for one in sisters]
    return [one for one in full if len(one) == points]


def _with_effects(sets: list[list[float]]) -> _Model:
    """Two-way analysis without replication: a size is its set's mean, its point's effect, rest."""
    count, points = len(sets), len(sets[0])
    means = [sum(one) / points for one in sets]
    effects = tuple(
        sum(one[p] - mean for one, mean in zip(sets, means, strict=True)) / count
        for p in range(points)
    )
    squares = sum(
        (size - mean - effect) ** 2
        for one, mean in zip(sets, means, strict=True)
        for size, effect in zip(one, effects, strict=True)
    )
    return _Model(effects, squares, (count - 1) * (points - 1), 1.0 + 1.0 / count)


def _squares(sizes: Sequence[float]) -> float:
    middle = sum(sizes) / len(sizes)
    return sum((size - middle) ** 2 for size in sizes)


@lru_cache(maxsize=64)
def _family(sisters: tuple[tuple[float | None, ...], ...], u: float | None) -> Family:
    return Family(sisters, u)


def stands_out(
    value: float, own: Own, sisters: Sequence[Own], u: float | None, at: int | None = None
) -> Outlier | None:
    """Whether a reading that comes in does not belong to its set: see ``Family.stands_out``.

    Sisters asked about again are looked through once."""
    return _family(tuple(map(tuple, sisters)), u).stands_out(value, own, at)


class Misfit(NamedTuple):
    """A reading of a complete set that does not belong to it."""

    set: int
    """Index of its set."""
    point: int
    outlier: Outlier
    """``fits`` is the index of a set as well."""


def re_examine(sets: Sequence[Own], u: float | None) -> list[Misfit]:
    """The readings that do not belong to their sets, now that each can be seen beside the whole of
    its own set and of the sisters'. The furthest out of each set: it pulls the others with it.

    ``sets``: complete sets of one characteristic; ask once all that will be measured are, for every
    time it is asked takes its share of good readings (measured: 3 or 4 in 10,000)."""
    found = []
    for index, own in enumerate(sets):
        if sum(size is not None for size in own) < LEAST_SET:
            continue
        others = _nearest(index, len(sets))
        family = _family(tuple(tuple(sets[number]) for number in others), u)
        worst = None
        for point, value in enumerate(own):
            if value is None:
                continue
            rest = [None if at == point else size for at, size in enumerate(own)]
            one = family.stands_out(
                value, rest, point, rare=RARE_AFTERWARDS, ratio=RATIO_AFTERWARDS
            )
            if one is not None and (worst is None or _depth(one) > _depth(worst.outlier)):
                fits = None if one.fits is None else others[one.fits]
                worst = Misfit(index, point, one._replace(fits=fits))
        if worst is not None:
            found.append(worst)
    return found


def _nearest(index: int, count: int) -> list[int]:
    """The sets looked at beside one, nearest first."""
    reach = range(max(0, index - SISTERS_MOST), min(count, index + SISTERS_MOST + 1))
    ordered = sorted((at for at in reach if at != index), key=lambda at: (abs(at - index), at))
    return ordered[:SISTERS_MOST]


def _depth(outlier: Outlier) -> float:
    return abs(outlier.distance) / outlier.standard_deviation


class Unlike(NamedTuple):
    """A number whose mean size is unlike its sisters'."""

    number: int
    mean: float
    others: float
    """Mean of the sisters' means."""
    allowed: float
    standard_deviation: float
    """Of the sisters' means, not less than measurement and form explain."""
    degrees_of_freedom: int


def unlike(
    sizes: Mapping[int, Sequence[float]], u: float | None, *, rare: float = UNLIKE
) -> list[Unlike]:
    """The numbers whose mean is unlike the means of all the others; at least four numbers needed.

    ``rare``: share of families, all alike, in which any is found (shared over the numbers). Two
    unlike ones hide each other where numbers are few.
    """
    means = {number: sum(of) / len(of) for number, of in sizes.items() if of}
    count = len(means) - 1
    if count < 3:
        return []
    least = 0.0 if u is None else u * u
    reach = quantile(rare / len(means), count - 1) * math.sqrt(1.0 + 1.0 / count)
    whole = sum(means.values()) / len(means)
    squares = _squares(list(means.values()))
    found = []
    for number, mean in means.items():
        away = mean - whole  # the others' mean and squares follow from those of all
        others = whole - away / count
        rest = squares - away * away * len(means) / count
        if rest < ROUNDED * squares:
            rest = 0.0
        deviation = math.sqrt(max(rest / (count - 1), least))
        if deviation and abs(mean - others) > reach * deviation:
            found.append(Unlike(number, mean, others, reach * deviation, deviation, count - 1))
    return found
