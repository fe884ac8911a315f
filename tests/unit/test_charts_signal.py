"""The rules by which a point stands out."""

from __future__ import annotations

from itertools import groupby

from hypothesis import given
from hypothesis import strategies as st

from capture.charts.signal import ROW, Signal, signals


def marks(points: list[float], signal: Signal, *, rows: bool = True) -> list[int]:
    found = signals(points, 0.0, -3.0, 3.0, rows=rows)
    return [at for at, broken in enumerate(found) if signal in broken]


def test_a_point_on_a_limit_is_inside() -> None:
    assert marks([3.0, -3.0, 3.001, 0.0, -3.001], Signal.BEYOND) == [2, 4]


def test_the_seventh_on_one_side_is_marked_and_those_after_it() -> None:
    assert marks([0.5] * 6, Signal.SIDE) == []
    assert marks([-0.5, *[0.5] * 8, -0.5], Signal.SIDE) == [7, 8]
    assert marks([-0.5] * 7, Signal.SIDE) == [6]


def test_a_point_on_the_centre_line_ends_a_row() -> None:
    assert marks([*[0.5] * 6, 0.0, *[0.5] * 6], Signal.SIDE) == []


def test_the_seventh_that_rises_is_marked() -> None:
    rise = [-1.0, -0.8, -0.6, 0.1, 0.2, 0.3, 0.4]
    assert marks(rise, Signal.TREND) == [6]
    assert marks(rise[1:], Signal.TREND) == []
    assert marks([-value for value in rise], Signal.TREND) == [6]
    assert marks([*rise[:3], rise[2], *rise[3:]], Signal.TREND) == []  # a level step ends it


def test_rows_are_not_asked_of_ranges() -> None:
    assert marks([0.5] * 9, Signal.SIDE, rows=False) == []
    assert marks([4.0], Signal.BEYOND, rows=False) == [0]


@given(st.lists(st.sampled_from([-1.0, 0.0, 1.0]), max_size=40))
def test_rows_are_those_that_grouping_finds(points: list[float]) -> None:
    wanted: list[int] = []
    at = 0
    for side, row in groupby(points):
        length = len(list(row))
        wanted += range(at + ROW - 1, at + length) if side else ()
        at += length
    assert marks(points, Signal.SIDE) == wanted
