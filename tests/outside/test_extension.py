"""Offset extensions on torque tools against manuals' worked examples."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from capture.extension import Extension, cosine, factor, setting_for, torque_at_fastener


def inches(tool: str, length: str, angle: str = "0") -> Extension:
    return Extension(Decimal(tool), Decimal(length), Decimal(angle), "in")


def test_ox_01_torque_at_a_straight_extension() -> None:
    """US Army TM 9-254 p. 91 (tpub.com, seen): tool 12 in, extension 2 in, 60 lbf·in shown:
    TA = TT (L + E)/L = 70 lbf·in."""
    assert torque_at_fastener(Decimal(60), inches("12", "2")) == 70


def test_ox_02_setting_for_a_wanted_torque() -> None:
    """A hand-tool manual after AC 43.13-1B (web page; search words "AC 43.13-1B torque wrench
    extension", seen): wanted 50 lbf·ft, L 16 in, E 2 in: 44.44 lbf·ft."""
    assert float(setting_for(Decimal(50), inches("16", "2"))) == pytest.approx(44.44, abs=0.005)


def test_ox_03_square_to_the_tool_nothing_is_corrected() -> None:
    """Same manual's note (rule seen): T·L/(L + E·cos 90°) = T."""
    assert setting_for(Decimal(50), inches("16", "2", "90")) == 50


@pytest.mark.parametrize("angle", [0, 15, 33, 45, 60, 75, 89, 90, 91, 120, 135, 170, 180, 225, 300])
def test_any_angle_is_the_moment_of_the_pull_about_the_fastener(angle: int) -> None:
    """Statics as the second computer (own derivation): a pull square to the tool at its grip, and
    its moment about the drive and about the fastener as cross products."""
    tool, length = 16.0, 2.5
    grip, pull = (-tool, 0.0), (0.0, -1.0)
    fastener = (length * math.cos(math.radians(angle)), length * math.sin(math.radians(angle)))

    def moment(about: tuple[float, float]) -> float:
        return (grip[0] - about[0]) * pull[1] - (grip[1] - about[1]) * pull[0]

    found = factor(inches("16", "2.5", str(angle)))
    assert float(found) == pytest.approx(moment(fastener) / moment((0.0, 0.0)), rel=1e-12)


@pytest.mark.parametrize("tenths", range(0, 3601, 37))
def test_the_cosine_agrees_with_the_float_library(tenths: int) -> None:
    """math.cos as the second computer."""
    angle = Decimal(tenths) / 10
    assert float(cosine(angle)) == pytest.approx(math.cos(math.radians(tenths / 10)), abs=1e-15)


def test_the_cosine_of_45_degrees_is_half_the_root_of_two() -> None:
    assert abs(2 * cosine(Decimal(45)) ** 2 - 1) < Decimal("1e-19")
