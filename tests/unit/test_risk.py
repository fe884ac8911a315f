"""Risks: sides, edges and what is refused."""

from __future__ import annotations

import math

import pytest

from capture.risk import (
    Process,
    Zone,
    conformance_probability,
    guard_band_for,
    guarded,
    normal_process,
    process_capability,
    risks,
    specific_risk,
)

BOTH = Zone(-1.0, 1.0)


def test_without_limits_everything_conforms() -> None:
    open_zone = Zone(None, None)
    assert conformance_probability(5.0, 1.0, open_zone) == 1.0
    assert specific_risk(5.0, 1.0, open_zone) == 0.0
    found = risks(normal_process(0.0, 1.0), 0.5, open_zone, open_zone)
    assert found.nonconforming == found.consumers == 0.0
    assert found.producers == 0.0


@pytest.mark.parametrize("zone", [Zone(None, 10.0), Zone(10.0, None)])
def test_a_value_on_a_limit_conforms_with_one_half(zone: Zone) -> None:
    assert conformance_probability(10.0, 0.1, zone) == 0.5
    assert specific_risk(10.0, 0.1, zone) == 0.5


def test_capability_with_one_limit() -> None:
    assert process_capability(9.0, 0.5, Zone(None, 12.0)) == 2.0
    assert process_capability(9.0, 0.5, Zone(6.0, None)) == 2.0
    with pytest.raises(ValueError, match="at least one side"):
        process_capability(9.0, 0.5, Zone(None, None))


@pytest.mark.parametrize("u", [0.0, -1.0, math.nan, math.inf])
def test_an_impossible_uncertainty_is_an_error(u: float) -> None:
    with pytest.raises(ValueError, match="standard uncertainty is"):
        conformance_probability(0.0, u, BOTH)
    with pytest.raises(ValueError, match="standard uncertainty is"):
        risks(normal_process(0.0, 1.0), u, BOTH, BOTH)


def test_crossed_limits_are_an_error() -> None:
    with pytest.raises(ValueError, match="above upper limit"):
        specific_risk(0.0, 1.0, Zone(2.0, 1.0))
    with pytest.raises(ValueError, match="above upper limit"):
        risks(normal_process(0.0, 1.0), 0.1, BOTH, Zone(2.0, 1.0))


def test_a_density_that_is_not_whole_is_an_error() -> None:
    cut = normal_process(0.0, 1.0)._replace(high=1.0)
    with pytest.raises(ValueError, match=r"adds up to 0.84.*not to 1: widen"):
        risks(cut, 0.1, BOTH, BOTH)


def test_a_guard_band_moves_every_limit_inward() -> None:
    assert guarded(BOTH, 0.25) == Zone(-0.75, 0.75)
    assert guarded(Zone(None, 1.0), 0.25) == Zone(None, 0.75)
    assert guarded(Zone(-1.0, None), -0.25) == Zone(-1.25, None)


def test_no_guard_band_where_none_is_needed() -> None:
    assert guard_band_for(normal_process(0.0, 0.1), 0.05, BOTH, 0.01) == 0.0


def test_the_guard_band_gives_the_risk_wanted_on_two_sides() -> None:
    process = normal_process(0.2, 0.6)
    band = guard_band_for(process, 0.2, BOTH, 0.002)
    assert 0 < band < 1
    assert risks(process, 0.2, BOTH, guarded(BOTH, band)).consumers == pytest.approx(0.002)
    assert risks(process, 0.2, BOTH, guarded(BOTH, band * 0.99)).consumers > 0.002


@pytest.mark.parametrize("wanted", [0.0, 1.0, -0.1, math.nan])
def test_a_wanted_risk_is_a_share(wanted: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        guard_band_for(normal_process(0.0, 1.0), 0.1, BOTH, wanted)


def test_parts_that_never_conform() -> None:
    """A process wholly outside: nothing to reject wrongly, and the guard band keeps the rest."""
    process = normal_process(3.0, 0.1)
    found = risks(process, 0.5, BOTH, BOTH)
    assert found.nonconforming == pytest.approx(1.0)
    assert found.producers == pytest.approx(0.0, abs=1e-12)
    band = guard_band_for(process, 0.5, BOTH, found.consumers / 10)
    assert risks(process, 0.5, BOTH, guarded(BOTH, band)).consumers < found.consumers / 9


def test_a_rectangular_process() -> None:
    """All parts conform and sit anywhere in the tolerance: rejected are those near its ends. On
    each side ∫ Φ(−d/u) dd over d ≥ 0 is u/√(2π); over a width of 2 and two sides that is the
    share (our own derivation)."""
    flat = Process(lambda size: 0.5, -1.0, 1.0)
    found = risks(flat, 0.05, BOTH, BOTH)
    assert found.nonconforming == 0.0
    assert found.producers == pytest.approx(0.05 / math.sqrt(2 * math.pi), rel=1e-9)
