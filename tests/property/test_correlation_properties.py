"""What must hold of every combination of sizes, whatever they share."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from capture import shapes, slopes
from capture.correlation import Sourced, combined
from capture.spec.model import Basis, Point

US = st.floats(0.0, 1.0).filter(lambda u: u == 0.0 or u > 1e-6)
SHARED = st.dictionaries(st.sampled_from("abc"), US, max_size=3).map(lambda d: tuple(d.items()))
RATES = st.fractions(min_value=-3, max_value=3, max_denominator=12)
TERMS = st.lists(st.tuples(RATES, st.builds(Sourced, US, SHARED)), max_size=6)
POINTS = [Point(depth, axis) for depth in ("top", "middle", "bottom") for axis in ("a", "b")]
SIZES = st.lists(
    st.integers(-3, 3).map(lambda n: Fraction(n, 1000) + 88), min_size=6, max_size=6
).map(lambda values: dict(zip(POINTS, values, strict=True)))


@given(TERMS, st.randoms())
def test_order_does_not_matter(terms: list[tuple[Fraction, Sourced]], draw: object) -> None:
    shuffled = list(terms)
    draw.shuffle(shuffled)  # type: ignore[attr-defined]  # hypothesis gives a Random
    assert combined(shuffled) == combined(terms)


@given(TERMS)
def test_no_surer_than_its_own_shares_and_no_less_sure_than_everything_against_it(
    terms: list[tuple[Fraction, Sourced]],
) -> None:
    own = combined([(rate, Sourced(size.own)) for rate, size in terms])
    worst = sum(
        abs(float(rate)) * (size.own + sum(u for _, u in size.shared)) for rate, size in terms
    )
    assert own * (1 - 1e-12) <= combined(terms) <= worst * (1 + 1e-12)


@given(TERMS, st.sampled_from([Fraction(127, 5), Fraction(5, 127), Fraction(-1)]))
def test_a_change_of_unit_scales_it(terms: list[tuple[Fraction, Sourced]], scale: Fraction) -> None:
    scaled = combined([(rate * scale, size) for rate, size in terms])
    assert scaled == pytest.approx(combined(terms) * abs(float(scale)), rel=1e-9, abs=1e-12)


def valued(rates: dict[Point, slopes.Slope], sizes: dict[Point, Fraction]) -> Fraction:
    return sum((rates[point] * sizes[point] for point in rates), Fraction(0))


@given(SIZES)
def test_slopes_of_form_give_its_value(sizes: dict[Point, Fraction]) -> None:
    """All of these are linear in the sizes that decide: slopes times sizes is the quantity."""
    for shape, slope in (
        (shapes.taper, slopes.taper),
        (shapes.out_of_round, slopes.out_of_round),
        (shapes.cylindricity, slopes.cylindricity),
    ):
        rates = slope(sizes)
        assert valued(rates, sizes) == shape(sizes)
        assert sorted(rates.values()) == [-1, 0, 0, 0, 0, 1]
    assert valued(dict.fromkeys(sizes, slopes.mean(6)), sizes) == shapes.mean(list(sizes.values()))


@given(SIZES, SIZES, st.sampled_from(Basis))
def test_slopes_of_a_clearance_give_its_value(
    outer: dict[Point, Fraction], inner: dict[Point, Fraction], basis: Basis
) -> None:
    above, below = slopes.clearance(outer, inner, basis)
    found = valued(above, outer) + valued(below, inner)
    assert found == shapes.clearance(list(outer.values()), list(inner.values()), basis)
    assert (sum(above.values()), sum(below.values())) == (1, -1)
