"""Form, fit, volumes, preload and extensions do not depend on the unit they are computed in, on
where a gauge was zeroed, or on how large the part is."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import assume, given
from hypothesis import strategies as st

from capture import bolts, deck, shapes
from capture.extension import Extension, factor, setting_for, torque_at_fastener
from capture.quantity import Number, convert
from capture.spec.model import Basis, Limits, Point
from capture.volumes import Amount, Space, chamber_for_ratio, volumes

SIZES = st.decimals(Decimal("80"), Decimal("90"), places=3)
UNITS = st.sampled_from(["mm", "in", "µm", "thou", "cm"])
FORMS = (shapes.taper, shapes.out_of_round, shapes.cylindricity)
WHERE = (shapes.taper_end, shapes.out_of_round_direction, shapes.cylindricity_depths)
GAPS = st.decimals(Decimal("-0.5"), Decimal("0.5"), places=3)


@st.composite
def grids(draw: st.DrawFn) -> dict[Point, Number]:
    depths, axes = draw(st.integers(2, 4)), draw(st.integers(2, 3))
    return {
        Point(f"d{depth}", f"a{axis}"): draw(SIZES)
        for depth in range(depths)
        for axis in range(axes)
    }


def turned(sizes: dict[Point, Number], unit: str) -> dict[Point, Number]:
    return {point: convert(size, "mm", unit) for point, size in sizes.items()}


@given(grids(), UNITS)
def test_forms_commute_with_conversion(sizes: dict[Point, Number], unit: str) -> None:
    for form in FORMS:
        assert form(turned(sizes, unit)) == convert(form(sizes), "mm", unit)
    for where in WHERE:
        assert where(turned(sizes, unit))[1:] == where(sizes)[1:]


@given(grids(), GAPS)
def test_a_wrong_zero_shifts_sizes_and_no_form(sizes: dict[Point, Number], zero: Decimal) -> None:
    shifted: dict[Point, Number] = {
        point: shapes.deviation_to_size(size, zero) for point, size in sizes.items()
    }
    for form in WHERE:
        assert form(shifted) == form(sizes)


@given(grids())
def test_taper_is_within_the_cylindricity_and_forms_within_the_range(
    sizes: dict[Point, Number],
) -> None:
    whole = shapes.size_range(list(sizes.values()))
    assert abs(Fraction(shapes.taper(sizes))) <= shapes.cylindricity(sizes) <= whole
    assert 0 <= shapes.out_of_round(sizes) <= whole


@given(grids())
def test_upside_down_a_taper_changes_its_sign_only(sizes: dict[Point, Number]) -> None:
    over = dict(reversed(sizes.items()))
    assert abs(shapes.taper(over)) == abs(shapes.taper(sizes))
    assert shapes.cylindricity(over) == shapes.cylindricity(sizes)
    assert shapes.out_of_round(over) == shapes.out_of_round(sizes)


@given(grids(), grids(), UNITS)
def test_clearances_are_in_order_and_commute_with_conversion(
    outer: dict[Point, Number], inner: dict[Point, Number], unit: str
) -> None:
    bore, shaft = list(outer.values()), list(inner.values())
    least, mean, greatest = shapes.fit(bore, shaft)
    assert least <= mean <= greatest
    for basis in Basis:
        assert shapes.clearance(
            list(turned(outer, unit).values()), list(turned(inner, unit).values()), basis
        ) == convert(shapes.clearance(bore, shaft, basis), "mm", unit)
    for gap in shapes.clearance_at(outer, inner).values():
        assert least <= gap <= greatest


@given(grids(), grids())
def test_inside_out_a_clearance_changes_its_sign(
    outer: dict[Point, Number], inner: dict[Point, Number]
) -> None:
    there = shapes.clearance_at(outer, inner)
    back = shapes.clearance_at(inner, outer)
    assert {point: -Fraction(gap) for point, gap in back.items()} == there


@given(
    st.fractions(Fraction(1), Fraction(500)),
    st.decimals(Decimal(0), Decimal("0.01"), places=5),
    st.decimals(Decimal(0), Decimal("0.01"), places=5),
    st.decimals(Decimal(0), Decimal(6), places=6),
)
def test_a_reading_is_inside_limits_by_factor_if_it_is_inside_the_true_ones(
    size: Fraction, one: Decimal, other: Decimal, reading: Decimal
) -> None:
    lower, upper = sorted((one, other))
    limits = shapes.limits_by_factor(size, lower, upper)
    assert limits.lower is not None
    assert limits.upper is not None
    truly = size * Fraction(lower) <= Fraction(reading) <= size * Fraction(upper)
    assert (limits.lower <= reading <= limits.upper) is truly
    assert 0 <= Fraction(limits.lower) - size * Fraction(lower) < Fraction(1, 10**12)
    assert 0 <= size * Fraction(upper) - Fraction(limits.upper) < Fraction(1, 10**12)


@given(SIZES, st.decimals(Decimal(0), Decimal("0.01"), places=5))
def test_a_gap_exactly_on_a_limit_by_factor_is_inside(bore: Decimal, by: Decimal) -> None:
    assert shapes.limits_by_factor(bore, by, by) == Limits(bore * by, bore * by)


@given(st.lists(GAPS, min_size=4, max_size=4), GAPS, GAPS, UNITS)
def test_no_rock_moves_the_deck_clearance(
    at: list[Decimal], along: Decimal, across: Decimal, unit: str
) -> None:
    level = deck.BridgeReadings(*at)
    rocked = deck.BridgeReadings(at[0] + along, at[1] - along, at[2] + across, at[3] - across)
    one, other = deck.bridge(level), deck.bridge(rocked)
    assert (one.clearance, one.disagreement) == (other.clearance, other.disagreement)
    assert Fraction(other.rock_along) - Fraction(one.rock_along) == 2 * Fraction(along)
    assert Fraction(other.rock_across) - Fraction(one.rock_across) == 2 * Fraction(across)
    there = deck.bridge(deck.BridgeReadings(*(convert(value, "mm", unit) for value in at)))
    assert there.clearance == convert(one.clearance, "mm", unit)
    assert there.highest == one.highest


@given(
    st.lists(st.integers(-50, 50), min_size=9, max_size=9),
    st.integers(-20, 20),
    st.integers(-20, 20),
    st.integers(-99, 99),
)
def test_how_the_block_stands_does_not_change_its_flatness(
    heights: list[int], along_x: int, along_y: int, up: int
) -> None:
    def face(tilted: int) -> dict[str, tuple[Number, Number, Number]]:
        return {
            str(place): (
                Decimal(place % 3 * 100),
                Decimal(place // 3 * 80),
                Decimal(z + tilted * (along_x * (place % 3) + along_y * (place // 3) + up)),
            )
            for place, z in enumerate(heights)
        }

    assert deck.flatness_of_grid(face(1)) == deck.flatness_of_grid(face(0))
    found = deck.flatness_of_grid(face(0)).value
    assert 0 <= found <= 2 * (max(heights) - min(heights))


@given(
    st.decimals(Decimal(60), Decimal(110), places=2),
    st.decimals(Decimal(50), Decimal(110), places=2),
    st.decimals(Decimal(20), Decimal(80), places=1),
    st.decimals(Decimal(-15), Decimal(15), places=1),
    st.decimals(Decimal("-0.2"), Decimal(1), places=2),
    UNITS,
)
def test_a_ratio_does_not_depend_on_units_or_scale(
    bore: Decimal, stroke: Decimal, chamber: Decimal, crown: Decimal, gap: Decimal, unit: str
) -> None:
    def length(value: Number) -> Amount:
        return Amount(convert(value, "mm", unit), unit)

    thick = Decimal("1.2")
    assume(chamber - crown > 4)
    metric = Space(
        *(Amount(bore, "mm"), Amount(stroke, "mm"), Amount(chamber, "cm³"), Amount(gap, "mm")),
        *(Amount(bore, "mm"), Amount(thick, "mm"), Amount(crown, "mL")),
    )
    mixed = Space(
        *(length(bore), length(stroke), Amount(convert(chamber, "cm³", "in³"), "in³")),
        *(length(gap), length(bore), length(thick), Amount(convert(crown, "cm³", "L"), "L")),
    )
    doubled = Space(
        *(length(2 * bore), length(2 * stroke), Amount(8 * chamber, "cm³"), length(2 * gap)),
        *(length(2 * bore), length(2 * thick), Amount(8 * crown, "cm³")),
    )
    found = volumes(metric)
    assert volumes(mixed) == found
    assert volumes(doubled).ratio == found.ratio
    assert chamber_for_ratio(metric, found.ratio) == chamber


@given(
    st.decimals(Decimal(1), Decimal(300), places=1),
    st.decimals(Decimal(5), Decimal(20), places=1),
    st.decimals(Decimal("0.05"), Decimal("0.4"), places=2),
    st.decimals(Decimal("0.05"), Decimal("0.4"), places=2),
)
def test_preload_by_friction_in_inches_is_preload_in_millimetres(
    torque: Decimal, diameter: Decimal, thread: Decimal, head: Decimal
) -> None:
    lengths: list[Number] = [diameter, diameter / 8, diameter * Decimal("1.3")]
    inches = [convert(length, "mm", "in") for length in lengths]

    def preload(torque: Number, sizes: list[Number]) -> Number:
        return bolts.preload_by_friction(torque, sizes[0], sizes[1], thread, head, sizes[2])

    newtons = preload(torque * 1000, lengths)
    pounds = preload(convert(torque, "N·m", "lbf·in"), inches)
    assert convert(pounds, "lbf", "N") == newtons


@given(
    st.decimals(Decimal(100), Decimal(600), places=1),
    st.decimals(Decimal(0), Decimal(90), places=1),
    st.decimals(Decimal(-360), Decimal(360), places=1),
    st.decimals(Decimal(1), Decimal(200), places=1),
)
def test_an_extension_depends_on_its_share_of_the_tool_s_length_only(
    tool: Decimal, length: Decimal, angle: Decimal, torque: Decimal
) -> None:
    extension = Extension(tool, length, angle, "mm")
    assert torque_at_fastener(setting_for(torque, extension), extension) == torque
    doubled = Extension(2 * tool, 2 * length, angle, "in")
    assert factor(doubled) == factor(extension)
    reach = Fraction(length) / Fraction(tool)
    assert 1 - reach <= factor(extension) <= 1 + reach
