"""Findings about fasteners, turning tests and entries."""

from __future__ import annotations

import dataclasses
from decimal import Decimal

import pytest
from scipy import stats

from capture.findings import NOT_SHOWN, Source, entries, findings, pattern, turning
from capture.findings.chance import chi_square
from tests.unit.findings_block import GAUGE, Block, codes, only


@pytest.mark.parametrize("degrees", [1, 2, 3, 7, 9, 30])
@pytest.mark.parametrize("outside", [0.05, 0.01, 0.001])
def test_chi_square_is_near_that_of_scipy(outside: float, degrees: int) -> None:
    assert chi_square(outside, degrees) == pytest.approx(stats.chi2.isf(outside, degrees), rel=0.04)


def test_chi_square_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="no χ²"):
        chi_square(0.01, 0)


# turning -------------------------------------------------------------------------------------


def turned(*torques: float) -> Block:
    block = Block()
    for number, torque in enumerate(torques, 1):
        block.put("turning", number, [torque], "0.2")
    return block


def test_a_jump_after_one_cap() -> None:
    found = only(turning.jumps(turned(1.0, 1.3, 1.7, 6.4, 6.8).build), "torque-jump")
    assert found.subject == "turning/4"
    assert found.numbers["rise"] == "4.7"
    assert "rose by 4.7 N·m at housing 4" in found.detail


def test_jumps_go_by_the_order_done() -> None:
    block = Block()
    for number, torque in ((3, 1.0), (2, 1.3), (4, 1.7), (1, 6.4), (5, 6.8)):
        block.put("turning", number, [torque], "0.2")
    assert only(turning.jumps(block.build), "torque-jump").subject == "turning/1"


@pytest.mark.parametrize("torques", [(1.0, 1.4, 1.9, 2.2, 2.7), (1.0, 6.0), (1.0, 1.3, 1.6, 1.4)])
def test_a_steady_rise_or_a_test_just_begun_is_no_jump(torques: tuple[float, ...]) -> None:
    assert list(turning.jumps(turned(*torques).build)) == []


# fasteners -----------------------------------------------------------------------------------

STEADY = (60.2, 59.8, 60.1, 60.0, 59.9, 60.3, 59.7, 60.1)
ANGLES = (90, 92, 89, 91, 90, 88, 91, 90)


def pulled(*torques: float, angles: tuple[float, ...] = ANGLES) -> Block:
    block = Block()
    for number, (torque, angle) in enumerate(zip(torques, angles, strict=True), 1):
        block.put("bolts", number, [torque], "0.8").put("bolts", number, [angle], "4")
    return block


def test_steady_pulls_find_nothing() -> None:
    block = pulled(*STEADY)
    assert findings(block.build, factors={"crowfoot": 0.9}) == []


def test_pulls_that_scatter_more_than_the_tool() -> None:
    block = pulled(58.1, 61.9, 60.4, 57.5, 62.2, 59.0, 61.1, 58.8)
    found = only(pattern.scatter(block.build), "pulls-scatter")
    assert found.subject == "bolts/torque"
    assert found.numbers["expanded_uncertainty"] == "0.8"
    assert float(found.numbers["deviation"]) == pytest.approx(1.77, abs=0.005)
    # 0.8 · √(χ²(0.99; 7)/7), χ² = 18.475 (printed tables)
    assert float(found.numbers["allowed"]) == pytest.approx(1.30, abs=0.01)


def test_a_whole_pattern_scaled_by_an_extension() -> None:
    # A 400 mm tool with an offset of 44 mm: L/(L + E) = 0.901.
    block = pulled(*(value * 400 / 444 for value in STEADY))
    found = only(pattern.scaled(block.build, {"crowfoot": 400 / 444}), "scaled-pattern")
    assert found.numbers["extension"] == "crowfoot"
    assert float(found.numbers["ratio"]) == pytest.approx(0.901, abs=0.001)
    assert "crowfoot gives 0.900901" in found.detail
    assert list(pattern.scaled(block.build, {"short": 0.95})) == []
    over = pulled(*(value * 444 / 400 for value in STEADY))
    inverse = only(pattern.scaled(over.build, {"crowfoot": 400 / 444}), "scaled-pattern")
    assert inverse.numbers["factor"] == "1.11"


def test_a_fastener_outside_its_family() -> None:
    block = pulled(*STEADY, angles=(90, 92, 89, 91, 140, 88, 91, 90))
    found = only(pattern.families(block.build), "outside-its-family")
    assert found.subject == "bolts/5/angle"
    assert found.numbers["value"] == "140"
    assert found.numbers["unit"] == "°"
    assert "Fastener 5 shows 140 °, the others 90.1429 °" in found.detail


# entries -------------------------------------------------------------------------------------


def typed(digits: str, unit: str = "mm", day: str = "2026-03-01", hand: bool = True) -> Source:
    return Source(digits, unit, day, hand, GAUGE)


@pytest.mark.parametrize(
    ("digits", "unit", "found"),
    [
        ("86.0123", "mm", True),
        ("86.012", "mm", False),
        ("86.0120", "mm", False),
        ("-0.0004", "mm", True),
        ("0.0000", "mm", False),
        ("3.386312", "in", True),
        ("3.3863", "in", False),
        ("3.38631", "in", False),
        ("8601.2", "µm", True),
        ("86012", "µm", False),
    ],
)
def test_digits_finer_than_the_gauge(digits: str, unit: str, found: bool) -> None:
    in_microns = dataclasses.replace(GAUGE, resolution=Decimal(1), unit="µm")
    source = typed(digits, unit)
    if unit == "µm":
        source = source._replace(instrument=in_microns)
    block = Block().put("bores-again", 2, [86.0123], source=source)
    seen = list(entries.too_fine(block.build, block.sources))
    assert codes(seen) == (["finer-than-shown"] if found else [])
    if found and unit == "mm":
        assert seen[0].subject == "bores-again/2"
        assert f"{digits} mm was typed, but gauge shows steps of 0.001 mm" in seen[0].detail


def test_digits_sent_by_a_gauge_switched_to_inches() -> None:
    sent = typed("0.0004", hand=False)
    block = Block().put("bores", 2, [86.0004], source=sent)
    found = only(entries.too_fine(block.build, block.sources), "finer-than-shown")
    assert "0.0004 mm was sent" in found.detail
    assert "of another unit" in found.detail


def test_a_tool_that_is_overdue() -> None:
    block = Block()
    for number in (1, 2, 3):
        block.put("bores-again", number, [86.01], source=typed("86.010", day="2026-07-01"))
    found = only(findings(block.build, block.sources), "tool-overdue")
    assert found.subject == "gauge"
    assert found.numbers == {"due": "2026-06-30", "day": "2026-07-01", "steps": "3"}
    in_time = Block().put("bores-again", 1, [86.01], source=typed("86.010", day="2026-06-30"))
    assert list(entries.overdue(in_time.build, in_time.sources)) == []


LEAVES = tuple(Decimal(leaf) for leaf in ("0.35", "0.40", "0.45", "0.50"))
FEELER = Source(
    "0.40", "mm", "2026-03-01", True,
    dataclasses.replace(GAUGE, id="feeler", kind="feeler", leaves=LEAVES),
)  # fmt: skip


def feeler(*lowers: str) -> Block:
    block = Block()
    for number, lower in enumerate(lowers, 1):
        upper = str(Decimal(lower) + Decimal("0.05"))
        block.put("gaps", number, [lower] * 3, "0.01", (lower, upper), FEELER)
    return block


def test_one_leaf_away_from_all_sisters() -> None:
    block = feeler("0.40", "0.40", "0.45", "0.40", "0.40")
    found = [one for one in findings(block.build, block.sources) if one.code == "one-leaf-away"]
    assert [one.subject for one in found] == ["gaps/3/1", "gaps/3/2", "gaps/3/3"]
    assert found[0].numbers == {"lower": "0.45", "upper": "0.50", "unit": "mm"}


def test_gaps_that_differ_among_themselves_say_nothing_of_one() -> None:
    block = feeler("0.40", "0.45", "0.40", "0.35", "0.40")
    assert list(entries.one_leaf_away(block.build, block.sources)) == []


def test_what_no_data_shows_says_what_guards_against_it() -> None:
    assert any("whole set taken on a sister bore" in one.mistake for one in NOT_SHOWN)
    assert all(one.practice and one.why for one in NOT_SHOWN)
    assert len({one.mistake for one in NOT_SHOWN}) == len(NOT_SHOWN)
