"""Fewer samples that look the same: of each column its ends, its smallest and its largest."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from capture.trace.samples import Floats, Whole


def thinned(across: Floats, up: Floats, columns: int, keep: Iterable[int] = ()) -> Whole:
    """Indices of the samples to draw, in order.

    ``across`` from 0 to 1 and never falling. In each of ``columns`` the first, the last, the
    smallest and the largest are kept, so that a line through them covers what a line through all
    covers; and whatever ``keep`` names.
    """
    import numpy as np

    count = len(across)
    column = np.minimum((across * columns).astype(np.int64), columns - 1)
    starts = np.flatnonzero(np.concatenate(([True], column[1:] != column[:-1])))
    if len(starts) * 4 >= count:
        return np.arange(count)
    ends = np.concatenate((starts[1:], [count])) - 1
    order = np.lexsort((up, column))
    # Sorted by column, then by height: a column's first is its smallest, its last its largest.
    named = np.array([at for at in keep if 0 <= at < count], dtype=np.int64)
    return np.unique(np.concatenate((starts, ends, order[starts], order[ends], named)))
