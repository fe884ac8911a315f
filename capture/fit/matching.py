"""The best matching of rows to columns, exactly: as many allowed pairs as can be, then the least
worst cost, then the least sum of costs.

Which pairs can be had under a bound is asked of Hopcroft and Karp's matching
(``scipy.sparse.csgraph``), the bound found by bisection over the costs that occur; the least sum
is a linear assignment (``scipy.optimize``, after Crouse, IEEE Trans. Aerosp. Electron. Syst. 52,
2016). Costs are whole numbers. The linear assignment counts in binary floating point, which is
exact for whole numbers below 2⁵³; where a sum could reach that, the assignment is made here in
whole numbers of any size instead, slowly.
"""

from __future__ import annotations

from typing import Any, Final

_EXACT_BELOW: Final = 2**53
_WORD: Final = 2**62


def array(numbers: Any) -> Any:
    """Whole numbers, in a (nested) sequence, as an array: of 64-bit words where they fit, else of
    Python's own integers, so that nothing overflows."""
    import numpy as np

    large = np.array(numbers, dtype=object)
    if large.size == 0 or max(abs(number) for number in large.flat) < _WORD // 4:
        return large.astype(np.int64)
    return large


def best(costs: Any, allowed: Any, *, worst_first: bool = True) -> list[tuple[int, int]]:
    """Pairs (row, column) by row, each row and column at most once.

    ``costs``: array (rows, columns) of whole numbers ≥ 0; ``allowed``: the same of bool. As many
    pairs as can be allowed; of those matchings the one whose greatest cost is least (not asked
    where not ``worst_first``); of those the one with the least sum. Where several are equal the
    order of rows and columns decides, always in the same way.
    """
    if not allowed.any():
        return []
    if worst_first:
        allowed = allowed & (costs <= _least_bound(costs, allowed))
    return _least_sum(costs, allowed)


def size(allowed: Any) -> int:
    """How many pairs can be had at once."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import maximum_bipartite_matching

    # Its 32-bit graph is of the smaller side's rows: quicker, and the size is the same.
    graph = csr_array(allowed if allowed.shape[0] <= allowed.shape[1] else allowed.T)
    return int((maximum_bipartite_matching(graph, perm_type="column") >= 0).sum())


def _least_bound(costs: Any, allowed: Any) -> Any:
    """The least bound under which as many pairs can be had as without one."""
    import numpy as np

    most = size(allowed)
    steps = np.unique(costs[allowed])
    low = int(np.searchsorted(steps, _floor(costs, allowed, most)))
    high = len(steps) - 1
    while low < high:
        middle = (low + high) // 2
        if size(allowed & (costs <= steps[middle])) == most:
            high = middle
        else:
            low = middle + 1
    return steps[low]


def _floor(costs: Any, allowed: Any, most: int) -> Any:
    """A bound that the answer is not below: where every row (or column) is matched, each of them
    costs at least its cheapest pair."""
    import numpy as np

    floors = [costs[allowed].min()]
    beyond = costs.max() + 1
    dear = np.where(allowed, costs, beyond)
    if most == costs.shape[0]:
        floors.append(dear.min(axis=1).max())
    if most == costs.shape[1]:
        floors.append(dear.min(axis=0).max())
    return max(floors)


def _least_sum(costs: Any, allowed: Any) -> list[tuple[int, int]]:
    """The largest matching of allowed pairs with the least sum of costs."""
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    pairs = min(costs.shape)
    dearest = int(costs[allowed].max())
    # One pair that is not allowed costs more than all allowed ones together, so there are as few
    # of them as can be.
    forbidden = dearest * pairs + 1
    if forbidden * (pairs + 1) < _EXACT_BELOW:
        whole = np.where(allowed, costs, forbidden).astype(np.float64)
        rows, columns = linear_sum_assignment(whole)
        found = list(zip(rows.tolist(), columns.tolist(), strict=True))
    else:
        found = whole_assignment(
            [
                [int(cost) if may else forbidden for cost, may in zip(*line, strict=True)]
                for line in zip(costs.tolist(), allowed.tolist(), strict=True)
            ]
        )
    return [(row, column) for row, column in found if allowed[row, column]]


def whole_assignment(costs: list[list[int]]) -> list[tuple[int, int]]:
    """The assignment with the least sum, in whole numbers of any size: shortest augmenting paths
    with potentials (Kuhn; Munkres; the form of Jonker and Volgenant, 1987), O(rows² × columns)."""
    if len(costs) > len(costs[0]):
        turned = whole_assignment([list(column) for column in zip(*costs, strict=True)])
        return sorted((row, column) for column, row in turned)
    columns = len(costs[0])
    of_row, of_column = [0] * len(costs), [0] * columns  # potentials
    held: list[int | None] = [None] * columns  # the row that each column has
    for new in range(len(costs)):
        _augment(costs, new, of_row, of_column, held)
    return sorted((row, column) for column, row in enumerate(held) if row is not None)


def _augment(
    costs: list[list[int]],
    new: int,
    of_row: list[int],
    of_column: list[int],
    held: list[int | None],
) -> None:
    """Gives the row ``new`` a column, moving others along the cheapest path that ends free."""
    columns = range(len(held))
    before: list[int | None] = [None] * len(held)  # column the path came from; None: from new
    distance: dict[int, int] = {}  # of columns seen, not done
    done: dict[int, int] = {}
    row, at, so_far = new, None, 0
    while True:
        for column in columns:
            if column in done:
                continue
            step = so_far + costs[row][column] - of_row[row] - of_column[column]
            if column not in distance or step < distance[column]:
                distance[column] = step
                before[column] = at
        at = min(distance, key=lambda column: (distance[column], column))
        so_far = done[at] = distance.pop(at)
        taker = held[at]
        if taker is None:
            break
        row = taker
    of_row[new] += so_far
    for column, reached in done.items():
        of_column[column] -= so_far - reached
        owner = held[column]
        if owner is not None:
            of_row[owner] += so_far - reached
    while at is not None:
        came = before[at]
        held[at] = new if came is None else held[came]
        at = came
