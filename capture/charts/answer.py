"""Control charts as plain data, for front ends: digits as text, each rounded once, here."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

from capture.charts.chart import ControlChart, LeftOut, Point
from capture.charts.gather import Sort
from capture.charts.subgroup import Form, Together
from capture.quantity import Number, brief, exact, text
from capture.study.charts import Chart

Data = dict[str, Any]
UNLIKELY = 0.001
"""Below this chance, builds are said to differ by more than the scatter inside them explains."""
MORE_PLACES = 2
"""Decimals of computed values beyond those of the values they come from."""
PLACES_MOST = 6
"""Of what values come with, as many are taken as meant."""


def summary(chart: ControlChart) -> Data:
    """A chart in a list of charts."""
    places = _places(chart)
    out = [at for at, one in enumerate(chart.points, 1) if one.signals or one.spread_signals]
    return {
        "quantity": chart.quantity,
        "title": chart.newest.title,
        "sort": chart.newest.sort.value,
        "unit": chart.newest.unit,
        "form": chart.form.value,
        "builds": len(chart.points),
        "limits_computed": chart.location is not None,
        "trial": chart.trial,
        "signals": len(out),
        "newest": _point(chart.points[-1], places),
        "means": [_mean(one, places.computed) for one in chart.points],
        "stands_out": out,
        "lower": None if chart.location is None else _text(chart.location.lower, places.computed),
        "upper": None if chart.location is None else _text(chart.location.upper, places.computed),
    }


def whole(chart: ControlChart) -> Data:
    """A chart with all its points."""
    places, newest, chance = _places(chart), chart.newest, chart.chance()
    return {
        "quantity": chart.quantity,
        "title": newest.title,
        "sort": newest.sort.value,
        "unit": newest.unit,
        "position": newest.position,
        "together": chart.together.value,
        "size": len(chart.points[-1].subgroup.values),
        "points_each": newest.points,
        "form": chart.form.value,
        "forms": [form.value for form in chart.forms],
        "trial": chart.trial,
        "control": _control(chart.location, places.computed),
        "spread_control": _control(chart.spread, places.computed),
        "standard_deviation": _maybe(chart.standard_deviation, places.computed),
        "size_limits": [
            {**one._asdict(), "revisions": list(one.revisions)} for one in chart.limits
        ],
        "follows": newest.follows or None,
        "chance": None if chance is None else _chance(chance),
        "builds_differ": chance is not None and chance < UNLIKELY,
        "points": [_point(one, places) for one in chart.points],
        "left_out": [_left_out(one) for one in chart.left_out],
    }


def _chance(chance: float) -> str:
    """Two digits; what is less than one in a million is told as that."""
    return format(Decimal(f"{max(chance, 1e-6):.2g}"), "f")


def _point(one: Point, places: Places) -> Data:
    return {
        "build": one.gathered.build,
        "title": one.gathered.title,
        "opened_at": one.gathered.opened_at,
        "revision": one.gathered.revision,
        "mean": _mean(one, places.computed),
        "spread": _spread(one, places),
        "values": _values(one, places.computed),
        "signals": [signal.value for signal in one.signals],
        "spread_signals": [signal.value for signal in one.spread_signals],
    }


def _mean(one: Point, places: int) -> str:
    """With the digits of the value where there is only one."""
    mean = one.subgroup.mean
    return brief(mean, places) if len(one.measured.values) == 1 else text(mean, places)


def _values(one: Point, places: int) -> list[Data]:
    """Each with the readings, and the entries, that it comes from."""
    group = one.subgroup
    each = len(one.measured.values) // len(group.values)
    found = []
    for at, (name, value) in enumerate(zip(group.names, group.values, strict=True)):
        of = one.measured.values[at * each : (at + 1) * each]
        found.append(
            {
                "name": name,
                "value": brief(value, places) if each == 1 else text(value, places),
                "readings": [press for single in of for press in single.presses],
                "entry": max(single.entry for single in of),
            }
        )
    return found


def _left_out(one: LeftOut) -> Data:
    return {"build": one.gathered.build, "title": one.gathered.title, "why": one.why}


def _control(chart: Chart | None, places: int) -> Data | None:
    if chart is None:
        return None
    names = ("centre", "lower", "upper")
    return {name: _text(getattr(chart, name), places) for name in names}


def _spread(one: Point, places: Places) -> str | None:
    value = one.spread
    if value is None or isinstance(value, float):
        return _maybe(value, places.computed)
    return text(value, places.spread)


def _maybe(value: float | None, places: int) -> str | None:
    return None if value is None else _text(value, places)


def _text(value: float, places: int) -> str:
    return text(Decimal(value), places)


class Places(NamedTuple):
    """Decimals that are shown."""

    computed: int
    """Of means and limits: more than those values have that they come from."""
    spread: int
    """Of ranges: those of single readings need no more than the readings have."""


def _places(chart: ControlChart) -> Places:
    newest = chart.newest
    most = max(_decimals(one.value) for point in chart.points for one in point.measured.values)
    if newest.sort is Sort.DERIVED:  # it comes with decimals of its own already
        return Places(most + 1, most + 1)
    computed = most + MORE_PLACES
    of_means = chart.form is Form.INDIVIDUALS and len(newest.values) > 1
    averaged = chart.together is Together.SISTERS and newest.points > 1
    return Places(computed, computed if of_means or averaged else most)


def _decimals(value: Number) -> int:
    ended = exact(value)
    if not isinstance(ended, Decimal):
        return PLACES_MOST
    exponent = ended.as_tuple().exponent
    assert isinstance(exponent, int)
    return min(max(0, -exponent), PLACES_MOST)
