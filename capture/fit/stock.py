"""Shells for all bearings at once, from a limited stock.

Bearings compete for the same halves, two each, so this is no plain assignment; it is searched
exactly, branch by branch, in whole numbers. A branch is left where even the best halves for every
bearing still to come could not make it better than the best found, or where the same stock was
left over at the same bearing at no greater cost before. Of equal answers the first in the order of
the branches is kept, so that the same parts always give the same answer.

What the bearings to come cost at least is told with a *price* on every half (Lagrange's bound):
choices cost their misses and the prices of their halves, and the prices of the whole stock are
given back. That is never too much, whatever the prices, so they may be found in floating point
(by linear programming) and rounded: they only make the search short.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Final, NamedTuple

from capture.fit.band import checked, target_of
from capture.fit.select import Limits
from capture.fit.shells import Bearings, Choice, Shell, ranked, usable, wanted_total
from capture.fit.whole import Key, step_of, steps, total
from capture.quantity import Number


class Unsupplied(NamedTuple):
    """A bearing for which no halves are left that give a clearance in the band."""

    bearing: Key
    wanted_total: Number
    """What two halves together should be thick to meet the target."""
    nearest: Choice | None
    """The best choice of the whole stock, as if no other bearing needed any; None: no halves."""


class Selection(NamedTuple):
    """Shells for all bearings, in the order in which they were given."""

    choices: dict[Key, Choice]
    unsupplied: tuple[Unsupplied, ...]
    remaining: dict[str, int]
    """What is left on hand, by name of the shell."""

    @property
    def worst_miss(self) -> Number:
        """0 where nothing is chosen."""
        misses = [choice.miss for choice in self.choices.values()]
        return max(misses, default=Decimal(0))

    @property
    def total_miss(self) -> Number:
        return total(choice.miss for choice in self.choices.values())


def choose_for_all(
    bearings: Bearings, shells: Sequence[Shell], band: Limits, target: Number | None = None
) -> Selection:
    """Shells for as many bearings as can have a clearance in the band at once; of those choices the
    one whose worst miss of the target is least; then the least sum of misses; then the fewest mixed
    pairs. Proved to be best, whatever the stock.

    Same arguments and errors as ``choose_shells``, bearings by name or number.
    """
    limits = checked(band)
    aim = target_of(limits, target)
    usable(shells)
    every: dict[Key, tuple[Choice, ...]] = {
        key: ranked(bearing, shells, limits, aim) for key, bearing in bearings.items()
    }
    fitting = {key: [one for one in some if one.within] for key, some in every.items()}
    found = _search(fitting, {shell.name: shell.on_hand for shell in shells})
    remaining = {shell.name: shell.on_hand for shell in shells}
    for choice in found.values():
        remaining[choice.upper] -= 1
        remaining[choice.lower] -= 1
    return Selection(
        {key: found[key] for key in every if key in found},
        tuple(
            Unsupplied(key, wanted_total(bearing, aim), every[key][0] if every[key] else None)
            for key, bearing in bearings.items()
            if key not in found
        ),
        remaining,
    )


def _search(fitting: dict[Key, list[Choice]], stock: dict[str, int]) -> dict[Key, Choice]:
    """The least worst miss by bisection, then the least sum under it."""
    order = sorted(fitting, key=lambda key: len(fitting[key]))
    misses = sorted({choice.miss for some in fitting.values() for choice in some})
    if not misses:
        return {}
    fewest = _Branches(fitting, order, stock, misses[-1])
    low, high = 0, len(misses) - 1
    while low < high:
        middle = (low + high) // 2
        if _Branches(fitting, order, stock, misses[middle], known=fewest.cost).found:
            high = middle
        else:
            low = middle + 1
    least = _Branches(fitting, order, stock, misses[low], least_sum=True)
    return _Branches(
        fitting, order, stock, misses[low], least_sum=True, known=least.cost, in_order=True
    ).choices()


class _Option(NamedTuple):
    cost: int
    upper: int
    lower: int
    """Places in the stock."""
    choice: Choice


_FINE: Final = 1024
"""Costs are counted in this fraction of a step, so that rounded prices are good ones."""


class _Branches:
    """One search among choices whose miss is at most ``bound``, for the least cost: the fewest
    bearings without shells and, for ``least_sum``, the least sum of misses.

    ``known``: no cost is less than this, and it is asked only which way costs as little. The
    cheapest options, prices included, are tried first (quicker), or ``in_order`` (the answer does
    then not depend on the prices).
    """

    def __init__(
        self,
        fitting: dict[Key, list[Choice]],
        order: list[Key],
        stock: dict[str, int],
        bound: Number,
        *,
        least_sum: bool = False,
        known: int | None = None,
        in_order: bool = False,
    ) -> None:
        self.order = order
        names = {name: place for place, name in enumerate(stock)}
        step = step_of([choice.miss for some in fitting.values() for choice in some])

        def cost(choice: Choice) -> int:
            if not least_sum:
                return 0
            # misses first, mixed pairs where the misses are equal
            return _FINE * (steps(choice.miss, step) * (len(order) + 1) + choice.mixed)

        self.options = [
            [
                _Option(cost(choice), names[choice.upper], names[choice.lower], choice)
                for choice in fitting[key]
                if choice.miss <= bound
            ]
            for key in order
        ]
        self.without = _FINE + sum(max((o.cost for o in some), default=0) for some in self.options)
        """The cost of a bearing without shells: more than all others together."""
        left = tuple(stock.values())
        self.prices = _prices(self.options, left, self.without)
        least = [min([self.without, *map(self._priced, some)]) for some in self.options]
        self.at_least = [sum(least[at:]) for at in range(len(least) + 1)]
        if not in_order:
            for some in self.options:
                some.sort(key=self._priced)
        self.cost = _FINE + (self.without * len(order) if known is None else known)
        self.floor = 0 if known is None else known
        self.found: list[_Option | None] = []
        self.seen: dict[tuple[int, tuple[int, ...]], int] = {}
        worth = sum(price * count for price, count in zip(self.prices, left, strict=True))
        self._branch(0, left, worth, 0, [])

    def choices(self) -> dict[Key, Choice]:
        pairs = zip(self.order, self.found, strict=True)
        return {key: option.choice for key, option in pairs if option is not None}

    def _priced(self, option: _Option) -> int:
        return option.cost + self.prices[option.upper] + self.prices[option.lower]

    def _branch(
        self,
        at: int,
        stock: tuple[int, ...],
        worth: int,
        cost: int,
        taken: list[_Option | None],
    ) -> None:
        """``worth``: the prices of the whole ``stock``."""
        if cost + self.at_least[at] - worth > self.cost - _FINE or self.cost <= self.floor:
            return
        if at == len(self.order):
            if cost < self.cost:
                self.cost, self.found = cost, list(taken)
            return
        enough = 2 * (len(self.order) - at)  # more than that is as good as any number
        state = (at, tuple(min(count, enough) for count in stock))
        if self.seen.get(state, self.cost) <= cost:
            return
        self.seen[state] = cost
        for option in self.options[at]:
            left = list(stock)
            left[option.upper] -= 1
            left[option.lower] -= 1
            if min(left[option.upper], left[option.lower]) >= 0:
                rest = worth - self._priced(option) + option.cost
                self._branch(at + 1, tuple(left), rest, cost + option.cost, [*taken, option])
        self._branch(at + 1, stock, worth, cost + self.without, [*taken, None])


def _prices(options: list[list[_Option]], stock: tuple[int, ...], without: int) -> list[int]:
    """A price for a half of every kind: the shadow prices of the same question with halves that
    can be divided."""
    import numpy as np
    from scipy.optimize import linprog
    from scipy.sparse import coo_array

    flat = [(at, option) for at, some in enumerate(options) for option in some]
    if not flat:
        return [0] * len(stock)
    # A column for each option, then one for each bearing left without.
    columns = np.arange(len(flat))
    kinds = np.array([[option.upper, option.lower] for _, option in flat])
    taken = coo_array(
        (np.ones(2 * len(flat)), (kinds.T.ravel(), np.tile(columns, 2))),
        shape=(len(stock), len(flat) + len(options)),
    )
    bearings = [*(at for at, _ in flat), *range(len(options))]
    one_each = coo_array(
        (np.ones(len(bearings)), (bearings, np.arange(len(bearings)))),
        shape=(len(options), len(bearings)),
    )
    costs = [option.cost / without for _, option in flat] + [1.0] * len(options)
    answer = linprog(
        costs, A_ub=taken.tocsr(), b_ub=stock, A_eq=one_each.tocsr(), b_eq=np.ones(len(options))
    )
    if answer.status != 0:
        return [0] * len(stock)
    return [max(0, round(-float(price) * without)) for price in answer.ineqlin.marginals]
