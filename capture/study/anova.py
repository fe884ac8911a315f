"""Analysis of variance, with exact sums of squares.

One way: groups of readings, of equal size or not. Two ways: every appraiser has measured every
sample the same number of times. Sums of squares are exact fractions of the decimals as read, so
that constant leading digits cost nothing; floats are made of them at the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from capture.quantity import Number
from capture.study.moments import whole
from capture.study.quantile import fisher_tail

Cells = Sequence[Sequence[Sequence[Number]]]
"""Readings by appraiser, sample and trial."""


class Line(NamedTuple):
    """One line of the table."""

    source: str
    sum_of_squares: float
    degrees_of_freedom: int
    mean_square: float
    f: float | None = None
    """Its mean square over the one it is tested against; None where it is not, or that is 0."""
    p: float | None = None
    """How often chance alone gives an F as large."""


class OneWay(NamedTuple):
    """Between the groups, within them, and both."""

    between: Line
    within: Line
    total: Line
    size: float
    """Readings a group; of unequal groups the size that stands for them, (N − Σn²/N)/(k − 1)."""
    balanced: bool


class TwoWay(NamedTuple):
    """Appraisers and samples crossed, with and without their interaction."""

    appraiser: Line
    sample: Line
    interaction: Line
    """Tested against ``repeat``; the two above against it."""
    repeat: Line
    total: Line
    pooled: Line
    """Interaction and repeat taken together."""
    appraiser_pooled: Line
    """Tested against ``pooled``."""
    sample_pooled: Line
    shape: tuple[int, int, int]
    """Appraisers, samples, trials."""


def one_way(groups: Sequence[Sequence[Number]]) -> OneWay:
    """Analysis of variance of groups of readings.

    Raises ValueError where there are fewer than two groups, one is empty, or none has two readings.
    """
    sizes = [len(group) for group in groups]
    count, kinds = sum(sizes), len(sizes)
    if kinds < 2 or min(sizes) < 1:
        raise ValueError("Analysis of variance takes two groups or more, each with a reading.")
    if count == kinds:
        raise ValueError("Analysis of variance takes a second reading in one group at least.")
    numbers, denominator = whole([value for group in groups for value in group])
    starts = [sum(sizes[:at]) for at in range(kinds)]
    sums = [sum(numbers[at : at + size]) for at, size in zip(starts, sizes, strict=True)]
    scale = denominator * denominator
    all_square = Fraction(sum(numbers) ** 2, count)
    group_squares = sum(
        (Fraction(part * part, size) for part, size in zip(sums, sizes, strict=True)), Fraction(0)
    )
    raw = sum(number * number for number in numbers)
    between = _Exact("between", (group_squares - all_square) / scale, kinds - 1)
    within = _Exact("within", (raw - group_squares) / scale, count - kinds)
    total = _Exact("total", (raw - all_square) / scale, count - 1)
    standing = (count - sum(size * size for size in sizes) / count) / (kinds - 1)
    return OneWay(
        _test(between, within), _float(within), _float(total), standing, len(set(sizes)) == 1
    )


def two_way(cells: Cells) -> TwoWay:
    """Analysis of variance of a crossed study.

    Raises ValueError unless there are at least two appraisers, two samples and two trials, and
    every appraiser measured every sample equally often.
    """
    shape = shape_of(cells)
    appraisers, samples, trials = shape
    if min(shape) < 2:
        raise ValueError(
            "Two-way analysis takes two appraisers, two samples and two trials or more, not "
            f"{appraisers}, {samples} and {trials}."
        )
    numbers, denominator = whole([value for row in cells for cell in row for value in cell])
    scale = denominator * denominator
    sums = [
        [sum(numbers[at : at + trials]) for at in range(row, row + samples * trials, trials)]
        for row in range(0, len(numbers), samples * trials)
    ]
    squares = _Squares(sums, trials, sum(n * n for n in numbers))
    appraiser = _Exact("appraiser", squares.appraiser / scale, appraisers - 1)
    sample = _Exact("sample", squares.sample / scale, samples - 1)
    both = _Exact("interaction", squares.interaction / scale, (appraisers - 1) * (samples - 1))
    repeat = _Exact("repeat", squares.repeat / scale, appraisers * samples * (trials - 1))
    total = _Exact("total", squares.total / scale, len(numbers) - 1)
    pooled = _Exact("pooled", both.squares + repeat.squares, both.df + repeat.df)
    return TwoWay(
        appraiser=_test(appraiser, both),
        sample=_test(sample, both),
        interaction=_test(both, repeat),
        repeat=_float(repeat),
        total=_float(total),
        pooled=_float(pooled),
        appraiser_pooled=_test(appraiser, pooled),
        sample_pooled=_test(sample, pooled),
        shape=shape,
    )


def shape_of(cells: Cells) -> tuple[int, int, int]:
    """Appraisers, samples and trials. Raises ValueError where a cell is missing or of another
    length than the first."""
    samples = {len(row) for row in cells}
    trials = {len(cell) for row in cells for cell in row}
    if len(samples) != 1 or len(trials) != 1 or 0 in samples | trials:
        raise ValueError(
            "Every appraiser has to measure every sample equally often: measure what is missing, "
            "or leave out the sample that is not complete."
        )
    return len(cells), samples.pop(), trials.pop()


class _Squares:
    """Exact sums of squares from the sums of cells of whole numbers."""

    def __init__(self, sums: list[list[int]], trials: int, raw: int) -> None:
        appraisers, samples = len(sums), len(sums[0])
        rows = [sum(row) for row in sums]
        columns = [sum(column) for column in zip(*sums, strict=True)]
        middle = Fraction(sum(rows) ** 2, appraisers * samples * trials)
        by_cell = Fraction(sum(cell * cell for row in sums for cell in row), trials)
        self.appraiser = Fraction(sum(row * row for row in rows), samples * trials) - middle
        self.sample = Fraction(sum(one * one for one in columns), appraisers * trials) - middle
        self.interaction = by_cell - middle - self.appraiser - self.sample
        self.repeat = raw - by_cell
        self.total = raw - middle


class _Exact(NamedTuple):
    source: str
    squares: Fraction
    df: int


def _float(line: _Exact) -> Line:
    return Line(line.source, float(line.squares), line.df, float(line.squares / line.df))


def _test(line: _Exact, against: _Exact) -> Line:
    """The line with its F and p; where nothing varies in what it is tested against, p is 0 if it
    varies itself, and unknown if it does not."""
    if not against.squares:
        return _float(line)._replace(p=0.0 if line.squares else None)
    f = float((line.squares / line.df) / (against.squares / against.df))
    return _float(line)._replace(f=f, p=fisher_tail(f, line.df, against.df))
