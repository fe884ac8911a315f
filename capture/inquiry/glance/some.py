"""The first of many, without hiding what needs a look."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import TypeVar

from capture.inquiry.glance.shape import Some

T = TypeVar("T")


def some(items: Sequence[T], most: int) -> Some[T]:
    """The first ``most`` of them."""
    return Some(tuple(items[:most]), max(0, len(items) - most))


def numbers(count: int, urgent: Iterable[int], most: int) -> list[int]:
    """At most ``most`` of the numbers from 1 to ``count``, ascending: the urgent ones before
    others, and of each the lowest."""
    if count <= most:
        return list(range(1, count + 1))
    wanted = set(sorted(urgent)[:most])
    rest = (number for number in range(1, count + 1) if number not in wanted)
    return sorted(wanted.union(islice(rest, most - len(wanted))))
