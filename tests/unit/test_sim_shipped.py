"""The shipped scenarios against the specs they build: a gauge for every step, nothing at odds."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from capture.spec.load import load
from capture.spec.model import Kind, Spec
from capture.step import steps_of
from simulators import scenario
from simulators.feelers import with_a_leaf_hidden, with_leaves
from simulators.gauges import measures
from simulators.handiwork import Handiwork, is_bracketed, leaves_of
from simulators.plan import MISTAKES, Scenario
from simulators.truth import Step
from simulators.workbench import Workbench

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals on Windows")

NAMES = sorted(file.parent.name for file in scenario.SCENARIOS.glob("*/scenario.toml"))


def engine(plan: Scenario) -> Spec:
    return load(plan.spec.read_bytes(), plan.spec.name)


def described(spec: Spec) -> Iterator[Step]:
    """Every step, with the keys of the service's JSON that the builder looks at."""
    for operation, steps in steps_of(spec):
        for step in steps:
            target: Any = None
            if step.kind is Kind.TIGHTEN:
                stages = spec.fasteners[step.subject].stages
                target = str(next(one.target for one in stages if one.id == step.point))
            yield {
                "id": step.id,
                "kind": step.kind.value,
                "operation": operation.id,
                "characteristic": step.subject,
                "part": step.part,
                "number": step.number,
                "point": step.point,
                "unit": step.unit,
                "instruments": list(step.instruments),
                "target": target,
                "lower": None if step.limits.lower is None else str(step.limits.lower),
                "upper": None if step.limits.upper is None else str(step.limits.upper),
            }


@pytest.fixture(params=NAMES)
def hand(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Handiwork]:
    with Workbench(scenario.load(request.param), tmp_path) as bench:
        yield Handiwork(bench)


def test_there_is_a_gauge_for_every_step(hand: Handiwork) -> None:
    spec = engine(hand.scenario)
    for step in described(spec):
        if step["kind"] in ("confirm", "check"):
            continue
        station = hand.station(step)
        assert station.plan.kind in step["instruments"], step["id"]
        assert measures(station.plan.unit) == measures(step["unit"]), step["id"]
        if station.plan.comparative:
            due = hand.setting_due(station, step)
            if due is not None:
                hand.set_on(station, due)
        if is_bracketed(station):
            found = hand.found(station, step)
            assert found.upper is not None, step["id"]
            continue
        shown = hand.indication(station, step)
        assert hand.bench.message(station, shown, station.plan.unit) if station.wire else True


def test_every_true_size_is_plausible(hand: Handiwork) -> None:
    spec = engine(hand.scenario)
    for step in described(spec):
        if step["kind"] != "measure":
            continue
        band = spec.characteristics[step["characteristic"]].plausible
        assert band.lower is not None
        assert band.upper is not None
        assert float(band.lower) < hand.true_value(step) < float(band.upper), step["id"]


def test_what_the_scenario_names_is_in_the_spec(hand: Handiwork) -> None:
    spec, plan = engine(hand.scenario), hand.scenario
    operations = {one.id: one for one in spec.operations}
    subjects = {one.subject for one in spec.operations}
    instruments = {one.id for one in plan.instruments}
    for zero in plan.zeros:
        assert operations[zero.operation].kind is Kind.ZERO
        assert hand.standard(zero.standard).id == zero.standard
        assert zero.instrument in instruments
    pulled = [(one.operation, one.instrument) for one in plan.traced]
    pulled += [(one.operation, one.instrument) for one in plan.reaches]
    for operation, instrument in pulled:
        assert operations[operation].kind is Kind.TIGHTEN
        assert instrument in instruments
    for mistake in plan.mistakes:
        assert mistake.about in {*operations, *subjects}, mistake
    for remedy in plan.remedies:
        assert remedy.about in {*operations, *spec.derived}, remedy
        assert remedy.rework is None or remedy.rework in spec.parts
        assert set(remedy.once) <= set(operations)
    for check in spec.tool_checks.values():
        assert check.tool in instruments


def test_the_demo_uses_everything_there_is() -> None:
    plan = scenario.load("inline-four")
    spec = engine(plan)
    assert {one.kind for one in spec.operations} == set(Kind) - {Kind.STUDY}
    assert {one.round for one in spec.operations} == {"", "piston"}
    assert {one.quantity.value for one in spec.derived.values()} == {
        "mean",
        "taper",
        "out-of-round",
        "cylindricity",
        "clearance",
        "formula",
    }
    sizes = spec.characteristics.values()
    assert any(one.factors for one in sizes)
    assert any(one.expansion for one in sizes)
    assert any(one.torque_to_yield for one in spec.fasteners.values())
    assert {mistake.kind for mistake in plan.mistakes} == set(MISTAKES) - {"stall"}
    # The demo is to be done within seconds.
    assert sum(len(steps) for _, steps in steps_of(spec)) < 330


def test_first_come_pistons_do_not_fit_and_another_order_does() -> None:
    plan = scenario.load("inline-four")
    spec = engine(plan)
    limits = spec.derived["piston-clearance"].limits
    assert limits.lower is not None
    assert limits.upper is not None
    low, high = float(limits.lower), float(limits.upper)
    hand = Handiwork(Workbench(plan, Path("unused")))
    hand.workshop.machine("bore", "cylinder-3", 0.020)  # as it is honed
    bores = [hand.workshop.mean_size("bore", f"cylinder-{n}") for n in range(1, 5)]
    pistons = [hand.workshop.true_size("piston-diameter", one.piece) for one in plan.assignments]
    first_come = [low <= bore - piston <= high for bore, piston in zip(bores, pistons, strict=True)]
    assert first_come == [False, True, True, False]
    by_size = zip(sorted(bores), sorted(pistons), strict=True)
    assert all(low <= bore - piston <= high for bore, piston in by_size)


def test_the_hidden_leaf_would_have_passed() -> None:
    plan = scenario.load("inline-four")
    limits = engine(plan).characteristics["rod-side-clearance"].limits
    (mistake,) = (one for one in plan.mistakes if one.kind == "hidden-leaf")
    assert mistake.number is not None
    bench = Workbench(plan, Path("unused"))
    leaves = leaves_of(bench._station(next(i for i in plan.instruments if i.leaves)))
    gap = Handiwork(bench).truth.size("rod-side-clearance", "rod", mistake.number, "")
    read = with_a_leaf_hidden(gap, leaves)
    assert read is not None
    assert read.lower is not None
    assert read.upper is not None
    assert limits.lower is not None
    assert limits.upper is not None
    # Only the neighbours tell: the size alone lies within the limits, and is wrong.
    assert limits.lower <= read.lower < read.upper <= limits.upper
    assert read.lower != with_leaves(gap, leaves).lower
