"""Small cases and refusals of the statistics under studies, charts and capability."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture.quantity import Number
from capture.spec.model import Limits
from capture.study.anova import one_way, two_way
from capture.study.bias import bias, fit
from capture.study.capability import capability, performance, summary
from capture.study.charts import individuals, mean_and_deviation, mean_and_range
from capture.study.constants import c4, chart_factors, d2, d2_star
from capture.study.crossed import components, one_sample
from capture.study.interval import Interval, Term, interval, satterthwaite
from capture.study.moments import lag_one, mean, moments
from capture.study.plain import plain
from capture.study.ranges import factors
from capture.study.wording import shown


def numbers(text: str) -> list[Number]:
    return [Decimal(digits) for digits in text.split()]


def test_moments_of_few_readings() -> None:
    assert moments(numbers("2 4 9")) == (3, 5.0, 13**0.5)
    assert moments(numbers("7.25")) == (1, 7.25, 0.0)
    assert mean([Fraction(1, 3), Decimal("0.5")]) == Fraction(5, 12)
    assert lag_one(numbers("1 1 1")) is None
    assert lag_one(numbers("1 2")) == -0.5


def test_points_outside_are_counted_from_one_and_a_point_on_the_limit_is_inside() -> None:
    chart = individuals(numbers("10 10.1 10 10.1 10 10.1 10 10.1 10 10.1 12 10"))
    assert chart.location.outside == (11,)
    assert chart.scatter.outside == (10, 11)
    flat = mean_and_range([numbers("5.1 5.1"), numbers("5.1 5.1"), numbers("5.1 5.1")])
    assert flat.location.outside == flat.scatter.outside == ()
    assert flat.location.upper == flat.location.lower == 5.1


def test_a_sample_apart_is_outside_of_both_kinds_of_chart() -> None:
    samples = [numbers("1.0 1.1 1.2")] * 9 + [numbers("2.0 2.1 2.2")]
    for found in (mean_and_range(samples), mean_and_deviation(samples)):
        assert found.location.outside == (10,)
        assert found.scatter.outside == ()


def test_one_sided_capability_names_what_it_can() -> None:
    found = summary(50, 1.0, 0.1, Limits(None, Decimal("1.6")), Decimal(1))
    assert [one.name for one in found.indices] == ["Cpu", "Cpk"]
    assert found.of("Cpk").value == pytest.approx(2.0)
    with pytest.raises(KeyError):
        found.of("Cp")


def test_capability_looks_inside_samples_and_performance_at_all() -> None:
    """Two samples 1 apart, each with s² 0.02: pooled s² 0.02; of all, more."""
    samples = [numbers("1.0 1.2"), numbers("2.0 2.2")]
    limits = Limits(Decimal(0), Decimal(3))
    inside = capability(samples, limits)
    assert inside.standard_deviation == pytest.approx(0.02**0.5)
    assert inside.degrees_of_freedom == 2
    whole = performance([value for sample in samples for value in sample], limits)
    assert whole.of("Ppk").value < inside.of("Cpk").value
    assert whole.of("Ppk").value == pytest.approx(1.4 / (3 * (1.04 / 3) ** 0.5))


def test_a_sample_measured_by_one_and_by_more() -> None:
    alone = one_sample([numbers("1.0 1.2 1.4")])
    assert [one.id for one in alone.components] == ["repeatability", "gauge"]
    assert alone.of("repeatability").standard_deviation == pytest.approx(0.2)
    assert alone.sizes_told_apart is None
    both = one_sample([numbers("1.0 1.2"), numbers("2.0 2.2")])
    assert both.of("repeatability").standard_deviation ** 2 == pytest.approx(0.02)
    assert both.of("between_appraisers").standard_deviation ** 2 == pytest.approx((1 - 0.02) / 2)


def test_terms_without_weight_do_not_count() -> None:
    assert interval([Term(1, 2.0, 5), Term(0, 9.0, 3)]) == interval([Term(1, 2.0, 5)])
    assert satterthwaite([Term(1, 1.0, 5), Term(-1, 2.0, 5)]) is None
    assert interval([Term(1, 0.0, 5)]) == Interval(0.0, 0.0)


def test_a_bias_just_beyond_its_interval_is_one() -> None:
    """s 0.1 of three readings: the interval reaches 4.303 × 0.1/√3 = 0.2484 either way (t of 2
    degrees of freedom, any table)."""
    found = {ref: bias(Decimal(ref), numbers("1.0 1.1 1.2")) for ref in ("0.86", "0.84", "1.34")}
    assert found["0.86"].high == pytest.approx(0.24 + 0.2484, abs=0.0001)
    assert [one.zero_inside for one in found.values()] == [True, False, True]
    single = bias(Decimal(1), numbers("1.5"))
    assert single[1:] == (1, 0.5, 0.0, None, None, None, None)


def test_numbers_are_shown_without_exponents() -> None:
    got = [shown(value) for value in (0.000012345, 1234567.0, 0.0, -0.5, 99.96)]
    assert got == ["0.0000123", "1230000", "0", "-0.500", "100"]


def test_plain_data() -> None:
    assert plain({"a": (Decimal("1.5"), Fraction(1, 4), float("inf"), None, True)}) == {
        "a": [1.5, 0.25, None, None, True]
    }
    assert plain(Interval(1.0, float("nan"))) == {"low": 1.0, "high": None}
    with pytest.raises(TypeError, match="set is no plain data"):
        plain({1})


LIMITS = Limits(Decimal(0), Decimal(2))
PAIRS = [numbers("1 2"), numbers("2 3")]


@pytest.mark.parametrize(
    ("act", "says"),
    [
        (lambda: mean([]), "at least one reading"),
        (lambda: moments([Decimal("Infinity")]), "not a finite number"),
        (lambda: lag_one(numbers("1")), "at least two readings, not 1"),
        (lambda: d2(1), "2 to 1000 values, not 1"),
        (lambda: chart_factors(1001), "2 to 1000 values, not 1001"),
        (lambda: d2_star(0, 2), "at least one range, not 0"),
        (lambda: c4(1), "at least two values, not 1"),
        (lambda: factors(3, 10, 1), "two trials or more"),
        (lambda: one_way([numbers("1 2")]), "two groups or more"),
        (lambda: one_way([numbers("1 2"), []]), "two groups or more"),
        (lambda: one_way([numbers("1"), numbers("2")]), "a second reading"),
        (lambda: components(one_way([numbers("1 2"), numbers("1 2 3")])), "groups of equal size"),
        (lambda: two_way([PAIRS, [numbers("1 2")]]), "equally often"),
        (lambda: two_way([PAIRS, [numbers("1 2"), numbers("1")]]), "equally often"),
        (lambda: two_way([]), "equally often"),
        (lambda: two_way([PAIRS]), "not 1, 2 and 2"),
        (lambda: one_sample([numbers("1")]), "two trials or more"),
        (lambda: interval([]), "at least one degree of freedom"),
        (lambda: interval([Term(1, 1.0, 0)]), "at least one degree of freedom"),
        (lambda: interval([Term(-1, 1.0, 2), Term(1, 1.0, 2)]), "Intervals are known here"),
        (lambda: bias(Decimal(1), []), "at least one reading"),
        (lambda: fit(numbers("1 2"), numbers("1 2")), "three points or more"),
        (lambda: fit(numbers("1 1 1"), numbers("1 2 3")), "references of different sizes"),
        (lambda: mean_and_range([numbers("1 2")]), "two samples or more"),
        (lambda: mean_and_range([numbers("1 2"), numbers("1")]), "two samples or more"),
        (lambda: mean_and_deviation([numbers("1"), numbers("1")]), "two samples or more"),
        (lambda: individuals(numbers("1 2")), "three values or more, not 2"),
        (lambda: performance(numbers("1"), LIMITS), "two readings or more, not 1"),
        (lambda: performance(numbers("1 1"), LIMITS), "readings do not differ"),
        (lambda: capability([numbers("1"), numbers("2")], LIMITS), "one with two"),
        (lambda: performance(numbers("1 2"), Limits(None, None)), "a lower or an upper limit"),
        (lambda: performance(numbers("1 2"), Limits(Decimal(2), Decimal(2))), "is not above"),
        (lambda: summary(1, 1.0, 0.1, LIMITS), "two readings or more, not 1"),
    ],
)
def test_what_cannot_be_computed_is_refused(act: object, says: str) -> None:
    assert callable(act)
    with pytest.raises(ValueError, match=says):
        act()
