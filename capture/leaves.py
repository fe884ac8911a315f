"""A feeler set: which leaf was used, whether it can have been, and which to try next.

A set is its leaves in the order in which they lie in the fan, in one unit. A leaf swung out has
one neighbour on either side (an end leaf has one only); the two are asked for with every entry.
If they enclose two leaves, one of the two stands hidden behind the other, and the gap is thicker
than what was read.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from itertools import combinations, pairwise
from typing import NamedTuple

from capture.bracket import Bracket, checked
from capture.quantity import Number, add, exact, text

Neighbours = tuple[Decimal | None, Decimal | None]
"""The leaves seen on either side, left or right first; None where there is none."""


class Code(StrEnum):
    """What is wrong with a leaf as entered."""

    NOT_IN_SET = "leaf_not_in_set"
    TWICE = "leaf_twice"
    STACK_NOT_SAID = "stack_not_said"
    STACK_OF_ONE = "stack_of_one"
    NEIGHBOURS_NOT_SAID = "neighbours_not_said"
    NEIGHBOUR_NOT_IN_SET = "neighbour_not_in_set"
    HIDDEN_LEAF = "hidden_leaf"
    WRONG_LEAF = "wrong_leaf"
    NO_LEAF_BETWEEN = "no_leaf_between"
    OFF_THE_SET = "gap_off_the_set"
    UNLIKE_SISTERS = "unlike_sisters"


class Problem(NamedTuple):
    """What is wrong, and the likely mistake in words."""

    code: Code
    text: str


def total(entered: Sequence[Decimal]) -> Decimal:
    """The thickness of the leaves together, exactly."""
    whole: Number = Decimal(0)
    for leaf in entered:
        whole = add(whole, leaf)
    assert isinstance(whole, Decimal)
    return whole


def check(
    leaves: Sequence[Decimal],
    entered: Sequence[Decimal],
    beside: Neighbours | None,
    *,
    stacked: bool = False,
) -> Problem | None:
    """What is wrong with the leaf (or, where ``stacked``, leaves) entered; None where nothing is.

    ``leaves`` is the set in fan order and ``beside`` the neighbours seen, in either order; for a
    stack the neighbours of its outermost leaves. All in one unit. Raises ValueError where the set
    or the entry is empty or a leaf is not thicker than nothing.
    """
    _usable(leaves)
    if not entered:
        raise ValueError("No leaf was entered: enter the leaf that was used.")
    return (
        _not_members(leaves, entered, stacked)
        or _not_stack(entered, stacked)
        or _not_neighbours(leaves, beside)
        or _not_between(leaves, entered, beside)
    )


def next_finer(
    leaves: Sequence[Decimal], bracket: Bracket, *, near: Number | None = None
) -> tuple[Decimal, ...] | None:
    """The leaf to try next, or the pair to stack, so that its thickness lies between the bracket's
    ends; None where the set has none.

    A single leaf before a pair; of several the nearest to ``near`` (the middle where it is not
    said, and where only one end is known that end), thinner first. Raises ValueError for a
    crossed bracket or an unusable set.
    """
    _usable(leaves)
    checked(bracket)
    wanted = _middle(bracket) if near is None else Fraction(near)
    ordered = sorted(leaves)
    for size in (1, 2):
        inside = [pair for pair in combinations(ordered, size) if bracket.inside(total(pair))]
        if inside:
            return min(inside, key=lambda some: (abs(Fraction(total(some)) - wanted), total(some)))
    return None


def next_setting(
    bracket: Bracket,
    step: Decimal,
    *,
    near: Number | None = None,
    largest: Number | None = None,
) -> Number | None:
    """The setting of a click tool to try next: a multiple of ``step`` between the bracket's ends
    and not above the tool's ``largest``; None where there is none.

    Nearest to ``near`` (the middle where it is not said, from 0 where no lower end is known).
    Where only the lower end is known, the next step up: a torque is found by raising the setting.
    Raises ValueError where the step is not above 0 or the bracket crossed.
    """
    if not step > 0:
        raise ValueError(f"The step of the settings is {step}: give one above 0.")
    lower, upper = checked(bracket)[:2]
    low = Fraction(0) if lower is None else max(Fraction(0), Fraction(lower))
    first = math.floor(low / Fraction(step)) + 1
    lasts = [] if upper is None else [math.ceil(Fraction(upper) / Fraction(step)) - 1]
    lasts += [] if largest is None else [math.floor(Fraction(largest) / Fraction(step))]
    last = min(lasts, default=None)
    if last is not None and last < first:
        return None
    aim = (
        Fraction(near)
        if near is not None
        else low
        if upper is None
        else (low + Fraction(upper)) / 2
    )
    chosen = max(first, round(aim / Fraction(step)))
    return exact((chosen if last is None else min(chosen, last)) * Fraction(step))


def unlike_sisters(
    gap: Bracket, sisters: Sequence[Bracket], leaves: Sequence[Decimal], *, enough: int = 2
) -> Problem | None:
    """Whether a gap asks for a second look: an end of it is off the set (no leaf and no two), or
    it is one leaf step or more away from all of its sisters, which agree to the leaf.

    With fewer than ``enough`` sisters (at least 1), or sisters that differ among themselves, only
    the first is asked. Raises ValueError for an unusable set or ``enough`` below 1.
    """
    _usable(leaves)
    if enough < 1:
        raise ValueError(f"enough is {enough}: at least 1 sister is needed to compare with.")
    for end in gap[:2]:
        if end is not None and not _made(leaves, end):
            return Problem(
                Code.OFF_THE_SET,
                f"{text(end)} is not in the set, nor do any two of its leaves make it"
                f"{_nearest(leaves, end)}. Read the leaf again.",
            )
    steps = {_step(leaves, sister) for sister in sisters} - {None}
    step = _step(leaves, gap)
    if len(sisters) < enough or len(steps) != 1 or step is None:
        return None
    (usual,) = steps
    if usual is None or usual == step:
        return None
    return Problem(Code.UNLIKE_SISTERS, _unlike(gap, sisters[0], step - usual, leaves))


def steps_apart(gap: Bracket, other: Bracket, leaves: Sequence[Decimal]) -> int | None:
    """How many leaves more go into ``gap`` than into ``other``, from their ends; None where an end
    needed is not known."""
    one, two = _step(leaves, gap), _step(leaves, other)
    return None if one is None or two is None else one - two


def _usable(leaves: Sequence[Decimal]) -> None:
    if not leaves:
        raise ValueError("The feeler set has no leaves: list them in the order of the fan.")
    for leaf in leaves:
        if not leaf > 0:
            raise ValueError(f"The feeler set has a leaf of {leaf}: a leaf is thicker than 0.")


def _middle(bracket: Bracket) -> Fraction:
    ends = [Fraction(end) for end in bracket[:2] if end is not None]
    return sum(ends, Fraction(0)) / len(ends) if ends else Fraction(0)


def _not_members(
    leaves: Sequence[Decimal], entered: Sequence[Decimal], stacked: bool
) -> Problem | None:
    have = Counter(leaves)
    for leaf in entered:
        if leaf not in have:
            return Problem(Code.NOT_IN_SET, _absent(leaves, leaf, stacked))
    for leaf, times in Counter(entered).items():
        if times > have[leaf]:
            return Problem(
                Code.TWICE,
                f"{text(leaf)} was entered {times} times and the set has {have[leaf]} of it: "
                "enter each leaf of the stack once.",
            )
    return None


def _absent(leaves: Sequence[Decimal], leaf: Decimal, stacked: bool) -> str:
    pair = next((two for two in combinations(leaves, 2) if total(two) == leaf), None)
    said = f"No leaf of this set is {text(leaf)}"
    if pair is None:
        return (
            f"{said}{_nearest(leaves, leaf)}. Read the leaf again, and see that the set is right."
        )
    both = f"{text(pair[0])} and {text(pair[1])} together make it"
    if stacked:
        return f"{said}; {both}: enter every leaf of the stack, not its total."
    return f"{said}; {both}. If they were stacked, say so and enter both."


def _not_stack(entered: Sequence[Decimal], stacked: bool) -> Problem | None:
    if len(entered) > 1 and not stacked:
        return Problem(
            Code.STACK_NOT_SAID,
            f"{_listed(entered)} were entered: say that they were stacked, or enter one.",
        )
    if len(entered) == 1 and stacked:
        return Problem(
            Code.STACK_OF_ONE,
            f"A stack was said and only {text(entered[0])} entered: enter every leaf of it.",
        )
    return None


def _not_neighbours(leaves: Sequence[Decimal], beside: Neighbours | None) -> Problem | None:
    if beside is None or (beside == (None, None) and len(leaves) > 1):
        return Problem(
            Code.NEIGHBOURS_NOT_SAID,
            "Which leaves lie on either side of it in the fan? Enter both neighbours "
            "(an end leaf has one).",
        )
    for leaf in beside:
        if leaf is not None and leaf not in leaves:
            return Problem(
                Code.NEIGHBOUR_NOT_IN_SET,
                f"The neighbour {text(leaf)} is no leaf of this set{_nearest(leaves, leaf)}. "
                "Read it again, and see that the set is right.",
            )
    return None


def _not_between(
    leaves: Sequence[Decimal], entered: Sequence[Decimal], beside: Neighbours | None
) -> Problem | None:
    assert beside is not None
    spans = list(_spans(leaves, beside))
    for span in spans:
        if _stands(entered, span):
            return None
    around = _around(beside)
    enclosed = [span for span in spans if span]
    if not enclosed:
        return Problem(
            Code.NO_LEAF_BETWEEN,
            f"{around} stands no leaf of this set: look at both neighbours again.",
        )
    span = next((some for some in enclosed if set(entered) <= set(some)), enclosed[0])
    if set(entered) <= set(span):
        hidden = list((Counter(span) - Counter(entered)).elements())
        behind = "one leaf is" if len(hidden) == 1 else f"{len(hidden)} leaves are"
        return Problem(
            Code.HIDDEN_LEAF,
            f"{around} stand {_listed(span)}: {behind} hidden behind another, and together they "
            f"make {text(total(span))}. Part them and try the gap again.",
        )
    stand = "stands" if len(span) == 1 else "stand"
    more = "" if len(span) == 1 else f" (together {text(total(span))})"
    return Problem(
        Code.WRONG_LEAF,
        f"{around} {stand} {_listed(span)}{more}, not {_listed(entered)}: "
        "read the leaf and both neighbours again.",
    )


def _spans(leaves: Sequence[Decimal], beside: Neighbours) -> Iterator[tuple[Decimal, ...]]:
    """What can lie between the neighbours; more than one where the set has equal leaves."""
    seen: set[tuple[int, int]] = set()
    for left, right in (beside, beside[::-1]):
        starts = [-1] if left is None else [i for i, leaf in enumerate(leaves) if leaf == left]
        ends = (
            [len(leaves)]
            if right is None
            else [i for i, leaf in enumerate(leaves) if leaf == right]
        )
        for start in starts:
            for end in ends:
                if start < end and (start, end) not in seen:
                    seen.add((start, end))
                    yield tuple(leaves[start + 1 : end])


def _stands(entered: Sequence[Decimal], span: Sequence[Decimal]) -> bool:
    """Whether the entry can be what lies between the neighbours: that one leaf; or a stack whose
    outermost leaves stand beside them (others may be folded back between its leaves)."""
    if not span:
        return False
    if len(entered) == 1:
        return tuple(span) == tuple(entered)
    rest = Counter(span)
    rest.subtract(entered)
    return span[0] in entered and span[-1] in entered and min(rest.values()) >= 0


def _around(beside: Neighbours) -> str:
    left, right = beside
    if left is not None and right is not None:
        return f"Between {text(left)} and {text(right)}"
    known = right if left is None else left
    return "In the fan" if known is None else f"Between {text(known)} and an end of the fan"


def _listed(leaves: Sequence[Decimal]) -> str:
    words = [text(leaf) for leaf in leaves]
    if len(words) == 1:
        return words[0]
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _nearest(leaves: Sequence[Decimal], value: Number) -> str:
    """``; nearest are 0.50 and 0.55``."""
    below = [leaf for leaf in leaves if leaf < value]
    above = [leaf for leaf in leaves if leaf > value]
    near = [max(below)] if below else []
    near += [min(above)] if above else []
    return f"; nearest {'is' if len(near) == 1 else 'are'} {_listed(near)}" if near else ""


def _made(leaves: Sequence[Decimal], thickness: Number) -> bool:
    """Whether one leaf or two together have this thickness."""
    return thickness in leaves or any(total(two) == thickness for two in combinations(leaves, 2))


def _step(leaves: Sequence[Decimal], bracket: Bracket) -> int | None:
    """How many different leaves go into the gap, from its lower end or else its upper one."""
    sizes = set(leaves)
    if bracket.lower is not None:
        return sum(1 for leaf in sizes if leaf <= bracket.lower)
    if bracket.upper is not None:
        return sum(1 for leaf in sizes if leaf < bracket.upper)
    return None


def _unlike(gap: Bracket, sister: Bracket, apart: int, leaves: Sequence[Decimal]) -> str:
    way = "above" if apart > 0 else "below"
    steps = "one leaf step" if abs(apart) == 1 else f"{abs(apart)} leaf steps"
    said = f"This gap is {steps} {way} all of its sisters, which agree"
    if gap.lower is not None and sister.lower is not None:
        missing = Fraction(sister.lower) - Fraction(gap.lower)
        hidden = next(
            (two for two in pairwise(leaves) if set(two) == {gap.lower, missing}),
            None,
        )
        if hidden is not None:
            said += (
                f"; {_listed(hidden)} lie together in the fan and make their "
                f"{text(sister.lower)}, so the one may have stood behind the other"
            )
    return f"{said}. Try it again and read the leaf and both neighbours."
