"""Between which leaves or settings the simulated builder finds a size."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulators.feelers import (
    Found,
    with_a_leaf_hidden,
    with_leaves,
    with_settings,
    with_stacks,
)

FAN = [Decimal(leaf) for leaf in ("0.05", "0.10", "0.15", "0.20", "0.25", "0.30")]


def test_the_thickest_leaf_that_goes_and_the_next_that_does_not() -> None:
    assert with_leaves(0.17, FAN) == Found(
        Decimal("0.15"), Decimal("0.20"), (Decimal("0.15"),), (Decimal("0.10"), Decimal("0.20"))
    )


def test_a_leaf_as_thick_as_the_gap_goes() -> None:
    assert with_leaves(0.25, FAN).lower == Decimal("0.25")


def test_at_the_ends_of_the_fan_one_side_is_not_known() -> None:
    assert with_leaves(0.02, FAN) == Found(None, Decimal("0.05"))
    widest = with_leaves(0.90, FAN)
    assert (widest.lower, widest.upper) == (Decimal("0.30"), None)
    assert widest.beside == (Decimal("0.25"), None)


@given(st.floats(0.001, 0.6))
def test_the_gap_lies_in_what_was_found_and_stacks_only_narrow_it(gap: float) -> None:
    single = with_leaves(gap, FAN)
    finer = with_stacks(gap, FAN, single)
    for found in (single, finer):
        assert found.lower is None or float(found.lower) <= gap
        assert found.upper is None or float(found.upper) > gap
        assert found.leaves == () or sum(found.leaves) == found.lower
    assert finer.lower is not None or single.lower is None
    assert (finer.lower or 0) >= (single.lower or 0)
    assert single.upper is None or (finer.upper is not None and finer.upper <= single.upper)


def test_two_stacked_leaves_say_so_with_the_neighbours_of_the_outermost() -> None:
    fan = [Decimal("0.03"), Decimal("0.04"), *FAN, Decimal("0.35")]
    finer = with_stacks(0.336, fan, with_leaves(0.336, fan))
    assert (finer.lower, finer.upper) == (Decimal("0.33"), Decimal("0.34"))
    assert sorted(finer.leaves) == [Decimal("0.03"), Decimal("0.30")]
    assert finer.beside == (None, Decimal("0.35"))


def test_a_hidden_leaf_shows_by_its_neighbours() -> None:
    found = with_a_leaf_hidden(0.27, FAN)
    assert found is not None
    # 0.10 with 0.15 behind it went into 0.27; 0.10 was read, seen between 0.05 and 0.20.
    assert found.leaves == (Decimal("0.10"),)
    assert found.beside == (Decimal("0.05"), Decimal("0.20"))
    assert with_a_leaf_hidden(0.12, FAN) is None


def test_at_the_end_of_the_fan_a_hidden_leaf_leaves_no_neighbour() -> None:
    found = with_a_leaf_hidden(9.0, FAN)
    assert found is not None
    assert found.leaves == (Decimal("0.25"),)
    assert found.beside == (Decimal("0.20"), None)


def test_settings_are_raised_until_it_turns() -> None:
    ends = (Decimal("1.0"), Decimal("10.0"))
    found = with_settings(3.2, Decimal("0.5"), ends, lambda setting: setting)
    assert (found.lower, found.upper) == (Decimal("3.0"), Decimal("3.5"))
    # A tool that clicks 10 % low is set higher for the same torque.
    low = with_settings(3.2, Decimal("0.5"), ends, lambda setting: 0.9 * setting)
    assert (low.lower, low.upper) == (Decimal("3.5"), Decimal("4.0"))
    assert with_settings(0.5, Decimal("0.5"), ends, float).lower is None
    assert with_settings(99.0, Decimal("0.5"), ends, float).upper is None


@pytest.mark.parametrize(
    ("found", "body"),
    [
        (
            with_leaves(0.17, FAN),
            {"lower": "0.15", "upper": "0.20", "leaves": ["0.15"], "beside": ["0.10", "0.20"]},
        ),
        (with_leaves(0.01, FAN), {"lower": None, "upper": "0.05"}),
        (Found(Decimal("3.0"), Decimal("3.5")), {"lower": "3.0", "upper": "3.5"}),
    ],
)
def test_what_is_typed(found: Found, body: dict[str, object]) -> None:
    assert found.to_body() == body
