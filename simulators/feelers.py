"""What is found with leaves, or with the settings of a click tool: between which two a size lies.

A leaf that is no thicker than the gap goes, a thicker one does not. A click tool set below the
torque that turns the crankshaft clicks before anything moves; set above it, the crankshaft turns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import combinations, pairwise
from typing import Any


@dataclass(frozen=True, slots=True)
class Found:
    """What went and what did not; None where nothing did."""

    lower: Decimal | None
    upper: Decimal | None
    leaves: tuple[Decimal, ...] = ()
    """That go: one, or several stacked."""
    beside: tuple[Decimal | None, Decimal | None] | None = None
    """The leaves seen on either side of it, or of the outermost that are stacked."""

    def to_body(self) -> dict[str, Any]:
        """As the service wants it typed."""
        body: dict[str, Any] = {"lower": _text(self.lower), "upper": _text(self.upper)}
        if self.leaves:
            body["leaves"] = [_text(leaf) for leaf in self.leaves]
        if self.beside is not None:
            body["beside"] = [_text(leaf) for leaf in self.beside]
        return body


def with_leaves(gap: float, leaves: Sequence[Decimal]) -> Found:
    """The largest leaf that goes into ``gap``, and the next one, which does not."""
    return _found(gap, [(leaf,) for leaf in leaves], leaves)


def with_stacks(gap: float, leaves: Sequence[Decimal], between: Found) -> Found:
    """The same gap found finer: with two leaves stacked, within what single ones have shown."""
    lower, upper = between.lower, between.upper
    stacks: list[tuple[Decimal, ...]] = [
        pair
        for pair in combinations(leaves, 2)
        if (lower is None or sum(pair) > lower) and (upper is None or sum(pair) < upper)
    ]
    ends = [(end,) for end in (lower, upper) if end is not None]
    return _found(gap, [*ends, *stacks], leaves)


def with_a_leaf_hidden(gap: float, leaves: Sequence[Decimal]) -> Found | None:
    """What is taken for the gap when its leaf has the next one unseen behind it: that pair went,
    and only the front leaf was read. None where no two neighbours go into the gap together."""
    pairs = list(pairwise(leaves))
    going = [pair for pair in pairs if float(sum(pair)) <= gap]
    if not going:
        return None
    read, hidden = max(going, key=sum)
    at = leaves.index(hidden)
    before = leaves[at - 2] if at >= 2 else None
    after = leaves[at + 1] if at + 1 < len(leaves) else None
    # The next thicker stack that was tried did not go, and was read by its front leaf as well.
    return Found(read, after, (read,), (before, after))


def with_settings(
    turns: float, step: Decimal, ends: tuple[Decimal, Decimal], clicks_at: Callable[[float], float]
) -> Found:
    """The last setting that clicked while nothing moved, and the first at which it turned.

    ``clicks_at`` gives the true torque at which the tool clicks when it is set to a value.
    """
    setting, last = ends[0], None
    while setting <= ends[1]:
        if clicks_at(float(setting)) > turns:
            return Found(last, setting)
        last, setting = setting, setting + step
    return Found(last, None)


def _found(gap: float, tried: Sequence[tuple[Decimal, ...]], leaves: Sequence[Decimal]) -> Found:
    going = [stack for stack in tried if float(sum(stack)) <= gap]
    not_going = [sum(stack, Decimal(0)) for stack in tried if float(sum(stack)) > gap]
    upper = min(not_going, default=None)
    if not going:
        return Found(None, upper)
    best = max(going, key=sum)
    at = [list(leaves).index(leaf) for leaf in best]
    beside = (
        leaves[min(at) - 1] if min(at) else None,
        leaves[max(at) + 1] if max(at) + 1 < len(leaves) else None,
    )
    return Found(sum(best, Decimal(0)), upper, best, beside)


def _text(value: Decimal | None) -> str | None:
    return None if value is None else format(value, "f")
