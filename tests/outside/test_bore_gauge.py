"""Comparative gauges: size from setting standard and deviation, against published examples."""

from __future__ import annotations

from decimal import Decimal

import pytest

from capture.correlation import combined, sourced
from capture.instrument import Calibration, Instrument
from capture.shapes import deviation_to_size
from capture.uncertainty import Setting, single

GAUGE = Instrument(
    id="bore-gauge",
    kind="bore-gauge",
    unit="mm",
    resolution=Decimal("0.001"),
    port="test",
    profile="decimal-line",
    comparative=True,
    calibration=Calibration("invented", "2099-12-31", Decimal("0.0020"), Decimal(2)),
)


@pytest.mark.parametrize(
    ("standard", "deviation", "size"),
    [
        ("100.000", "-0.012", "99.988"),
        ("50.000020", "-0.000094", "49.999926"),
        ("4.000", "0.406", "4.406"),
    ],
)
def test_bg_01_to_03_size_is_standard_plus_deviation(
    standard: str, deviation: str, size: str
) -> None:
    """BG-01: model l_X = l_S + δl seen in metrodata.de/examples/S04.smu (EA-4/02 example S4),
    numbers ours: a contact pushed in less is a smaller bore. BG-02: values of EA-4/02 S4 (memory).
    BG-03: a fixture set by micrometer, 4.000 in standard and .406 in thimble, in a laboratory
    write-up "Cylinder Taper and Cylinder Out of Round" (seen)."""
    assert deviation_to_size(Decimal(standard), Decimal(deviation)) == Decimal(size)


def test_bg_01_the_standard_enters_the_uncertainty() -> None:
    """EA-4/02 S4 (model seen): u² of l_S + δl is u²(l_S) + u²(δl); GTC as the second computer."""
    from GTC import ureal

    ring = Setting("ring", Decimal("100.000"), "mm", Decimal("0.0015"), Decimal(2))
    budget = single(GAUGE, Decimal("0.001"), "mm", ring)
    assert budget is not None
    standard = ureal(100.000, 0.0015 / 2)
    deviation = ureal(-0.012, 0.0020 / 2) + ureal(0, 0.0005 / 3**0.5)
    assert budget.standard_uncertainty == pytest.approx(float((standard + deviation).u), rel=1e-12)


def test_two_bores_from_one_setting_standard_differ_by_what_the_gauge_sees() -> None:
    """The ring's error is the same in both sizes and drops out: GTC tracks it through both."""
    from GTC import ureal

    ring = ureal(100.000, 0.00075)
    one, two = (ring + ureal(value, 0.0011) for value in (-0.012, -0.020))
    ours = [sourced(float(size.u), (("ring", 0.00075),)) for size in (one, two)]
    found = combined([(1, ours[0]), (-1, ours[1])])
    assert found == pytest.approx(float((one - two).u), rel=1e-12)
    assert found < combined([(1, sourced(ours[0].own, ())), (-1, sourced(float(two.u), ()))])
