"""Every proposal of parts to each other is the best there is: against trying all of them."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import permutations, product

from hypothesis import given, settings
from hypothesis import strategies as st

from capture import fit
from capture.fit.matching import array, best, whole_assignment
from capture.quantity import Number, convert

Parts = dict[str | int, Decimal]
Pairing = tuple[tuple[str | int, str | int], ...]
BAND = (Decimal("0.025"), Decimal("0.045"))
TARGET = Decimal("0.035")


def parts(around: str, most: int = 5) -> st.SearchStrategy[Parts]:
    size = st.integers(-40, 40).map(lambda n: Decimal(around) + Decimal(n).scaleb(-3))
    return st.lists(size, max_size=most).map(lambda some: dict(enumerate(some, 1)))


BORES, PISTONS = parts("87.235"), parts("87.200")
UP_TO_6 = parts("87.235", 6), parts("87.200", 6)
FORBIDDEN = st.sets(st.tuples(st.integers(1, 5), st.integers(1, 5)), max_size=6)
TARGETS = st.none() | st.integers(25, 45).map(lambda n: Decimal(n).scaleb(-3))


def pairings(outers: Parts, inners: Parts) -> Iterator[Pairing]:
    """Every way to pair all parts of the fewer kind."""
    if len(outers) <= len(inners):
        for some in permutations(inners, len(outers)):
            yield tuple(zip(outers, some, strict=True))
    else:
        for some in permutations(outers, len(inners)):
            yield tuple(zip(some, inners, strict=True))


def matchings(outers: Parts, inners: Parts, may: set[tuple[str | int, str | int]]) -> set[Pairing]:
    """Every way to pair some of the parts, allowed pairs only."""
    return {
        tuple(sorted((pair for pair in some if pair in may), key=str))
        for some in pairings(outers, inners)
    }


def misses(outers: Parts, inners: Parts, some: Pairing, target: Decimal) -> list[Decimal]:
    return [abs(outers[outer] - inners[inner] - target) for outer, inner in some]


def rank(
    outers: Parts, inners: Parts, some: Pairing, target: Decimal
) -> tuple[int, Decimal, Decimal]:
    each = misses(outers, inners, some, target)
    return -len(some), max(each, default=Decimal(0)), sum(each, Decimal(0))


def of(proposal: fit.Proposal) -> Pairing:
    return tuple((pair.outer, pair.inner) for pair in proposal.pairs)


def in_band(outers: Parts, inners: Parts) -> set[tuple[str | int, str | int]]:
    return {
        (outer, inner)
        for outer, inner in product(outers, inners)
        if BAND[0] <= outers[outer] - inners[inner] <= BAND[1]
    }


@settings(deadline=None)
@given(*UP_TO_6, TARGETS, FORBIDDEN)
def test_assignment_against_all_of_them(
    bores: Parts, pistons: Parts, target: Decimal | None, forbidden: set[tuple[int, int]]
) -> None:
    aim = TARGET if target is None else target
    free = set(product(bores, pistons)) - forbidden
    inside = matchings(bores, pistons, in_band(bores, pistons) & free)
    fewer = min(len(bores), len(pistons))
    candidates = {some for some in inside if len(some) == fewer}
    candidates = candidates or matchings(bores, pistons, free)
    expected = min(rank(bores, pistons, some, aim) for some in candidates)
    found = fit.assign(bores, pistons, BAND, target, forbidden=forbidden)
    assert rank(bores, pistons, of(found), aim) == expected
    assert (-len(found.pairs), found.worst_miss, found.total_miss) == expected
    assert not set(of(found)) & forbidden
    assert {pair.outer for pair in found.pairs} | set(found.spare_outers) == set(bores)
    assert {pair.inner for pair in found.pairs} | set(found.spare_inners) == set(pistons)
    assert len(found.pairs) + len(found.spare_outers) == len(bores)
    assert len(found.pairs) + len(found.spare_inners) == len(pistons)


@settings(deadline=None)
@given(*UP_TO_6)
def test_never_worse_than_the_given_order(bores: Parts, pistons: Parts) -> None:
    found, given_ = fit.assign(bores, pistons, BAND), fit.given_order(bores, pistons, BAND)
    if not given_.outside or found.outside:
        assert (found.worst_miss, found.total_miss) <= (given_.worst_miss, given_.total_miss)
    assert len(found.outside) == 0 or len(given_.outside) > 0


@settings(deadline=None)
@given(BORES, PISTONS)
def test_the_largest_part_of_them_in_the_band(bores: Parts, pistons: Parts) -> None:
    may = in_band(bores, pistons)
    expected = min(
        (rank(bores, pistons, some, TARGET) for some in matchings(bores, pistons, may)),
        default=(0, Decimal(0), Decimal(0)),
    )
    found = fit.shortfall(bores, pistons, BAND)
    assert rank(bores, pistons, of(found.largest), TARGET) == expected
    assert found.complete == (-expected[0] == min(len(bores), len(pistons)))
    assert found.largest.outside == ()
    assert {one.part for one in found.misfit_outers} == set(bores) - {outer for outer, _ in may}
    assert {one.part for one in found.misfit_inners} == set(pistons) - {inner for _, inner in may}
    for one in found.misfit_outers:
        off = [
            max(BAND[0] - clearance, clearance - BAND[1])
            for clearance in (bores[one.part] - size for size in pistons.values())
        ]
        assert one.off is None if not off else abs(Fraction(one.off or 0)) == min(off)


@settings(deadline=None)
@given(BORES, PISTONS)
def test_the_order_of_the_parts_does_not_matter(bores: Parts, pistons: Parts) -> None:
    turned = dict(reversed(bores.items())), dict(reversed(pistons.items()))
    assert set(of(fit.assign(*turned, BAND))) == set(of(fit.assign(bores, pistons, BAND)))


@settings(deadline=None)
@given(BORES, PISTONS)
def test_the_unit_does_not_matter(bores: Parts, pistons: Parts) -> None:
    """A thousandth of a millimetre has no end in decimal inches: fractions decide alike."""

    def moved(sizes: Parts) -> dict[str | int, Number]:
        return {key: convert(size, "mm", "in") for key, size in sizes.items()}

    band = (convert(BAND[0], "mm", "in"), convert(BAND[1], "mm", "in"))
    found = fit.assign(moved(bores), moved(pistons), band)
    same = fit.assign(bores, pistons, BAND)
    assert of(found) == of(same)
    assert convert(found.total_miss, "in", "mm") == same.total_miss


@settings(deadline=None)
@given(BORES, PISTONS)
def test_the_same_with_sizes_too_fine_for_machine_words(bores: Parts, pistons: Parts) -> None:
    """A part in 10³⁰ of difference decides too; shifting every size by 1/(10³⁰+57) nothing."""
    odd = Fraction(1, 10**30 + 57)
    fine = {key: Fraction(size) + odd for key, size in bores.items()}
    also = {key: Fraction(size) + odd for key, size in pistons.items()}
    found, same = fit.assign(fine, also, BAND), fit.assign(bores, pistons, BAND)
    assert (found.worst_miss, found.total_miss) == (same.worst_miss, same.total_miss)


@settings(deadline=None)
@given(BORES, PISTONS, st.none() | st.integers(0, 40).map(lambda n: Decimal(n).scaleb(-3)))
def test_least_honing_against_all_of_them(
    bores: Parts, pistons: Parts, most: Decimal | None
) -> None:
    def amount(outer: str | int, inner: str | int) -> Decimal:
        return max(Decimal(0), pistons[inner] + TARGET - bores[outer])

    may = {
        (outer, inner)
        for outer, inner in product(bores, pistons)
        if bores[outer] - pistons[inner] <= BAND[1]
        and (most is None or amount(outer, inner) <= most)
    }
    expected = min(
        (-len(some), sum((amount(*pair) for pair in some), Decimal(0)))
        for some in matchings(bores, pistons, may)
    )
    found = fit.least_honing(bores, pistons, BAND, most=most)
    assert (-len(found.cuts), found.total) == expected
    assert found.failing == ()
    for cut in found.cuts:
        assert cut.amount >= 0
        assert cut.too_large >= 0
        assert not (cut.amount and cut.too_large)
        after = Fraction(cut.size) + Fraction(cut.amount)
        assert after == Fraction(cut.wanted_size) + Fraction(cut.too_large)
        assert cut.clearance == after - Fraction(pistons[cut.inner])


COSTS = st.integers(1, 5).flatmap(
    lambda columns: st.lists(
        st.lists(st.integers(0, 30), min_size=columns, max_size=columns), min_size=1, max_size=5
    )
)


@settings(deadline=None)
@given(COSTS, st.sampled_from([1, 10**18, 10**30]))
def test_least_sum_against_all_of_them(costs: list[list[int]], scale: int) -> None:
    large = [[cost * scale for cost in row] for row in costs]
    rows: Parts = dict.fromkeys(range(len(costs)), Decimal(0))
    columns: Parts = dict.fromkeys(range(len(costs[0])), Decimal(0))
    sums = [
        sum(large[int(row)][int(column)] for row, column in some)
        for some in pairings(rows, columns)
    ]
    table = array(large)
    every = array([[1] * len(columns)] * len(rows)).astype(bool)
    for found in (whole_assignment(large), best(table, every, worst_first=False)):
        assert sum(large[row][column] for row, column in found) == min(sums)
        assert len(found) == min(len(rows), len(columns))


@st.composite
def shells(draw: st.DrawFn) -> list[fit.Shell]:
    return [
        fit.Shell(
            name,
            Decimal("1.985") + Decimal(draw(st.integers(-8, 8))).scaleb(-3),
            draw(st.integers(0, 5)),
            draw(st.sampled_from(fit.Half)),
        )
        for name in "abcd"[: draw(st.integers(1, 4))]
    ]


BEARINGS = st.lists(
    st.builds(
        lambda housing, journal: fit.Bearing(
            Decimal("60.000") + Decimal(housing).scaleb(-3),
            Decimal("55.995") + Decimal(journal).scaleb(-3),
        ),
        st.integers(-10, 10),
        st.integers(-10, 10),
    ),
    min_size=1,
    max_size=4,
)


def halves(stock: list[fit.Shell]) -> list[tuple[fit.Shell, fit.Shell]]:
    """Every upper with every lower."""
    return [
        (upper, lower)
        for upper, lower in product(stock, stock)
        if upper.half is not fit.Half.LOWER and lower.half is not fit.Half.UPPER
    ]


def shell_rank(
    bearings: list[fit.Bearing],
    some: tuple[tuple[fit.Shell, fit.Shell] | None, ...],
) -> tuple[int, Decimal, Decimal, int] | None:
    """How good; None where a clearance is out of the band or the stock too small."""
    used: dict[str, int] = {}
    each: list[Decimal] = []
    mixed = 0
    for bearing, two in zip(bearings, some, strict=True):
        if two is None:
            continue
        clearance = Fraction(bearing.housing) - Fraction(bearing.journal)
        for shell in two:
            clearance -= Fraction(shell.thickness)
            used[shell.name] = used.get(shell.name, 0) + 1
            if used[shell.name] > shell.on_hand:
                return None
        if not BAND[0] <= clearance <= BAND[1]:
            return None
        miss = abs(clearance - Fraction(TARGET))
        each.append(Decimal(int(miss * 1000)).scaleb(-3))
        mixed += two[0] is not two[1]
    return -len(each), max(each, default=Decimal(0)), sum(each, Decimal(0)), mixed


@settings(deadline=None, max_examples=60)
@given(BEARINGS, shells())
def test_shells_from_a_limited_stock_against_all_choices(
    bearings: list[fit.Bearing], stock: list[fit.Shell]
) -> None:
    ways: list[list[tuple[fit.Shell, fit.Shell] | None]] = []
    for bearing in bearings:
        fitting = [two for two in halves(stock) if (shell_rank([bearing], (two,)) or (0,))[0]]
        seen = {tuple(sorted((one.name, two.name))): (one, two) for one, two in fitting}
        ways.append([None, *seen.values()])
    ranks = (shell_rank(bearings, some) for some in product(*ways))
    expected = min(one for one in ranks if one is not None)
    found = fit.choose_for_all(dict(enumerate(bearings)), stock, BAND)
    assert (
        -len(found.choices),
        found.worst_miss,
        found.total_miss,
        sum(choice.mixed for choice in found.choices.values()),
    ) == expected
    assert len(found.choices) + len(found.unsupplied) == len(bearings)
    assert all(count >= 0 for count in found.remaining.values())
    by_name = {shell.name: shell for shell in stock}
    for key, choice in found.choices.items():
        upper, lower = by_name[choice.upper], by_name[choice.lower]
        assert upper.half is not fit.Half.LOWER
        assert lower.half is not fit.Half.UPPER
        bearing = bearings[int(key)]
        parts_ = (upper.thickness, lower.thickness, bearing.journal)
        made = Fraction(bearing.housing) - sum(Fraction(part) for part in parts_)
        assert made == choice.clearance


@settings(deadline=None)
@given(BEARINGS, shells())
def test_shells_for_one_bearing_are_all_choices_in_order(
    bearings: list[fit.Bearing], stock: list[fit.Shell]
) -> None:
    housing, journal = bearings[0]
    found = fit.choose_shells(housing, journal, stock, BAND)
    possible = {
        tuple(sorted((upper.name, lower.name)))
        for upper, lower in halves(stock)
        if min(upper.on_hand, lower.on_hand) >= (2 if upper is lower else 1)
    }
    assert len(found) == len(possible)
    assert {tuple(sorted(choice[:2])) for choice in found} == possible
    ranks = [(not choice.within, choice.miss) for choice in found]
    assert ranks == sorted(ranks)
