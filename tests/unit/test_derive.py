"""Derived quantities on builds: what completes them, how sure they are, in which order they come.

Uncertainties are compared with those of the package ``uncertainties``, which knows what two of its
variables share.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from capture.build import Build, Fill
from capture.derive import (
    budget_of,
    clearances_at,
    derived_now,
    derived_results,
    if_moved,
    if_swapped,
)
from capture.evaluate import Evaluator
from capture.formula.parse import parse
from capture.spec.model import Basis, Derived, Given, Point, Quantity
from capture.uncertainty import expand, lines
from tests.invented import derived, part, size, spec

BORE = [Point(depth, axis) for depth in ("top", "bottom") for axis in ("thrust", "pin")]
GAUGE = ("certificate of the gauge", 0.0008)
RING = ("ring", 0.0005)
MIC = ("certificate of the micrometer", 0.0006)


def formula(name: str, text: str, *of: str, unit: str = "mm") -> Derived:
    return replace(derived(name, Quantity.FORMULA, of, unit=unit), formula=parse(text))


PARTS = (
    part("cylinder", 2),
    part("piston", 2, "cylinder"),
    part("bolt", 4, "cylinder", per=2),
    part("crank", 1),
)
SIZES = (
    size("bore", "cylinder", BORE),
    size("skirt", "piston", unit="in", repeats=2),
    size("stretch", "bolt", unit="µm"),
    size("stroke", "crank"),
)
GASKET = Given("gasket", "Gasket", Decimal("1.2"), "mm")


def build_of(*results: Derived) -> Build:
    return Build("b1", 1, spec(PARTS, SIZES, results, [GASKET]), 1, "Invented")


def put(
    build: Build,
    step: str,
    value: str,
    u: str | None = "0.002",
    shared: tuple[tuple[str, float], ...] = (),
) -> None:
    """Answers a step; ``u`` is its standard uncertainty in the step's unit."""
    build.fill(build.index[step], fill(value, u, shared))


def fill(value: str, u: str | None, shared: tuple[tuple[str, float], ...] = ()) -> Fill:
    return Fill(None, 1, Decimal(value), u, "1", "conforming", shared)


def bores(build: Build, number: int, *values: str, shared: Any = (GAUGE, RING)) -> None:
    for point, value in zip(BORE, values, strict=True):
        put(build, f"bores/{number}/{point.id}", value, "0.002", shared)


def now(build: Build, name: str, number: int = 1) -> dict[str, Any]:
    verdict = derived_now(build, build.spec.derived[name], number, {}, Evaluator())
    assert verdict is not None
    return verdict


def found(verdict: dict[str, Any]) -> tuple[str, float]:
    """Value, and expanded uncertainty at k = 2."""
    return verdict["measured"], float(verdict["expanded_uncertainty"])


def rounded(u: float) -> float:
    return float(expand(u, Decimal(2)))


FORM = (
    derived("middle", Quantity.MEAN, ["bore"]),
    derived("taper", Quantity.TAPER, ["bore"]),
    derived("round", Quantity.OUT_OF_ROUND, ["bore"]),
    derived("straight", Quantity.CYLINDRICITY, ["bore"]),
)


def test_form_of_one_bore_and_what_its_gauge_leaves_open() -> None:
    """What the four sizes share stays in their mean and drops out of every difference."""
    from uncertainties import ufloat

    build = build_of(*FORM)
    bores(build, 1, "88.012", "88.021", "88.004", "88.016")
    gauge, ring = ufloat(0, GAUGE[1]), ufloat(0, RING[1])
    own = (0.002**2 - GAUGE[1] ** 2 - RING[1] ** 2) ** 0.5
    a, b, c, d = (ufloat(value, own) + gauge + ring for value in (88.012, 88.021, 88.004, 88.016))
    assert found(now(build, "middle")) == ("88.01325", rounded(((a + b + c + d) / 4).std_dev))
    assert found(now(build, "taper")) == ("0.008", rounded((a - c).std_dev))
    assert found(now(build, "round")) == ("0.012", rounded((d - c).std_dev))
    assert found(now(build, "straight")) == ("0.008", rounded((a - c).std_dev))


def test_a_spread_of_nothing_is_not_sure_to_be_nothing() -> None:
    build = build_of(*FORM)
    bores(build, 1, *["88.000"] * 4, shared=())
    for name in ("taper", "round", "straight"):
        assert found(now(build, name)) == ("0", rounded(0.002 * 2**0.5))


CLEARANCES = [
    replace(derived(basis.value, Quantity.CLEARANCE, ["bore", "skirt"], "cylinder"), basis=basis)
    for basis in Basis
]


def skirts(build: Build, number: int, one: str, two: str, shared: Any = ()) -> None:
    put(build, f"skirts/{number}/1", one, "0.0001", shared)
    put(build, f"skirts/{number}/2", two, "0.0001", shared)


def test_a_clearance_in_another_unit_than_a_size() -> None:
    from uncertainties import ufloat

    build = build_of(*CLEARANCES)
    bores(build, 1, "88.012", "88.021", "88.004", "88.016", shared=(RING,))
    skirts(build, 1, "3.4630", "3.4632")  # mean 3.4631 in = 87.96274 mm
    own, ring = (0.002**2 - RING[1] ** 2) ** 0.5, ufloat(0, RING[1])
    sizes = [ufloat(0, own) + ring for _ in range(4)]
    skirt = ufloat(0, 0.0001) * 25.4
    assert found(now(build, "mean")) == ("0.05051", rounded((sum(sizes) / 4 - skirt).std_dev))
    assert found(now(build, "least")) == ("0.04126", rounded((sizes[0] - skirt).std_dev))
    assert found(now(build, "greatest")) == ("0.05826", rounded((sizes[0] - skirt).std_dev))


def test_one_gauge_knows_a_clearance_better_than_two() -> None:
    """The same sizes with the same uncertainties: shared or not."""
    one, two = build_of(*CLEARANCES), build_of(*CLEARANCES)
    for build, other in ((one, "certificate of the gauge"), (two, "certificate of another")):
        bores(build, 1, *["88.012"] * 4, shared=(GAUGE,))
        skirts(build, 1, "3.4630", "3.4630", shared=((other, GAUGE[1] / 25.4),))
    assert found(now(one, "mean"))[1] < found(now(two, "mean"))[1]
    assert now(one, "mean")["measured"] == now(two, "mean")["measured"]


def test_without_an_established_uncertainty_there_is_none() -> None:
    build = build_of(*FORM, *CLEARANCES)
    bores(build, 1, "88.012", "88.021", "88.004", "88.016")
    build.clear(build.index["bores/1/top-thrust"])
    put(build, "bores/1/top-thrust", "88.012", None)
    skirts(build, 1, "3.4630", "3.4632")
    for name in (*(one.id for one in FORM), "mean", "least", "greatest"):
        verdict = now(build, name)
        assert verdict["expanded_uncertainty"] is None
        assert verdict["rule"] == "simple"


def test_the_budget_of_a_clearance_line_by_line() -> None:
    build = build_of(*CLEARANCES)
    bores(build, 1, "88.012", "88.021", "88.004", "88.016", shared=(GAUGE, RING))
    skirts(build, 1, "3.4630", "3.4632", shared=((GAUGE[0], GAUGE[1] / 25.4),))
    least = next(one for one in CLEARANCES if one.basis is Basis.LEAST)
    budget = budget_of(build, least, 1)
    assert budget is not None
    listed = {line.name: line.standard_uncertainty for line in lines(budget, Decimal(2))}
    own = (0.002**2 - GAUGE[1] ** 2 - RING[1] ** 2) ** 0.5
    assert listed == {
        "skirt/1": pytest.approx(25.4 * (0.0001**2 - (GAUGE[1] / 25.4) ** 2) ** 0.5),
        "bore/1/bottom-thrust": pytest.approx(own),
        RING[0]: pytest.approx(RING[1]),
        GAUGE[0]: pytest.approx(0.0, abs=1e-12),  # the same gauge took both
    }
    assert rounded(budget.standard_uncertainty) == found(now(build, "least"))[1]
    assert budget_of(build, least, 2) is None
    build.clear(build.index["bores/1/top-pin"])
    put(build, "bores/1/top-pin", "88.021", None)
    assert budget_of(build, least, 1) is None


def test_nothing_while_a_size_is_missing() -> None:
    build = build_of(*FORM, *CLEARANCES)
    bores(build, 1, "88.012", "88.021", "88.004", "88.016")
    assert derived_now(build, CLEARANCES[0], 1, {}, Evaluator()) is None
    assert clearances_at(build, CLEARANCES[0], 1) == []


def test_the_clearance_at_every_point_of_the_outer_part() -> None:
    build = build_of(*FORM, *CLEARANCES)
    bores(build, 1, "88.012", "88.021", "88.004", "88.016")
    skirts(build, 1, "3.4630", "3.4632")
    assert clearances_at(build, CLEARANCES[0], 1) == [
        {"point": "top-thrust", "value": "0.04926"},
        {"point": "top-pin", "value": "0.05826"},
        {"point": "bottom-thrust", "value": "0.04126"},
        {"point": "bottom-pin", "value": "0.05326"},
    ]
    assert clearances_at(build, FORM[0], 1) == []


FORMULAS = (
    formula("volume", "pi / 4 * bore ^ 2 * stroke", "bore", "stroke", unit="mL"),
    formula("deck", "gasket + stretch / 2 + bore[top-pin]", "stretch", "bore"),
    formula("share", "room / bore", "room", "bore", unit="1"),
    derived("room", Quantity.CLEARANCE, ["bore", "skirt"]),
    formula("wave", "range(bore)", "bore"),
)


def measured() -> Build:
    build = build_of(*FORMULAS)
    for number in (1, 2):
        bores(build, number, "88.012", "88.021", "88.004", "88.016")
        skirts(build, number, "3.4630", "3.4632")
    for number in (1, 2, 3, 4):
        put(build, f"stretchs/{number}", f"{130 + number}", "2")
    put(build, "strokes/1", "90.00", "0.01")
    return build


def test_a_formula_with_a_part_of_which_there_is_one() -> None:
    from math import pi

    from uncertainties import ufloat

    build = measured()
    own, shared = (0.002**2 - GAUGE[1] ** 2 - RING[1] ** 2) ** 0.5, ufloat(0, 1)
    common = shared * (GAUGE[1] ** 2 + RING[1] ** 2) ** 0.5
    each = [ufloat(value, own) + common for value in (88.012, 88.021, 88.004, 88.016)]
    expected = pi / 4 * (sum(each) / 4) ** 2 * ufloat(90, 0.01) / 1000
    for number in (1, 2):
        value, u = found(now(build, "volume", number))
        assert float(value) == pytest.approx(expected.nominal_value, rel=1e-11)
        assert u == rounded(expected.std_dev)


def test_a_formula_takes_its_constants_points_and_units() -> None:
    """Bolts 3 and 4 stand at cylinder 2: a stretch in µm, a gasket and a bore in mm."""
    build = measured()
    assert found(now(build, "deck", 3)) == ("89.2875", rounded((0.002**2 + 0.001**2) ** 0.5))
    assert [now(build, "deck", n)["measured"] for n in (1, 2, 4)] == [
        "89.2865", "89.287", "89.288",
    ]  # fmt: skip


def test_what_enters_twice_is_one_size() -> None:
    """The bore is in the clearance and divides it: not two independent bores."""
    from uncertainties import ufloat

    build = measured()
    own, shared = (0.002**2 - GAUGE[1] ** 2 - RING[1] ** 2) ** 0.5, ufloat(0, 1)
    common = shared * (GAUGE[1] ** 2 + RING[1] ** 2) ** 0.5
    bore = sum(ufloat(v, own) + common for v in (88.012, 88.021, 88.004, 88.016)) / 4
    expected = (bore - ufloat(3.4631, 0.0001) * 25.4) / bore
    value, u = found(now(build, "share"))
    assert float(value) == pytest.approx(expected.nominal_value, rel=1e-11)
    assert u == rounded(expected.std_dev)


def test_one_size_gives_all_it_completes_inputs_first() -> None:
    build = measured()
    at = build.index["skirts/2/2"]
    build.clear(at)
    results = derived_results(build, "skirt", 2, {at: fill("3.4632", "0.0001")}, Evaluator())
    assert [(r["id"], r["number"]) for r in results] == [("room", 2), ("share", 2)]
    assert results[0]["verdict"]["measured"] == "0.05051"
    strokes = derived_results(build, "stroke", 1, {}, Evaluator())
    assert [(r["id"], r["number"]) for r in strokes] == [("volume", 1), ("volume", 2)]
    stretch = derived_results(build, "stretch", 4, {}, Evaluator())
    assert [(r["id"], r["number"]) for r in stretch] == [("deck", 4)]
    everything = derived_results(build, "bore", 2, {at: fill("3.4632", "0.0001")}, Evaluator())
    assert [(r["id"], r["number"]) for r in everything] == [
        ("volume", 2), ("deck", 3), ("deck", 4), ("room", 2), ("wave", 2), ("share", 2),
    ]  # fmt: skip


def test_a_division_by_zero_gives_no_result() -> None:
    build = build_of(formula("odd", "stroke / (stroke - stroke)", "stroke", unit="1"))
    put(build, "strokes/1", "90.00")
    assert derived_now(build, build.spec.derived["odd"], 1, {}, Evaluator()) is None
    assert derived_results(build, "stroke", 1, {}, Evaluator()) == []


def test_pieces_that_change_places_take_their_sizes_along() -> None:
    build = measured()
    build.clear(build.index["skirts/2/1"])
    put(build, "skirts/2/1", "3.4622", "0.0001")  # mean 3.4627 in = 87.95258 mm
    before = list(build.fills)
    results = if_swapped(build, "piston", 1, 2, Evaluator())
    measured_then = {(r["id"], r["number"]): r["verdict"]["measured"] for r in results}
    assert list(measured_then) == [("room", 1), ("room", 2), ("share", 1), ("share", 2)]
    assert measured_then["room", 1] == "0.06067"
    assert measured_then["room", 2] == "0.05051"
    moved = if_moved(build, "piston", {1: "piston-2", 2: "piston-1"}, Evaluator())
    assert moved == results
    assert if_moved(build, "piston", {1: "piston-1", 2: "piston-2"}, Evaluator()) == []
    assert build.fills == before


@pytest.mark.parametrize(
    ("pieces", "why"),
    [
        ({1: "P-9", 2: "piston-1"}, "P-9 stands at no piston"),
        ({1: "piston-2"}, "among themselves"),
        ({1: "piston-2", 2: "piston-2"}, "among themselves"),
    ],
)
def test_pieces_must_change_places_among_themselves(pieces: dict[int, str], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        if_moved(measured(), "piston", pieces, Evaluator())
