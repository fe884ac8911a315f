"""True sizes that follow from other parts, and pieces that keep theirs when they move."""

from __future__ import annotations

import math

import pytest

from simulators.gauges import UNITS, measures, scale
from simulators.plan import Turning
from simulators.truth import NothingToTurn, Truth, wanted
from simulators.workshop import Feature, Follow, Workshop

BORE = Feature("bore", 86.0, spread=0.01, taper=0.004, depths=("top", "bottom"))
PISTON = Feature("piston-diameter", 85.95, spread=0.01)
GAP = Feature(
    "gap", 0.40, spread=0.01, follows=(Follow("bore", 86.0, factor=math.pi, part="cylinder"),)
)
SHELL = Feature("wall", 1.5, spread=0.01)
BEARING = Feature(
    "bearing",
    48.0,
    follows=(
        Follow("housing", 51.0, part="rod", point="along"),
        Follow("wall", 1.5, factor=-2.0, part="shell", per=2),
    ),
)
HOUSING = Feature("housing", 51.0, spread=0.01, out_of_round=0.004, axes=("along", "across"))
FREE = Feature("free", 44.0, spread=0.05)
TIGHT = Feature("tight", 44.14, follows=(Follow("free", 44.0),))


@pytest.fixture
def shop() -> Workshop:
    return Workshop("a", [BORE, PISTON, GAP, SHELL, BEARING, HOUSING, FREE, TIGHT])


@pytest.fixture
def truth(shop: Workshop) -> Truth:
    return Truth(shop, [Turning("crank", 3.0), Turning("block", 6.0, each=3.0)])


def test_a_ring_gap_opens_by_pi_with_its_bore(shop: Workshop, truth: Truth) -> None:
    before = truth.size("gap", "ring", 3, "")
    shop.machine("bore", "cylinder-3", 0.020)
    assert truth.size("gap", "ring", 3, "") - before == pytest.approx(math.pi * 0.020)
    assert truth.size("gap", "ring", 3, "") - shop.true_size("gap", "ring-3") == pytest.approx(
        math.pi * (shop.mean_size("bore", "cylinder-3") - 86.0)
    )


def test_a_bearing_bore_is_the_housing_less_its_two_shells(shop: Workshop, truth: Truth) -> None:
    walls = [shop.true_size("wall", f"shell-{number}") for number in (3, 4)]
    # 51 less two walls of 1.5 is 48.
    expected = shop.true_size("housing", "rod-2", "along") - sum(walls)
    assert truth.size("bearing", "bearing", 2, "") == pytest.approx(expected)


def test_what_follows_of_the_same_piece_goes_with_it(shop: Workshop, truth: Truth) -> None:
    truth.fit([{"part": "bolt", "number": 3, "piece": "bolt-3-new"}])
    stretch = truth.size("tight", "bolt", 3, "") - truth.size("free", "bolt", 3, "")
    assert stretch == pytest.approx(0.14)
    assert truth.size("free", "bolt", 3, "") == shop.true_size("free", "bolt-3-new")


def test_a_piston_takes_its_size_along(truth: Truth) -> None:
    truth.fit([{"part": "piston", "number": n, "piece": f"S{n}"} for n in (1, 2)])
    first, second = (truth.size("piston-diameter", "piston", n, "") for n in (1, 2))
    truth.fit([{"part": "piston", "number": n, "piece": f"S{3 - n}"} for n in (1, 2)])
    assert first != second
    assert [truth.size("piston-diameter", "piston", n, "") for n in (1, 2)] == [second, first]


def test_every_piston_adds_its_torque(truth: Truth) -> None:
    assert [truth.turning_torque("turn-block", n) for n in (1, 2, 3)] == [6.0, 9.0, 12.0]
    assert truth.turning_torque("crank", 1) == 3.0
    with pytest.raises(NothingToTurn, match=r"no \[\[turning\]\] for the test 'turn-cam'"):
        truth.turning_torque("turn-cam", 1)


def test_a_pull_aims_at_the_target_or_between_the_limits() -> None:
    step = {"id": "x", "unit": "N·m", "target": None, "lower": "10", "upper": "12"}
    assert wanted(step) == 11.0
    assert wanted({**step, "target": "10.5"}) == 10.5
    assert wanted({**step, "unit": "lbf·in"}) == pytest.approx(11 * 0.1129848290276167)
    with pytest.raises(NothingToTurn, match="neither a target nor limits"):
        wanted({**step, "lower": None, "upper": None})


def test_units_have_a_dimension_and_a_size() -> None:
    assert {measures(unit) for unit in UNITS} == {
        "length",
        "torque",
        "angle",
        "temperature",
        "volume",
    }
    assert scale("in") == 25.4  # exact: international yard and pound agreement of 1959
