"""Shares of uncertainty that sizes have in common."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from capture.correlation import Sourced, combined, contributions, sourced

ONE = Fraction(1)
GAUGE = ("gauge", 0.004)
RING = ("ring", 0.003)


def test_what_is_shared_is_taken_out_of_the_own_share() -> None:
    found = sourced(0.005, (GAUGE,))
    assert found.own == pytest.approx(0.003)
    assert found.shared == (GAUGE,)
    assert sourced(0.005, ()) == Sourced(0.005, ())


def test_the_own_share_is_never_below_nothing() -> None:
    assert sourced(0.005, (GAUGE, RING)).own == pytest.approx(0.0, abs=1e-10)
    assert sourced(0.0049, (GAUGE, RING)).own == 0.0


@pytest.mark.parametrize("u", [-0.1, math.nan, math.inf])
def test_impossible_uncertainties_are_errors(u: float) -> None:
    with pytest.raises(ValueError, match="standard uncertainty is"):
        sourced(u, ())
    with pytest.raises(ValueError, match="standard uncertainty is"):
        sourced(0.1, (("gauge", u),))


def test_what_is_shared_drops_out_of_a_difference_and_stays_in_a_mean() -> None:
    size = Sourced(0.0, (GAUGE, RING))
    assert combined([(ONE, size), (-ONE, size)]) == 0.0
    assert combined([(ONE / 2, size)] * 2) == pytest.approx(0.005)


def test_thirds_and_sixths_cancel_exactly() -> None:
    """As floats 6 × 1/6 − 3 × 1/3 of 0.1 would leave something."""
    size = Sourced(0.0, (("gauge", 0.1),))
    assert combined([(ONE / 6, size)] * 6 + [(-ONE / 3, size)] * 3) == 0.0


def test_different_sources_do_not_cancel() -> None:
    one, other = Sourced(0.0, (("gauge", 0.003),)), Sourced(0.0, (("another", 0.004),))
    assert combined([(ONE, one), (-ONE, other)]) == 0.005


def test_one_source_of_different_size_cancels_in_part() -> None:
    one, other = Sourced(0.0, (("gauge", 0.005),)), Sourced(0.0, (("gauge", 0.002),))
    assert combined([(ONE, one), (-ONE, other)]) == pytest.approx(0.003)
    assert combined([(1, one), (1, other)]) == pytest.approx(0.007)


def test_own_shares_add_as_squares() -> None:
    assert combined([(1, Sourced(0.003)), (-1, Sourced(0.004))]) == 0.005
    assert combined([]) == 0.0
    assert combined([(0, Sourced(1.0, (GAUGE,)))]) == 0.0


def test_the_order_does_not_change_a_bit() -> None:
    terms = [
        (Fraction(n, 7), Sourced(0.001 * n + 1e-9, (("a", 0.1 + n / 3), ("b", 0.7 / n))))
        for n in range(1, 12)
    ]
    assert combined(terms) == combined(reversed(terms))


def test_contributions_are_what_is_combined() -> None:
    terms = [
        ("bore", ONE, Sourced(0.001, (GAUGE, RING))),
        ("spare", 0 * ONE, Sourced(0.5, (("odd", 0.5),))),
        ("piston", -ONE / 2, Sourced(0.002, (GAUGE,))),
    ]
    found = contributions(terms)
    assert found == [
        ("gauge", pytest.approx(0.002)),
        ("ring", 0.003),
        ("bore", 0.001),
        ("piston", 0.001),
    ]
    whole = combined((rate, size) for _, rate, size in terms)
    assert whole == pytest.approx(math.sqrt(sum(u * u for _, u in found)))
