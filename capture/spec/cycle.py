"""Circles in a graph of what waits for what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence


def cycles(graph: Mapping[str, Sequence[str]]) -> list[list[str]]:
    """Every group of nodes that all wait for each other, and every node that waits for itself.

    ``graph`` maps a node to those it waits for, all of them nodes. Each group in the order of
    ``graph``. The strongly connected components of R. E. Tarjan, "Depth-first search and linear
    graph algorithms", SIAM J. Comput. 1 (1972), from memory, with the recursion unrolled so that
    a long chain cannot exhaust the stack.
    """
    place = {node: position for position, node in enumerate(graph)}
    index: dict[str, int] = {}
    low: dict[str, int] = {}
    open_: list[str] = []
    is_open: set[str] = set()
    groups: list[list[str]] = []
    for root in graph:
        if root in index:
            continue
        work = [(root, iter(graph[root]))]
        index[root] = low[root] = len(index)
        open_.append(root)
        is_open.add(root)
        while work:
            node, rest = work[-1]
            for other in rest:
                if other not in index:
                    index[other] = low[other] = len(index)
                    open_.append(other)
                    is_open.add(other)
                    work.append((other, iter(graph[other])))
                    break
                if other in is_open:
                    low[node] = min(low[node], index[other])
            else:
                work.pop()
                if work:
                    above = work[-1][0]
                    low[above] = min(low[above], low[node])
                if low[node] == index[node]:
                    group = _take(open_, is_open, node)
                    if len(group) > 1 or node in graph[node]:
                        groups.append(sorted(group, key=place.__getitem__))
    return groups


def _take(open_: list[str], is_open: set[str], node: str) -> list[str]:
    group = []
    while True:
        other = open_.pop()
        is_open.discard(other)
        group.append(other)
        if other == node:
            return group
