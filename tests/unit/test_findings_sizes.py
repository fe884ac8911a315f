"""Findings about sizes: each mistake is found with its numbers, and good work is left alone."""

from __future__ import annotations

import pytest

from capture.findings import cap, findings, repeats, ring, sets, zero
from tests.unit.findings_block import BORES, Block, codes, only

HOUSINGS = {
    1: (62.010, 62.011, 62.009),
    2: (62.012, 62.012, 62.011),
    3: (62.008, 62.010, 62.007),
    4: (62.011, 62.012, 62.011),
    5: (62.013, 62.013, 62.012),
}


def housings(but: dict[int, tuple[float, float, float]] | None = None) -> Block:
    block = Block()
    for number, sizes in {**HOUSINGS, **(but or {})}.items():
        block.put("housings", number, sizes)
    return block


def test_good_work_finds_nothing() -> None:
    block = housings().bores()
    for number in range(1, 6):
        block.put("gaps", number, (0.40, 0.40, 0.41), "0.02")
        block.put("bores-again", number, [sum(BORES[number]) / 6])
    block.put("float", 1, (0.121, 0.122, 0.121, 0.122))
    assert findings(block.build) == []


def test_nothing_measured_finds_nothing() -> None:
    assert findings(Block().build) == []


# a reading, a number -------------------------------------------------------------------------


def elsewhere() -> Block:
    """Bore 4 is 0.018 larger than the others; one reading of bore 2 was taken in it."""
    large = [size + 0.018 for size in BORES[4]]
    wrong = [*BORES[2]]
    wrong[3] = large[3]
    return Block().bores(but={2: wrong, 4: large})


def test_a_reading_on_another_cylinder() -> None:
    found = only(sets.readings(elsewhere().build), "reading-unlike-its-set")
    assert found.subject == "bores/2/middle-axial"
    assert found.numbers["like"] == "4"
    assert found.numbers["there"] == "86.025"
    assert float(found.numbers["distance"]) == pytest.approx(0.016, abs=0.002)
    assert float(found.numbers["allowed"]) < 0.013
    assert "cylinder 4 has 86.025 mm at that point" in found.detail


def test_readings_are_looked_at_when_all_sets_are_complete() -> None:
    block = elsewhere()
    block.build.clear(block.build.index["bores/5/top-axial"])
    assert list(sets.readings(block.build)) == []


def test_a_bore_unlike_its_sisters() -> None:
    block = Block().bores(but={3: [size + 0.25 for size in BORES[3]]})
    found = only(sets.numbers(block.build), "unlike-its-sisters")
    assert found.subject == "bores/3"
    assert float(found.numbers["distance"]) == pytest.approx(0.248, abs=0.001)
    assert found.numbers["degrees_of_freedom"] == "3"
    assert "cylinder 3 has 86.2575 mm in the mean" in found.detail


# zero ----------------------------------------------------------------------------------------


def test_all_shifted_is_zero_rather_than_wear() -> None:
    found = only(zero.shifted(Block().bores(shift=0.050).build), "all-shifted")
    assert found.subject == "bores"
    assert float(found.numbers["shift"]) == pytest.approx(0.0486, abs=0.0003)
    assert float(found.numbers["scatter"]) < 0.002
    assert "All 5 lie above their limits" in found.detail
    below = only(zero.shifted(Block().bores(shift=-0.050).build), "all-shifted")
    assert "below their limits" in below.detail


def test_wear_is_uneven_and_not_taken_for_a_shift() -> None:
    worn = {n: [size + 0.02 * n * n for size in BORES[n]] for n in BORES}
    assert list(zero.shifted(Block().bores(but=worn).build)) == []
    partly = {n: [size + 0.05 for size in BORES[n]] for n in (1, 2, 3, 4)}
    assert list(zero.shifted(Block().bores(but=partly).build)) == []


def against(shift: float, scatter: float = 0.0) -> Block:
    block = Block().bores()
    for number in range(1, 6):
        mean = sum(BORES[number]) / 6
        block.put("bores-again", number, [mean + shift + scatter * (number - 3)])
    return block


def test_two_gauges_disagree() -> None:
    found = only(zero.two_gauges(against(0.008).build), "gauges-disagree")
    assert found.subject == "bores"
    assert float(found.numbers["shift"]) == pytest.approx(-0.008, abs=0.0001)
    assert found.numbers["explained"] == "0.00198"
    assert "0.008 mm less than bores-again found" in found.detail


def test_two_gauges_agree_within_their_uncertainty() -> None:
    assert list(zero.two_gauges(against(0.0015).build)) == []
    assert list(zero.two_gauges(against(0.008, scatter=0.004).build)) == []


# caps ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("axis", "along"),
    [
        ("split", True), ("along-split", True), ("parting", True), ("square-to-split", False),
        ("vertical", False), ("across-split", False), ("thrust", False),
    ],
)  # fmt: skip
def test_which_axes_lie_along_the_split(axis: str, along: bool) -> None:
    assert cap.along_split(axis) is along


def test_one_bore_wider_along_the_split() -> None:
    found = only(cap.along(housings({4: (62.011, 62.022, 62.041)}).build), "wider-along-split")
    assert found.subject == "housings/4"
    assert found.numbers["along_less_across"] == "0.0245"
    assert "oil or dirt between cap and register" in found.detail


def test_all_bores_wider_along_the_split() -> None:
    wide = {n: (a, b, c + 0.008) for n, (a, b, c) in HOUSINGS.items()}
    found = only(cap.along(housings(wide).build), "wider-along-split")
    assert found.subject == "housings"
    assert float(found.numbers["along_less_across"]) == pytest.approx(0.0066, abs=0.0002)
    assert found.numbers["explained"] == "0.00198"


def test_a_cap_reversed_shows_in_the_pattern() -> None:
    found = only(
        cap.patterns(housings({3: (62.008, 62.022, 61.995)}).build), "pattern-unlike-its-neighbours"
    )
    assert found.subject == "housings/3"
    assert found.numbers["axis"] in ("slanted", "along-split")
    assert "reversed or swapped" in found.detail
    assert abs(float(found.numbers["own"]) - float(found.numbers["others"])) > float(
        found.numbers["allowed"]
    )


def test_a_larger_bore_of_the_same_pattern_is_no_pattern_of_its_own() -> None:
    larger = (62.028, 62.029, 62.027)
    assert list(cap.patterns(housings({3: larger}).build)) == []


# repeats -------------------------------------------------------------------------------------


def test_repeats_of_a_ring_that_is_not_square_scatter() -> None:
    block = Block()
    for number in (1, 2, 3, 4):
        block.put("gaps", number, (0.40, 0.41, 0.40), "0.01")
    block.put("gaps", 5, (0.40, 0.47, 0.52), "0.01")
    found = only(repeats.scatter(block.build), "repeats-scatter")
    assert found.subject == "gaps/5"
    assert float(found.numbers["deviation"]) == pytest.approx(0.0603, abs=0.0005)
    assert "from 0.4 to 0.52 mm" in found.detail


def test_repeats_that_all_scatter_alike_are_the_way_it_is_measured() -> None:
    block = Block()
    for number in range(1, 6):
        block.put("gaps", number, (0.40, 0.43, 0.46), "0.01")
    assert list(repeats.scatter(block.build)) == []


def test_repeats_to_one_side() -> None:
    block = Block().put("float", 1, (0.121, 0.122, 0.121, 0.140))
    found = only(repeats.one_sided(block.build), "repeats-to-one-side")
    assert found.subject == "float/1"
    assert found.numbers == {"far": "0.0185", "near": "0.0005", "explained": "0.00198"}
    assert "above their median" in found.detail
    both = Block().put("float", 1, (0.110, 0.121, 0.122, 0.133))
    assert list(repeats.one_sided(both.build)) == []


# rings ---------------------------------------------------------------------------------------

LARGE = {2: [size + 0.060 for size in BORES[2]]}


def gaps(block: Block, of: dict[int, float]) -> Block:
    for number, gap in of.items():
        block.put("gaps", number, (gap, gap, gap), "0.01")
    return block


def test_a_gap_of_rings_cut_alike_taken_in_another_bore() -> None:
    # Every gap is 0.40 at 86.008; π × 0.061 = 0.19 more in bore 2. Ring 4 was measured there.
    block = gaps(Block().bores(but=LARGE), {1: 0.40, 2: 0.59, 3: 0.40, 4: 0.59, 5: 0.40})
    found = only(ring.other_bore(block.build), "gap-of-another-bore")
    assert found.subject == "gaps/4"
    assert found.numbers["like"] == "2"
    assert float(found.numbers["change"]) == pytest.approx(0.19, abs=0.005)
    assert "π ×" in found.detail


def test_a_gap_of_rings_filed_to_their_bores_taken_in_another() -> None:
    block = gaps(Block().bores(but=LARGE), {1: 0.40, 2: 0.40, 3: 0.40, 4: 0.59, 5: 0.40})
    found = only(ring.other_bore(block.build), "gap-of-another-bore")
    assert (found.subject, found.numbers["like"]) == ("gaps/4", "2")


def test_gaps_that_follow_their_own_bores() -> None:
    cut = gaps(Block().bores(but=LARGE), {1: 0.40, 2: 0.59, 3: 0.40, 4: 0.41, 5: 0.40})
    assert list(ring.other_bore(cut.build)) == []
    filed = gaps(Block().bores(but=LARGE), {1: 0.40, 2: 0.40, 3: 0.40, 4: 0.41, 5: 0.40})
    assert list(ring.other_bore(filed.build)) == []
    assert "gap-of-another-bore" not in codes(findings(filed.build))
