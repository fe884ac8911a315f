"""Budgets: what goes in, how it is combined and expanded."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from capture.errors import UnitError
from capture.instrument import Calibration, Instrument
from capture.quantity import text
from capture.uncertainty import (
    Contribution,
    Setting,
    combine,
    coverage_factor,
    expand,
    lines,
    mean_of_shared,
    repeated,
    root_sum,
    single,
    student_factor,
)

MICROMETER = Instrument(
    id="micrometer-1",
    kind="micrometer",
    unit="mm",
    resolution=Decimal("0.001"),
    port="test",
    profile="decimal-line",
    calibration=Calibration("C-1", "2030-01-01", Decimal("0.002"), Decimal(2)),
)
BORE_GAUGE = replace(MICROMETER, id="bore-gauge-1", kind="bore-gauge", comparative=True)
RING = Setting("ring-1", Decimal("87.000"), "mm", Decimal("0.0015"), Decimal(2))
STEP = Decimal("0.001")
ROOT_12 = math.sqrt(12)


def test_a_micrometer_brings_its_calibration_and_its_resolution() -> None:
    budget = single(MICROMETER, STEP, "mm", None)
    assert budget is not None
    assert [one.name for one in budget.contributions] == ["calibration", "resolution"]
    assert budget.contributions[0].standard_uncertainty == 0.001
    assert budget.contributions[1].standard_uncertainty == pytest.approx(0.001 / ROOT_12, rel=1e-15)
    assert budget.standard_uncertainty == pytest.approx(math.hypot(0.001, 0.001 / ROOT_12))
    assert budget.degrees_of_freedom == math.inf


def test_a_comparative_gauge_also_brings_its_setting_standard() -> None:
    budget = single(BORE_GAUGE, STEP, "mm", RING)
    assert budget is not None
    assert [one.name for one in budget.contributions] == [
        "calibration",
        "resolution",
        "setting standard",
    ]
    assert budget.contributions[2].standard_uncertainty == 0.00075


def test_an_absolute_gauge_does_not_take_a_setting() -> None:
    assert single(MICROMETER, STEP, "mm", RING) == single(MICROMETER, STEP, "mm", None)


@pytest.mark.parametrize(
    "setting",
    [None, RING._replace(expanded_uncertainty=None), RING._replace(coverage_factor=None)],
)
def test_a_comparative_gauge_without_a_stated_standard_is_not_established(
    setting: Setting | None,
) -> None:
    assert single(BORE_GAUGE, STEP, "mm", setting) is None


def test_without_a_calibration_nothing_is_established() -> None:
    assert single(replace(MICROMETER, calibration=None), STEP, "mm", None) is None


def test_the_coarser_of_sent_and_own_resolution_counts() -> None:
    finer = single(MICROMETER, Decimal("0.0001"), "mm", None)
    coarser = single(MICROMETER, Decimal("0.01"), "mm", None)
    assert finer is not None
    assert coarser is not None
    assert finer == single(MICROMETER, STEP, "mm", None)
    assert coarser.contributions[1].standard_uncertainty == pytest.approx(0.01 / ROOT_12)


def test_the_budget_is_in_the_unit_asked_for() -> None:
    in_mm = single(BORE_GAUGE, STEP, "mm", RING)
    in_um = single(BORE_GAUGE, STEP, "µm", RING)
    assert in_mm is not None
    assert in_um is not None
    assert in_um.standard_uncertainty == pytest.approx(1000 * in_mm.standard_uncertainty, rel=1e-14)


def test_a_standard_and_a_sent_resolution_in_another_unit_are_converted() -> None:
    ring = Setting("ring-2", Decimal("3.5"), "in", Decimal("0.0001"), Decimal(2))
    budget = single(BORE_GAUGE, Decimal("0.0005"), "mm", ring, sent_unit="in")
    assert budget is not None
    assert budget.contributions[1].standard_uncertainty == pytest.approx(0.0127 / ROOT_12)
    assert budget.contributions[2].standard_uncertainty == 0.00127


def test_a_unit_of_another_dimension_is_an_error() -> None:
    with pytest.raises(UnitError):
        single(MICROMETER, STEP, "N·m", None)


@pytest.mark.parametrize("k", ["0", "-2"])
def test_a_coverage_factor_must_be_positive(k: str) -> None:
    calibration = Calibration("C-1", "2030-01-01", Decimal("0.002"), Decimal(k))
    with pytest.raises(ValueError, match="coverage factor of the calibration"):
        single(replace(MICROMETER, calibration=calibration), STEP, "mm", None)


def test_repeats_add_the_standard_deviation_of_their_mean() -> None:
    base = combine([Contribution("calibration", 0.001, math.inf)])
    budget = repeated(base, [Decimal("10.001"), Decimal("10.003"), Decimal("10.005")])
    added = budget.contributions[-1]
    assert added.name == "repeatability"
    assert added.standard_uncertainty == pytest.approx(0.002 / math.sqrt(3), rel=1e-15)
    assert added.degrees_of_freedom == 2
    assert budget.standard_uncertainty == pytest.approx(math.hypot(0.001, 0.002 / math.sqrt(3)))
    shares = added.standard_uncertainty / budget.standard_uncertainty
    assert budget.degrees_of_freedom == pytest.approx(2 / shares**4)


def test_repeats_that_agree_add_nothing() -> None:
    base = combine([Contribution("calibration", 0.001, math.inf)])
    budget = repeated(base, [Decimal("10.001")] * 3)
    assert budget.standard_uncertainty == base.standard_uncertainty
    assert budget.degrees_of_freedom == math.inf


def test_repeats_may_be_fractions() -> None:
    base = combine([])
    budget = repeated(base, [Fraction(1, 3), Decimal(1)])
    assert budget.standard_uncertainty == pytest.approx(1 / 3)


@pytest.mark.parametrize("count", [0, 1])
def test_repeatability_takes_two_values(count: int) -> None:
    with pytest.raises(ValueError, match=f"not {count}"):
        repeated(combine([]), [Decimal(1)] * count)


def test_a_budget_of_nothing_is_nothing() -> None:
    budget = combine([])
    assert (budget.standard_uncertainty, budget.degrees_of_freedom) == (0.0, math.inf)


def test_the_order_of_contributions_does_not_change_a_bit() -> None:
    listed = [Contribution(str(n), 0.1 * n + 1e-9, float(n + 1)) for n in range(12)]
    one, other = combine(listed), combine(reversed(listed))
    assert one.standard_uncertainty == other.standard_uncertainty
    assert one.degrees_of_freedom == other.degrees_of_freedom


def test_tiny_uncertainties_keep_their_degrees_of_freedom() -> None:
    budget = combine([Contribution("a", 1e-120, 4.0), Contribution("b", 1e-120, 4.0)])
    assert budget.degrees_of_freedom == pytest.approx(8.0)


@pytest.mark.parametrize(("u", "degrees"), [(-1.0, 1.0), (math.nan, 1.0), (math.inf, 1.0)])
def test_an_impossible_uncertainty_is_an_error(u: float, degrees: float) -> None:
    with pytest.raises(ValueError, match="standard uncertainty of odd"):
        combine([Contribution("odd", u, degrees)])


@pytest.mark.parametrize("degrees", [0.0, -1.0, math.nan])
def test_impossible_degrees_of_freedom_are_an_error(degrees: float) -> None:
    with pytest.raises(ValueError, match="degrees of freedom of odd"):
        combine([Contribution("odd", 1.0, degrees)])


def test_root_sum() -> None:
    assert root_sum([3.0, 4.0]) == 5.0
    assert root_sum([]) == 0.0


def test_the_mean_of_shared_errors_is_no_surer_than_they_are() -> None:
    assert mean_of_shared([0.002] * 6) == pytest.approx(0.002)
    assert mean_of_shared([0.001, 0.003]) == pytest.approx(0.002)
    with pytest.raises(ValueError, match="at least one"):
        mean_of_shared([])


@pytest.mark.parametrize(
    ("u", "k", "expected"),
    [
        (0.001, "2", "0.0020"),  # the float is a little above a thousandth: no digit is raised
        (0.1 + 0.2, "1", "0.30"),
        (0.00121, "2", "0.0025"),
        (0.00125000001, "2", "0.0026"),
        (0.00995, "1", "0.010"),
        (0.0000312, "2", "0.000063"),
        (1.0, "2", "2.0"),
        (61.5, "2", "130"),
        (9.95, "1", "10"),
        (1234.0, "2", "2500"),
        (0.0, "2", "0"),
        (1e-9, "2", "0.0000000020"),
    ],
)
def test_expand_rounds_up_to_two_digits(u: float, k: str, expected: str) -> None:
    assert text(expand(u, Decimal(k))) == expected


@pytest.mark.parametrize("u", [-0.1, math.nan, math.inf])
def test_expand_refuses_impossible_uncertainties(u: float) -> None:
    with pytest.raises(ValueError, match="standard uncertainty"):
        expand(u, Decimal(2))


def test_expand_refuses_a_coverage_factor_that_is_not_positive() -> None:
    with pytest.raises(ValueError, match="coverage factor"):
        expand(1.0, Decimal(0))


def test_lines_list_the_largest_share_first() -> None:
    budget = combine(
        [
            Contribution("resolution", 0.3, math.inf),
            Contribution("repeatability", 0.4, 4.0),
            Contribution("drift", 0.0, math.inf),
        ]
    )
    listed = lines(budget, Decimal("2.5"))
    assert [line.name for line in listed] == ["repeatability", "resolution", "drift"]
    assert [line.standard_uncertainty for line in listed] == [0.4, 0.3, 0.0]
    assert [line.expanded_uncertainty for line in listed] == [1.0, 0.75, 0.0]
    assert [line.share for line in listed] == pytest.approx([0.64, 0.36, 0.0])
    assert [line.degrees_of_freedom for line in listed] == [4.0, None, None]


def test_lines_of_a_budget_of_nothing() -> None:
    assert lines(combine([]), Decimal(2)) == []
    (line,) = lines(combine([Contribution("resolution", 0.0, math.inf)]), Decimal(2))
    assert line.share == 0.0
    with pytest.raises(ValueError, match="coverage factor is 0"):
        lines(combine([]), Decimal(0))


def test_a_coverage_factor_follows_the_effective_degrees_of_freedom() -> None:
    few = combine([Contribution("repeatability", 0.001, 2.0)])
    assert coverage_factor(few, 0.95) == student_factor(0.95, 2) > 4
    assert coverage_factor(combine([]), 0.95) == pytest.approx(1.95996, abs=1e-5)


def test_degrees_of_freedom_are_cut_to_the_whole_number_below() -> None:
    assert student_factor(0.95, 16.99) == student_factor(0.95, 16) > student_factor(0.95, 17)
    assert student_factor(0.95, 1000.5) == student_factor(0.95, 1000)


@pytest.mark.parametrize("probability", [0.0, 1.0, -0.5, math.nan])
def test_a_coverage_probability_is_a_share(probability: float) -> None:
    with pytest.raises(ValueError, match="coverage probability"):
        student_factor(probability, 5)


@pytest.mark.parametrize("degrees", [0.0, 0.99, -1.0, math.nan])
def test_less_than_one_degree_of_freedom_is_an_error(degrees: float) -> None:
    with pytest.raises(ValueError, match="degrees of freedom are not enough"):
        student_factor(0.95, degrees)
