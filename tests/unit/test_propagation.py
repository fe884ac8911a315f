"""Propagation: reproducible draws, edges, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from capture.propagation import Drawn, FirstOrder, Input, Shape, agrees, first_order, monte_carlo
from capture.uncertainty import Budget

ONE = Input("x", 2.0, 0.1)


def test_the_same_word_gives_the_same_draws() -> None:
    one, same = (monte_carlo(sum, [ONE, ONE], "word", 5000) for _ in range(2))
    assert one == same
    assert monte_carlo(sum, [ONE, ONE], "another", 5000) != one


def test_draws_do_not_change_from_version_to_version() -> None:
    """Pinned: a record made with a word is made again years later."""
    drawn = monte_carlo(lambda v: v[0], [Input("x", 0.0, 1.0, Shape.RECTANGULAR)], "pinned", 1000)
    assert drawn.mean == pytest.approx(PINNED_MEAN, rel=1e-12)


PINNED_MEAN = -0.03850952064170258


def test_inputs_are_drawn_apart() -> None:
    """A difference of two alike inputs is not nothing."""
    drawn = monte_carlo(lambda v: v[0] - v[1], [ONE, ONE], "apart", 50_000)
    assert drawn.standard_uncertainty == pytest.approx(0.1 * math.sqrt(2), rel=0.02)


def test_the_shortest_interval_of_a_skewed_result() -> None:
    """The square of a standard normal: the shortest interval begins at nothing."""
    drawn = monte_carlo(lambda v: v[0] ** 2, [Input("x", 0.0, 1.0)], "skewed", 200_000)
    assert drawn.shortest_lower == pytest.approx(0.0, abs=1e-3)
    assert drawn.shortest_upper == pytest.approx(3.841, abs=0.05)  # chi-square, memory
    assert drawn.shortest_upper - drawn.shortest_lower < drawn.upper - drawn.lower


def test_a_constant_model() -> None:
    drawn = monte_carlo(lambda v: 7.0, [ONE], "constant", 1000)
    assert (drawn.mean, drawn.standard_uncertainty, drawn.lower, drawn.upper) == (
        7.0,
        0.0,
        7.0,
        7.0,
    )
    first = first_order(lambda v: 7.0, [ONE])
    assert first.budget.standard_uncertainty == 0.0
    assert agrees(first, drawn, 2.0)


def test_an_input_known_exactly_does_not_contribute() -> None:
    first = first_order(sum, [ONE, Input("y", 1.0, 0.0)])
    assert first.sensitivities == pytest.approx((1.0, 0.0))
    assert first.budget.standard_uncertainty == pytest.approx(0.1)


def test_sensitivities_keep_their_sign() -> None:
    first = first_order(lambda v: v[0] - 3 * v[1], [ONE, ONE])
    assert first.sensitivities == pytest.approx((1.0, -3.0))
    assert [one.standard_uncertainty for one in first.budget.contributions] == pytest.approx(
        [0.1, 0.3]
    )


def test_a_large_value_with_a_small_uncertainty() -> None:
    """A step of u/100 would vanish in the value's last digits."""
    first = first_order(lambda v: v[0] / 3, [Input("x", 1e9, 1e-6)])
    assert first.sensitivities[0] == pytest.approx(1 / 3, rel=1e-7)


def test_agreement_is_to_half_of_the_second_digit() -> None:
    first = FirstOrder(10.0, (), Budget((), 0.12, math.inf))  # half of a second digit: 0.005
    drawn = Drawn(10.0, 0.12, 0.95, 9.76, 10.24, 9.76, 10.24, 1000)
    assert agrees(first, drawn, 2.0)
    assert agrees(first, drawn._replace(lower=9.7555), 2.0)
    assert not agrees(first, drawn._replace(lower=9.754), 2.0)


def test_draws_that_reach_where_there_is_no_number_are_refused() -> None:
    with pytest.raises(ValueError, match=r"\d+ of 1000 draws gave no number"):
        monte_carlo(lambda v: np.log(v[0]), [Input("x", 0.1, 0.1)], "log", 1000)
    with pytest.raises(ValueError, match="the model gives"):
        first_order(lambda v: math.inf, [ONE])


@pytest.mark.parametrize(
    ("odd", "why"),
    [
        (Input("odd", math.nan, 1.0), "value of odd"),
        (Input("odd", 1.0, -1.0), "standard uncertainty of odd"),
        (Input("odd", 1.0, math.inf), "standard uncertainty of odd"),
        (Input("odd", 1.0, 1.0, degrees_of_freedom=0.0), "degrees of freedom of odd"),
    ],
)
def test_impossible_inputs_are_errors(odd: Input, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        first_order(sum, [odd])
    with pytest.raises(ValueError, match=why):
        monte_carlo(sum, [odd], "odd", 1000)


@pytest.mark.parametrize(
    ("trials", "probability", "why"),
    [(999, 0.95, "999 trials"), (10**7, 0.95, "trials"), (1000, 1.0, "between 0 and 1")],
)
def test_impossible_wishes_are_errors(trials: int, probability: float, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        monte_carlo(sum, [ONE], "word", trials, probability)
