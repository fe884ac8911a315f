"""Estimates of preload: their scatter, what they need, and what they warn of."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from capture import bolts
from capture.bolts import Interval
from capture.spec.model import Joint

BARE = Joint(
    diameter=Decimal(10),
    pitch=Decimal("1.5"),
    series="metric",
    nut_factor=None,
    friction_thread=None,
    friction_head=None,
    bearing_diameter=None,
    scatter_percent=None,
    proof_stress=None,
    clamped_length=None,
    elastic_modulus=None,
)
OILED = replace(BARE, nut_factor=Decimal("0.15"), scatter_percent=Decimal(25))
FRICTION = replace(
    BARE,
    friction_thread=Decimal("0.12"),
    friction_head=Decimal("0.10"),
    bearing_diameter=Decimal(13),
)


def numbers(value: int, lower: int, upper: int) -> tuple[Decimal, Decimal, Decimal]:
    return Decimal(value), Decimal(lower), Decimal(upper)


def test_a_joint_that_says_too_little_gets_no_estimate() -> None:
    assert bolts.of_joint(BARE, Decimal(50)) is None
    assert bolts.torque_for_preload(BARE, Decimal(25000)) is None
    assert bolts.of_stretch(BARE, Decimal("0.1"), None) is None
    for missing in (
        replace(FRICTION, friction_thread=None),
        replace(FRICTION, friction_head=None),
        replace(FRICTION, bearing_diameter=None),
    ):
        assert bolts.of_joint(missing, Decimal(50)) is None


def test_an_estimate_carries_its_scatter() -> None:
    found = bolts.of_joint(OILED, Decimal(60))
    assert found is not None
    assert found[:3] == numbers(40000, 30000, 50000)
    assert found.method == "nut factor"
    assert found.scatter == "± 25 %"
    assert found.share_of_proof is found.stretch is None
    assert found.cautions == (bolts.CAUTION,)


def test_without_a_stated_scatter_there_are_no_ends() -> None:
    found = bolts.of_joint(replace(OILED, scatter_percent=None), Decimal(60))
    assert found is not None
    assert found[:3] == (Decimal(40000), None, None)
    assert found.scatter == "scatter not stated"


def test_share_and_stretch_scatter_with_the_preload() -> None:
    described = replace(
        OILED,
        proof_stress=Decimal(830),
        clamped_length=Decimal(50),
        elastic_modulus=Decimal(205000),
    )
    found = bolts.of_joint(described, Decimal(60))
    assert found is not None
    for follows in (found.share_of_proof, found.stretch):
        assert follows is not None
        assert follows.lower is not None
        assert follows.upper is not None
        assert Fraction(follows.lower) == Fraction(follows.value) * Fraction(3, 4)
        assert Fraction(follows.upper) == Fraction(follows.value) * Fraction(5, 4)
    assert found.stretch is not None
    back = bolts.of_stretch(described, found.stretch.value, Decimal(5))
    assert back is not None
    assert back[:3] == numbers(40000, 38000, 42000)
    assert back.method == "stretch"


def test_a_stretch_does_not_borrow_the_scatter_of_a_torque() -> None:
    described = replace(OILED, clamped_length=Decimal(50), elastic_modulus=Decimal(205000))
    found = bolts.of_stretch(described, Decimal("0.1"), None)
    assert found is not None
    assert (found.lower, found.upper, found.scatter) == (None, None, "scatter not stated")


def test_reaching_the_proof_load_is_warned_of_even_if_only_the_scatter_does() -> None:
    strong = replace(OILED, proof_stress=Decimal(830))
    # As · Sp is about 48.1 kN: 40 kN ± 25 % may reach it, 35 kN ± 25 % may not.
    for torque, cautions in (
        ("52.5", (bolts.CAUTION,)),
        ("60", (bolts.CAUTION, bolts.OVER_PROOF)),
        ("90", (bolts.CAUTION, bolts.OVER_PROOF)),
    ):
        found = bolts.of_joint(strong, Decimal(torque))
        assert found is not None
        assert found.cautions == cautions
    unstated = bolts.of_joint(replace(strong, scatter_percent=None), Decimal(60))
    assert unstated is not None
    assert unstated.cautions == (bolts.CAUTION,)


def test_friction_goes_before_the_nut_factor() -> None:
    both = replace(FRICTION, nut_factor=Decimal("0.15"))
    found = bolts.of_joint(both, Decimal(60))
    assert found is not None
    assert found.method == "friction"
    assert found == bolts.of_joint(FRICTION, Decimal(60))


def test_torque_and_preload_are_inverse_either_way() -> None:
    for described in (OILED, FRICTION):
        found = bolts.of_joint(described, Decimal("47.5"))
        assert found is not None
        assert bolts.torque_for_preload(described, found.preload) == Decimal("47.5")
        assert bolts.of_joint(described, Decimal(0)) is not None


def test_without_friction_only_the_pitch_is_left() -> None:
    torque = bolts.torque_by_friction(
        *(Decimal(1000), Decimal(10), Decimal("1.5"), Decimal(0), Decimal(0), Decimal(13))
    )
    assert float(torque) == pytest.approx(1000 * 1.5 / 6.283185307179586, rel=1e-14)


def test_series_choose_the_stress_area() -> None:
    unified = replace(BARE, series="unified")
    assert bolts.stress_area(BARE) == bolts.stress_area_metric(Decimal(10), Decimal("1.5"))
    assert bolts.stress_area(unified) == bolts.stress_area_unified(Decimal(10), Decimal("1.5"))
    assert bolts.stress_area(unified) < bolts.stress_area(BARE)


def test_an_angle_bounds_the_stretch_from_above() -> None:
    bound = bolts.stretch_by_angle(Decimal("1.5"), Decimal(90))
    assert bound.upper == Decimal("0.375")
    assert "upper bound" in bound.note
    with pytest.raises(ValueError, match="not negative"):
        bolts.stretch_by_angle(Decimal("1.5"), Decimal(-90))


@pytest.mark.parametrize("scatter", ["0", "-5", "100"])
def test_a_scatter_that_cannot_be(scatter: str) -> None:
    with pytest.raises(ValueError, match="scatter"):
        bolts.with_scatter(Decimal(1), Decimal(scatter))


def test_scatter_of_a_ratio_is_written_in_decimals() -> None:
    found = bolts.with_scatter(Decimal(3), Fraction(100, 3))
    assert found == Interval(*numbers(3, 2, 4))
    described = replace(OILED, clamped_length=Decimal(50), elastic_modulus=Decimal(205000))
    stated = bolts.of_stretch(described, Decimal("0.1"), Fraction(100, 3))
    assert stated is not None
    assert stated.scatter == "± 33.3333333333 %"


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"pitch": Decimal(0)}, "pitch"),
        ({"pitch": Decimal(16)}, "threads per inch"),
        ({"nut_factor": Decimal(0)}, "nut factor"),
        ({"proof_stress": Decimal(0)}, "proof stress"),
        ({"clamped_length": Decimal(0), "elastic_modulus": Decimal(1)}, "clamped length"),
        ({"clamped_length": Decimal(1), "elastic_modulus": Decimal(0)}, "modulus"),
    ],
)
def test_a_joint_that_cannot_be(change: dict[str, Any], wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        bolts.of_joint(replace(OILED, **change), Decimal(50))


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"friction_head": Decimal("-0.1")}, "friction"),
        ({"friction_thread": Decimal("-0.1")}, "friction"),
        ({"bearing_diameter": Decimal(0)}, "bearing diameter"),
    ],
)
def test_a_friction_that_cannot_be(change: dict[str, Any], wrong: str) -> None:
    with pytest.raises(ValueError, match=wrong):
        bolts.of_joint(replace(FRICTION, **change), Decimal(50))


def test_a_negative_torque_is_not_a_tightening() -> None:
    with pytest.raises(ValueError, match="not negative"):
        bolts.of_joint(OILED, Decimal(-1))
