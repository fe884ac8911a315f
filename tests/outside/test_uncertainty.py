"""Uncertainty budgets against the GUM's examples, other published ones and two libraries.

MU-11 and MU-12 (a logarithmic model) and MU-06 by drawing are in ``test_propagation``.
"""

from __future__ import annotations

import csv
import math
import os
import random
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from capture.correlation import combined, sourced
from capture.quantity import Number, text
from capture.shapes import mean
from capture.type_b import arcsine, certificate, percent, rectangular, triangular
from capture.uncertainty import (
    Budget,
    Contribution,
    combine,
    coverage_factor,
    expand,
    lines,
    mean_of_shared,
    repeated,
    root_sum,
    student_factor,
)

NOTHING = combine([])
INF = math.inf

# GUM (JCGM 100) H.1, end gauge: inputs as in MSLNZ/GTC docs/API/GUM_H1.rst commit 6d606b14 (seen).
LENGTH = 50_000_623.0  # nm
COMPARATOR = [
    Contribution("repeat observations", 5.8, 24.0),
    Contribution("random effects of the comparator", 3.9, 5.0),
    Contribution("systematic effects of the comparator", 6.7, 8.0),
]
EXPANSION_DIFFERENCE = LENGTH * 0.1 * rectangular(1e-6)
TEMPERATURE_DIFFERENCE = LENGTH * 11.5e-6 * rectangular(0.05)


def end_gauge() -> Budget:
    return combine(
        [
            Contribution("standard", 25.0, 18.0),
            *COMPARATOR,
            Contribution("difference of expansion", EXPANSION_DIFFERENCE, 50.0),
            Contribution("difference of temperature", TEMPERATURE_DIFFERENCE, 2.0),
        ]
    )


def test_mu_01_gum_h1_combined_and_effective_degrees_of_freedom() -> None:
    """u = 32 nm (31.7 unrounded), ν = 16.7, k99 = t99(16) = 2.92, U99 = 93 nm: GTC GUM_H1.rst; a
    second sight in a public test quoting JCGM 100 H.1 (seen)."""
    budget = end_gauge()
    assert budget.standard_uncertainty == pytest.approx(31.66, abs=0.005)
    assert budget.degrees_of_freedom == pytest.approx(16.75, abs=0.01)
    factor = coverage_factor(budget, 0.99)
    assert factor == pytest.approx(2.92, abs=0.005)
    assert factor * budget.standard_uncertainty == pytest.approx(93, abs=0.6)
    assert text(expand(budget.standard_uncertainty, Decimal("2.92"))) == "93"


def test_mu_01_the_temperature_that_swings() -> None:
    """GUM H.1.3.4 (seen as above): 0.2 °C of the test bed and a cycle of ±0.5 °C, arcsine: 0.41."""
    both = combine([Contribution("bed", 0.2, INF), Contribution("cycle", arcsine(0.5), INF)])
    assert both.standard_uncertainty == pytest.approx(0.41, abs=0.005)


def test_mu_02_gum_h1_contributions() -> None:
    """Contributions in nm, GTC GUM_H1.rst (seen)."""
    found = sorted((one.standard_uncertainty for one in end_gauge().contributions), reverse=True)
    expected = [25, 16.599, 6.7, 5.8, 3.9, 2.88679]
    assert found == pytest.approx(expected, abs=0.001)
    listed = lines(end_gauge(), Decimal(2))
    assert [line.standard_uncertainty for line in listed] == pytest.approx(expected, abs=0.001)
    assert [line.share for line in listed] == pytest.approx(
        [u * u / 31.66**2 for u in expected], abs=0.001
    )
    assert [line.degrees_of_freedom for line in listed] == [18, 2, 8, 24, 5, 50]


def test_mu_01_agrees_with_gtc_on_the_whole_nonlinear_model() -> None:
    """GTC 1.5 propagates the full model l = l_s + d − l_s(δα·θ + α_s·δθ); to first order it is our
    sum (the inputs with zero sensitivity, θ and α_s, drop out)."""
    from GTC import ureal

    standard = ureal(50_000_623, 25, 18)
    difference = ureal(215, 5.8, 24) + ureal(0, 3.9, 5) + ureal(0, 6.7, 8)
    expansion = ureal(11.5e-6, 2e-6 / math.sqrt(3))
    expansion_difference = ureal(0, 1e-6 / math.sqrt(3), 50)
    temperature_difference = ureal(0, 0.05 / math.sqrt(3), 2)
    deviation = ureal(-0.1, 0.2) + ureal(0, 0.5 / math.sqrt(2))
    length = (
        standard
        + difference
        - standard * (expansion_difference * deviation + expansion * temperature_difference)
    )
    budget = end_gauge()
    assert float(length.x) == pytest.approx(50_000_838)
    assert budget.standard_uncertainty == pytest.approx(float(length.u), rel=1e-9)
    assert budget.degrees_of_freedom == pytest.approx(float(length.df), rel=1e-9)


def test_mu_03_comparator_term_from_unrounded_inputs() -> None:
    """u 5.8 nm (ν 24); 10 nm at 95 % of Student's t, ν 5; 20 nm at k = 3, ν 8 → 9.7, 25.6: PyPI
    suncal 1.7.1 sdist test_examples.py test_GUMH1 (seen)."""
    pooled = combine(
        [
            COMPARATOR[0],
            Contribution("random effects", certificate(10, student_factor(0.95, 5)), 5.0),
            Contribution("systematic effects", certificate(20, 3), 8.0),
        ]
    )
    assert pooled.standard_uncertainty == pytest.approx(9.7, abs=0.05)
    assert pooled.degrees_of_freedom == pytest.approx(25.6, abs=0.05)


@pytest.mark.parametrize(
    ("probability", "degrees", "factor"),
    [
        (0.6827, 1, 1.84),
        (0.95, 1, 12.71),
        (0.9973, 5, 5.51),
        (0.90, 20, 1.72),
        (0.95, 16, 2.12),
        (0.9545, 16, 2.17),
        (0.99, 16, 2.92),
    ],
)
def test_mu_04_student_factors(probability: float, degrees: float, factor: float) -> None:
    """GUM Table G.2: PyPI suncal 1.7.1 sdist test/test_ttable.py, and a public file (seen)."""
    assert student_factor(probability, degrees) == pytest.approx(factor, abs=0.0051)


@pytest.mark.parametrize("probability", [0.5, 0.6827, 0.95, 0.9545, 0.99, 0.9973, 0.9999])
@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 7, 16, 50, 299, 300, 301, 1000, 10**6, 10**9])
def test_student_factors_agree_with_scipy(probability: float, degrees: int) -> None:
    from scipy.stats import norm, t

    expected = float(t.ppf(0.5 + probability / 2, degrees))
    assert student_factor(probability, degrees) == pytest.approx(expected, rel=1e-8)
    assert student_factor(probability, INF) == pytest.approx(
        float(norm.ppf(0.5 + probability / 2)), rel=1e-12
    )


def test_shapes_of_an_error_have_the_deviations_of_scipy() -> None:
    """GUM 4.3.7 and 4.3.9: a/√3, a/√6, and a/√2 for arcsine; scipy's own standard deviations."""
    from scipy import stats

    assert rectangular(0.05) == pytest.approx(stats.uniform(-0.05, 0.1).std(), rel=1e-12)
    assert triangular(0.05) == pytest.approx(stats.triang(0.5, -0.05, 0.1).std(), rel=1e-12)
    assert arcsine(0.05) == pytest.approx(stats.arcsine(-0.05, 0.1).std(), rel=1e-12)


def test_ck_06_turning_torque_bracket_with_the_deviation_of_the_tool() -> None:
    """GUM 4.3.7 twice (own derivation): between 18 and 20 N·m, tool ±4 % of 19: u = 0.7252."""
    tool = Contribution("tool", rectangular(percent(19, 4)), INF)
    budget = combine([Contribution("bracket", rectangular(1), INF), tool])
    assert budget.standard_uncertainty == pytest.approx(0.7252, abs=1e-4)


DAY_MEANS = (
    "10.000172 10.000116 10.000013 10.000144 10.000106 "
    "10.000031 10.000060 10.000125 10.000163 10.000041"
)
WITHIN_DAYS = (60, 77, 111, 101, 67, 93, 80, 73, 88, 86)  # µV


def test_mu_05_gum_h5_day_means_and_pooled_spread() -> None:
    """GUM Table H.9 and H.5 (volts): mean 10.000 097, s of the day means 57 µV, pooled s within
    days 85 µV, F = 2.25: PyPI suncal 1.7.1 sdist test_dataset.py test_anovameans (seen)."""
    days: list[Number] = [Decimal(digits) for digits in DAY_MEANS.split()]
    of_mean = repeated(NOTHING, days)
    between = of_mean.standard_uncertainty * math.sqrt(10)
    within = root_sum([s * 1e-6 for s in WITHIN_DAYS]) / math.sqrt(10)
    assert float(mean(days)) == pytest.approx(10.000097, abs=5e-7)
    assert between == pytest.approx(57e-6, abs=5e-7)
    assert within == pytest.approx(85e-6, abs=5e-7)
    assert 5 * between**2 / within**2 == pytest.approx(2.25, abs=0.02)
    assert of_mean.degrees_of_freedom == 9


def test_mu_06_sum_of_four_unit_terms() -> None:
    """JCGM 101 Tables 2 and 3: u = 2.0, ±3.92 for normal terms, ±3.88 for rectangular: PyPI suncal
    1.7.1 sdist test_examples.py test_montecarlo (seen). Ours states 3.92 for both, rounded up."""
    budget = combine([Contribution(str(n), 1.0, INF) for n in range(4)])
    assert budget.standard_uncertainty == pytest.approx(2.0)
    assert 1.96 * budget.standard_uncertainty == pytest.approx(3.92)
    assert float(expand(budget.standard_uncertainty, Decimal("1.96"))) == 4.0 >= 3.92 >= 3.88


def test_mu_07_pooled_repeatability() -> None:
    """itl.nist.gov/div898/handbook mpc444: sums of squares with 60 degrees of freedom each give
    0.1029 (seen)."""
    each = [math.sqrt(total / 60) for total in (0.48115, 0.69209, 0.48483, 1.21752, 0.30076)]
    assert root_sum(each) / math.sqrt(5) == pytest.approx(0.1029, abs=1e-5)


def test_mu_08_ea_4_02_s4_gauge_block() -> None:
    """EA-4/02 S4 budget in nm (memory; model and title seen in metrodata.de S04.smu): u = 36.4,
    U = 73 (rounded up like ours: 72.8)."""
    temperature = 50e6 * 11.5e-6 * 0.05 / math.sqrt(3)
    budget = combine(
        [
            Contribution(str(number), u, INF)
            for number, u in enumerate([15, 17.3, 5.37, 18.5, temperature, 11.8, 3.87])
        ]
    )
    assert budget.standard_uncertainty == pytest.approx(36.4, abs=0.1)
    assert text(expand(budget.standard_uncertainty, Decimal(2))) == "73"


@pytest.mark.parametrize(
    ("values", "centre", "variance"),
    [
        (
            "501 500 502 503 502 501 500 499 502 501 503 501 503 500 501 500 503 502 498 500",
            501.1,
            1.99,
        ),
        (
            "505 504 503 502 503 501 502 503 500 502 504 503 500 503 501 504 500 501 503 503",
            502.4,
            2.13,
        ),
    ],
)
def test_mu_09_repeatability_of_twenty_trials(values: str, centre: float, variance: float) -> None:
    """metrology-journal.org ijmqe200028 Table 2, FAC-1 and FAC-4, nm (seen)."""
    trials: list[Number] = [Decimal(word) for word in values.split()]
    budget = repeated(NOTHING, trials)
    assert float(mean(trials)) == pytest.approx(centre, abs=0.06)
    assert 20 * budget.standard_uncertainty**2 == pytest.approx(variance, abs=0.02)
    assert budget.degrees_of_freedom == 19


def test_mu_10_welch_satterthwaite_with_one_infinite() -> None:
    """PyPI suncal 1.7.1 sdist test_examples.py test_DEGF (seen): ν = 12.8."""
    budget = combine([Contribution("a", 0.57, 9.0), Contribution("b", 0.25, INF)])
    assert budget.degrees_of_freedom == pytest.approx(12.8, abs=0.1)


@pytest.mark.parametrize("case", range(20))
def test_budgets_agree_with_gtc(case: int) -> None:
    """GTC 1.5 as the second computer: combined u and Welch–Satterthwaite ν of random sums."""
    from GTC import ureal

    draw = random.Random(case)
    listed = [
        Contribution(str(n), 10 ** draw.uniform(-5, -2), draw.choice([2.0, 5.0, 9.0, 30.0, INF]))
        for n in range(draw.randint(1, 8))
    ]
    total: Any = sum(ureal(0, one.standard_uncertainty, one.degrees_of_freedom) for one in listed)
    budget = combine(listed)
    assert budget.standard_uncertainty == pytest.approx(float(total.u), rel=1e-12)
    if math.isinf(budget.degrees_of_freedom):
        assert all(math.isinf(one.degrees_of_freedom) for one in listed)
        assert total.df > 1e6
    else:
        assert budget.degrees_of_freedom == pytest.approx(float(total.df), rel=1e-9)


@pytest.mark.parametrize("shared", [0.0, 0.0004, 0.001, 0.003])
def test_sizes_of_one_gauge_against_a_model_that_knows_what_they_share(shared: float) -> None:
    """The package ``uncertainties`` as the second computer: six sizes with an error of their own
    and one in common. Our mean and difference are never surer than they truly are; the mean is
    exact where everything is shared, and the difference where nothing is."""
    from uncertainties import ufloat

    # its authors warn of a std_dev of zero, so the shared error is scaled instead
    gauge = shared * ufloat(0, 1)
    own = [0.0009, 0.0011, 0.0010, 0.0008, 0.0012, 0.0010]
    sizes = [ufloat(88.0, u) + gauge for u in own]
    us = [float(size.std_dev) for size in sizes]
    true_mean = float((sum(sizes) / len(sizes)).std_dev)
    true_difference = float((sizes[0] - sizes[1]).std_dev)
    assert mean_of_shared(us) >= true_mean
    assert root_sum(us[:2]) >= true_difference * (1 - 1e-12)
    if shared:
        assert root_sum(us[:2]) > true_difference
        alike = [88.0 + gauge for _ in own]
        assert mean_of_shared([shared] * 6) == pytest.approx(float((sum(alike) / 6).std_dev))
    if shared >= 0.001:
        assert root_sum(us) / 6 < 0.7 * true_mean  # why independence must not be assumed here


def _shared_case(case: int) -> tuple[list[float], list[float], list[dict[str, float]]]:
    """Random coefficients, own uncertainties, and uncertainties by source."""
    draw = random.Random(100 + case)
    count = draw.randint(2, 6)
    rates = [draw.choice([-1.0, 1.0, 0.5, -0.25, 2.0]) for _ in range(count)]
    own = [draw.uniform(0.0005, 0.002) for _ in range(count)]
    sources = [
        {name: draw.uniform(0.0002, 0.002) for name in "gsr" if draw.random() < 0.7}
        for _ in range(count)
    ]
    return rates, own, sources


def _covariances(own: list[float], sources: list[dict[str, float]]) -> list[list[float]]:
    return [
        [
            sum(a[name] * b[name] for name in a if name in b) + (own[i] ** 2 if i == j else 0.0)
            for j, b in enumerate(sources)
        ]
        for i, a in enumerate(sources)
    ]


def _ours(rates: list[float], own: list[float], sources: list[dict[str, float]]) -> float:
    sizes = []
    for u, by_source in zip(own, sources, strict=True):
        whole = root_sum([u, *by_source.values()])
        sizes.append(sourced(whole, tuple(by_source.items())))
    return combined(zip(map(Fraction, rates), sizes, strict=True))


@pytest.mark.parametrize("case", range(20))
def test_what_sizes_share_against_correlated_values(case: int) -> None:
    """The package ``uncertainties``, given the covariance of sizes with common sources (GUM
    5.2.2)."""
    from uncertainties import correlated_values

    rates, own, sources = _shared_case(case)
    values = correlated_values([88.0] * len(own), _covariances(own, sources))
    total = sum(rate * value for rate, value in zip(rates, values, strict=True))
    assert _ours(rates, own, sources) == pytest.approx(float(total.std_dev), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("case", range(20))
def test_what_sizes_share_against_correlation_coefficients_in_gtc(case: int) -> None:
    """GTC 1.5, told the correlation coefficient of every pair (GUM 5.2.2, equation 16)."""
    from GTC import set_correlation, ureal

    rates, own, sources = _shared_case(case)
    covariances = _covariances(own, sources)
    us = [math.sqrt(covariances[i][i]) for i in range(len(own))]
    values = [ureal(88.0, u, independent=False) for u in us]
    for i in range(len(us)):
        for j in range(i):
            set_correlation(covariances[i][j] / (us[i] * us[j]), values[i], values[j])
    total: Any = sum(rate * value for rate, value in zip(rates, values, strict=True))
    assert _ours(rates, own, sources) == pytest.approx(float(total.u), rel=1e-6)


def test_gum_5_2_2_ten_resistors_of_one_standard() -> None:
    """GUM (JCGM 100:2008) 5.2.2, example (memory): ten resistors of 1 kΩ, each calibrated against
    one standard with u = 100 mΩ, in series: u = 1 Ω and not 0.32 Ω."""
    resistor = sourced(0.100, (("standard", 0.100),))
    assert combined([(1, resistor)] * 10) == pytest.approx(1.0)
    assert root_sum([0.100] * 10) == pytest.approx(0.32, abs=0.005)


def _standard_deviation(values: list[Number]) -> float:
    return repeated(NOTHING, values).standard_uncertainty * math.sqrt(len(values))


@pytest.mark.parametrize(
    ("values", "centre", "s", "accuracy"),
    [
        (["10000001", "10000003", "10000002"], "10000002", 1.0, 1e-15),
        (["1000000.2", *["1000000.1", "1000000.3"] * 500], "1000000.2", 0.1, 1e-9),
    ],
)
def test_na_03_na_04_certified_mean_and_deviation(
    values: list[str], centre: str, s: float, accuracy: float
) -> None:
    """NIST StRD NumAcc1 and NumAcc3, certified values as in github ampl/gsl statistics/test_nist.c
    (seen)."""
    sizes: list[Number] = [Decimal(word) for word in values]
    assert mean(sizes) == Decimal(centre)
    assert _standard_deviation(sizes) == pytest.approx(s, rel=accuracy)


@pytest.mark.parametrize(
    ("file", "centre", "s", "accuracy"),
    [
        ("strd_lew.csv", "-177.435", 277.332168044316, 1e-14),
        ("strd_michelson.csv", "299.8524", 0.0790105478190518, 1e-13),
        ("strd_lottery.csv", "518.95871559633", 291.699727470969, 1e-14),
    ],
)
def test_na_01_na_02_na_05_certified_mean_and_deviation(
    file: str, centre: str, s: float, accuracy: float
) -> None:
    """NIST StRD Lew, Michelson, Lottery: certified to 15 digits, as in github ampl/gsl
    statistics/test_nist.c (seen); the accuracies allow for the certified values' own last digit."""
    folder = os.environ.get("OUTSIDE_DATA")
    path = Path(folder or "", file)
    if folder is None or not path.is_file():
        pytest.skip(f"{file} is not in the project: name its folder in OUTSIDE_DATA")
    rows = csv.reader(line for line in path.read_text().splitlines() if not line.startswith("#"))
    sizes: list[Number] = [Decimal(row[-1]) for row in rows if _is_number(row[-1])]
    places = len(centre.partition(".")[2])
    assert abs(Fraction(mean(sizes)) - Fraction(centre)) <= Fraction(1, 10**places)
    assert _standard_deviation(sizes) == pytest.approx(s, rel=accuracy)


def _is_number(word: str) -> bool:
    return word.strip().lstrip("-").replace(".", "", 1).isdecimal()
