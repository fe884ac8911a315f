"""Select fit, honing and shells: what a builder is told."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from capture import fit
from capture.quantity import Number

BAND = (Decimal("0.025"), Decimal("0.045"))


def sizes(**words: str) -> dict[str | int, Number]:
    return {key: Decimal(word) for key, word in words.items()}


def test_spare_parts_are_listed_in_the_given_order() -> None:
    bores = sizes(first="87.235", second="87.245")
    pistons = sizes(d="87.300", a="87.200", c="87.100", b="87.210")
    found = fit.assign(bores, pistons, BAND)
    assert [(pair.outer, pair.inner) for pair in found.pairs] == [("first", "a"), ("second", "b")]
    assert found.spare_inners == ("d", "c")
    assert found.spare_outers == ()
    assert found.worst_miss == found.total_miss == 0


def test_in_the_band_comes_before_the_miss_of_a_target_that_is_not_its_middle() -> None:
    bore, pistons = sizes(a="87.235"), sizes(tight="87.211", loose="87.195")
    (pair,) = fit.assign(bore, pistons, BAND, Decimal("0.026")).pairs
    assert (pair.inner, pair.clearance, pair.miss) == ("loose", Decimal("0.040"), Decimal("0.014"))
    # Where nothing is inside, the least miss is proposed and said to be outside.
    (near,) = fit.assign(bore, sizes(tight="87.211"), BAND, Decimal("0.026")).outside
    assert near.miss == Decimal("0.002")


def test_an_empty_side_leaves_everything_spare() -> None:
    found = fit.assign({}, sizes(a="87.2"), BAND)
    assert found == fit.Proposal((), (), ("a",))
    assert found.worst_miss == 0
    assert fit.shortfall({}, sizes(a="87.2"), BAND).misfit_inners == (
        fit.Misfit("a", None, None, None),
    )
    assert fit.least_honing({}, {}, BAND).cuts == ()


def test_parts_that_fit_nothing_say_the_nearest_and_by_how_much() -> None:
    bores = sizes(one="87.235", two="87.400", three="87.100")
    pistons = sizes(a="87.200", b="87.201", c="87.202")
    found = fit.shortfall(bores, pistons, BAND)
    assert not found.complete
    assert len(found.largest.pairs) == 1
    assert set(found.largest.spare_outers) == {"two", "three"}
    assert found.misfit_outers == (
        fit.Misfit("two", "c", Decimal("0.198"), Decimal("0.153")),
        fit.Misfit("three", "a", Decimal("-0.100"), Decimal("-0.125")),
    )
    assert found.misfit_inners == ()


def test_equal_keys_on_both_sides_are_not_mixed_up() -> None:
    bores: dict[str | int, Number] = {1: Decimal("87.235"), 2: Decimal("87.500")}
    pistons: dict[str | int, Number] = {1: Decimal("87.200"), 2: Decimal("87.800")}
    found = fit.shortfall(bores, pistons, BAND)
    assert found.misfit_outers == (fit.Misfit(2, 1, Decimal("0.300"), Decimal("0.255")),)
    assert found.misfit_inners == (fit.Misfit(2, 2, Decimal("-0.300"), Decimal("-0.325")),)


def test_forbidden_pairs_are_never_made() -> None:
    bores, pistons = sizes(left="87.235"), sizes(left="87.200", right="87.100")
    found = fit.assign(bores, pistons, BAND, forbidden=[("left", "left"), ("x", "left")])
    assert [pair.inner for pair in found.pairs] == ["right"]
    alone = fit.assign(bores, sizes(left="87.200"), BAND, forbidden=[("left", "left")])
    assert alone.pairs == ()
    assert alone.spare_outers == ("left",)


@pytest.mark.parametrize(
    ("band", "target", "sentence"),
    [
        ((Decimal(2), Decimal(1)), None, "2 is above the greatest 1: exchange the two"),
        ((Decimal(1), None), None, "has no middle"),
        ((Decimal(1), Decimal(2)), Decimal(3), "outside its own band"),
    ],
)
def test_bands_that_make_no_sense(
    band: tuple[Decimal | None, Decimal | None], target: Decimal | None, sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        fit.assign(sizes(a="1"), sizes(b="1"), band, target)


def test_honing_each_bore_to_its_piston() -> None:
    bores = sizes(one="87.208", two="87.240", three="87.260", four="87.235")
    pistons = sizes(a="87.200", b="87.200", c="87.200", d="87.200")
    pairs = dict(zip(bores, pistons, strict=True))
    found = fit.hone(bores, pistons, pairs, BAND, most=Decimal("0.020"))
    one, two, three, four = found.cuts
    assert (one.wanted_size, one.amount, one.too_much) == (
        Decimal("87.235"),
        Decimal("0.027"),
        Decimal("0.007"),
    )
    assert (
        one.sentence("mm", 3)
        == "Take 0.027 mm, to 87.235 mm. That is 0.007 mm more than may be taken."
    )
    assert not one.within
    assert (two.amount, two.too_large) == (Decimal(0), Decimal("0.005"))
    assert two.within
    assert (
        two.sentence("mm", 3)
        == "Too large already by 0.005 mm: the clearance is 0.040 mm, still within its band."
    )
    assert three.sentence("mm", 3).endswith(
        "by 0.025 mm: the clearance is 0.060 mm, outside its band."
    )
    assert four.sentence("mm", 3) == "At the wanted size: nothing to take."
    assert [cut.to for cut in found.cuts] == [Decimal("87.235"), None, None, None]
    assert found.failing == (one, three)
    assert found.total == Decimal("0.027")


@pytest.mark.parametrize(
    ("pairs", "most", "sentence"),
    [
        ({"one": "z"}, None, "one has no size"),
        ({"one": "a", "two": "a"}, None, "two outers"),
        ({"one": "a"}, Decimal(-1), "give 0 or more"),
    ],
)
def test_honing_arguments_that_make_no_sense(
    pairs: dict[str, str | int], most: Decimal | None, sentence: str
) -> None:
    parts = sizes(one="87.2", two="87.3")
    with pytest.raises(ValueError, match=sentence):
        fit.hone(parts, sizes(a="87.1", b="87.2"), pairs, BAND, most=most)


def test_least_honing_leaves_what_cannot_be_brought_into_the_band() -> None:
    bores = sizes(one="87.300", two="87.210")
    found = fit.least_honing(bores, sizes(a="87.200", b="87.190"), BAND)
    assert [(cut.outer, cut.inner, cut.amount) for cut in found.cuts] == [
        ("two", "b", Decimal("0.015"))
    ]
    assert found.left_outers == ("one",)
    assert found.left_inners == ("a",)


def test_least_honing_takes_no_more_than_may_be_taken() -> None:
    bores, pistons = sizes(one="87.200", two="87.230"), sizes(a="87.200", b="87.180")
    free = fit.least_honing(bores, pistons, BAND)
    assert {(cut.outer, cut.inner) for cut in free.cuts} == {("one", "b"), ("two", "a")}
    bounded = fit.least_honing(bores, pistons, BAND, most=Decimal("0.010"))
    assert [(cut.outer, cut.inner) for cut in bounded.cuts] == [("two", "a")]
    assert bounded.left_outers == ("one",)


RED, BLUE = fit.Shell("red", Decimal("1.985"), 2), fit.Shell("blue", Decimal("1.990"), 1)


def test_mixed_halves_rank_where_they_come_nearer() -> None:
    housing, journal = Decimal("60.000"), Decimal("55.985")
    found = fit.choose_shells(housing, journal, [RED, BLUE], BAND, Decimal("0.040"))
    assert [(choice.upper, choice.lower, choice.clearance) for choice in found] == [
        ("red", "blue", Decimal("0.040")),
        ("red", "red", Decimal("0.045")),
    ]  # two blue ones are not on hand
    assert [choice.mixed for choice in found] == [True, False]


def test_a_shell_stays_on_its_side() -> None:
    upper = fit.Shell("grooved", Decimal("1.985"), 9, fit.Half.UPPER)
    lower = fit.Shell("plain", Decimal("1.985"), 9, fit.Half.LOWER)
    for stock in ([upper, lower], [lower, upper]):
        found = fit.choose_shells(Decimal("60.000"), Decimal("55.985"), stock, BAND)
        assert [choice[:2] for choice in found] == [("grooved", "plain")]


def test_bearings_compete_for_the_stock() -> None:
    bearings = {
        1: fit.Bearing(Decimal("60.000"), Decimal("55.995")),
        2: fit.Bearing(Decimal("60.000"), Decimal("55.995")),
    }
    found = fit.choose_for_all(bearings, [RED, BLUE], BAND)
    assert list(found.choices) == [1]
    assert found.choices[1].clearance == Decimal("0.035")
    assert found.remaining == {"red": 0, "blue": 1}
    (short,) = found.unsupplied
    assert short.bearing == 2
    assert short.wanted_total == Decimal("3.970")
    assert short.nearest is not None
    assert short.nearest.upper == "red"
    assert found.worst_miss == found.total_miss == 0


def test_no_shell_at_all() -> None:
    found = fit.choose_for_all({"a": fit.Bearing(Decimal(60), Decimal(56))}, [], BAND)
    assert found.choices == {}
    assert found.unsupplied == (fit.Unsupplied("a", Decimal("3.965"), None),)


@pytest.mark.parametrize(
    ("stock", "sentence"),
    [
        ([RED, RED], "listed twice"),
        ([fit.Shell("x", Decimal(1), -1)], "has -1 on hand"),
        ([fit.Shell("x", Decimal(0), 1)], "at the crown"),
    ],
)
def test_shells_that_make_no_sense(stock: list[fit.Shell], sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        fit.choose_shells(Decimal(60), Decimal(56), stock, BAND)


def test_fractions_decide_exactly() -> None:
    """Two pistons whose misses differ by less than floating point can see."""
    hair = Fraction(1, 10**25)
    bore = {"a": Decimal("87.235")}
    near, far = Fraction("87.200") + hair, Fraction("87.200") - 2 * hair
    assert fit.assign(bore, {"far": far, "near": near}, BAND).pairs[0].inner == "near"
