"""Shells for many bearings, against a plain search that keeps every stock and prunes nothing."""

from __future__ import annotations

import random
from decimal import Decimal

import pytest

from capture import fit
from capture.fit.whole import less

BAND = (Decimal("0.020"), Decimal("0.060"))
Stock = tuple[int, ...]
Worth = tuple[int, Decimal, int]
"""Bearings without shells, sum of misses, mixed pairs."""


def engine(
    seed: int, count: int, kinds: int, extra: int
) -> tuple[dict[int, fit.Bearing], list[fit.Shell]]:
    """Invented bearings, and as many halves as they need with a few more, drawn always alike."""
    draw = random.Random(seed)
    on_hand = [0] * kinds
    for _ in range(2 * count + extra):
        on_hand[draw.randrange(kinds)] += 1
    shells = [
        fit.Shell(f"kind {n}", Decimal(2000 + 3 * (n - kinds // 2)).scaleb(-3), many)
        for n, many in enumerate(on_hand)
    ]
    bearings = {
        n: fit.Bearing(
            Decimal(56000 + draw.randint(0, 20)).scaleb(-3),
            Decimal(51960 + draw.randint(-8, 8)).scaleb(-3),
        )
        for n in range(1, count + 1)
    }
    return bearings, shells


def plain(
    bearings: dict[int, fit.Bearing], shells: list[fit.Shell]
) -> tuple[int, Decimal, Decimal, int]:
    """Bearings without, worst miss, sum of misses, mixed pairs."""
    target = (BAND[0] + BAND[1]) / 2
    options: list[list[tuple[Decimal, int, int]]] = []
    for bearing in bearings.values():
        gap = less(bearing.housing, bearing.journal)
        found = []
        for one in range(len(shells)):
            for two in range(one, len(shells)):
                clearance = less(gap, shells[one].thickness, shells[two].thickness)
                assert isinstance(clearance, Decimal)
                if BAND[0] <= clearance <= BAND[1]:
                    found.append((abs(clearance - target), one, two))
        options.append(found)
    best: tuple[int, Decimal, Decimal, int] | None = None
    for bound in sorted({miss for some in options for miss, _, _ in some}):
        states: dict[Stock, Worth] = {tuple(s.on_hand for s in shells): (0, Decimal(0), 0)}
        for some in options:
            after: dict[Stock, Worth] = {}
            for stock, (without, total, mixed) in states.items():
                ways: list[tuple[Stock, Worth]] = [(stock, (without + 1, total, mixed))]
                for miss, one, two in some:
                    left = list(stock)
                    left[one] -= 1
                    left[two] -= 1
                    if miss <= bound and min(left) >= 0:
                        worth = (without, total + miss, mixed + (one != two))
                        ways.append((tuple(left), worth))
                for left_over, worth in ways:
                    after[left_over] = min(worth, after.get(left_over, worth))
            states = after
        without, total, mixed = min(states.values())
        if best is None or without < best[0]:
            best = (without, bound, total, mixed)
    assert best is not None
    return best


@pytest.mark.parametrize("kinds", [2, 3, 4, 5])
@pytest.mark.parametrize("extra", [0, 1, 3, 6])
def test_the_search_finds_what_a_plain_one_finds(kinds: int, extra: int) -> None:
    for seed in range(6):
        bearings, shells = engine(seed, 3 + seed % 3, kinds, extra)
        found = fit.choose_for_all(bearings, shells, BAND)
        mixed = sum(choice.mixed for choice in found.choices.values())
        assert (len(found.unsupplied), found.worst_miss, found.total_miss, mixed) == plain(
            bearings, shells
        )


def test_prices_do_not_mislead_the_search() -> None:
    """The bound gives back the prices of halves that are left over: an answer found late must not
    be taken for a cheaper one on their account (the sum was 0.071 while it was)."""
    bearings, shells = engine(8, 6, 6, 0)
    found = fit.choose_for_all(bearings, shells, BAND)
    assert found.total_miss == plain(bearings, shells)[2] == Decimal("0.068")


def test_a_crank_with_tight_stock_is_searched_soon() -> None:
    """Ten bearings, seven kinds, not one half to spare: far too many ways to try one by one."""
    bearings, shells = engine(3, 10, 7, 0)
    found = fit.choose_for_all(bearings, shells, BAND)
    assert len(found.choices) + len(found.unsupplied) == 10
    used = sum(shell.on_hand for shell in shells) - sum(found.remaining.values())
    assert used == 2 * len(found.choices)
