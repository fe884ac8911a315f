"""The table of mistakes, small: every kind is questioned as often as it must be, good readings are
left alone. ``python -m tests.benchmarks.mistakes`` measures the same with more builds."""

from __future__ import annotations

import pytest

from tests.benchmarks.mistake_cases.block import LEAVES
from tests.benchmarks.mistake_cases.day import ALL, Days
from tests.benchmarks.mistake_cases.engine import entered
from tests.benchmarks.mistake_cases.kinds import KINDS, wrong_cylinder
from tests.benchmarks.mistakes import SHOPS, Good, interval, markdown, measure

DAYS = 20


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_each_kind_is_questioned_as_often_as_it_must_be(kind: object) -> None:
    (mistake,) = [one for one in KINDS if one is kind]
    tally = Days(7).run(DAYS, mistake)
    assert tally.made == DAYS
    wanted = mistake.goal or 0.0
    # The upper 95 % limit of the share: a few days may fall short by chance, not by much.
    assert interval(tally.asked + tally.later, tally.made)[1] >= wanted


def test_a_reading_on_another_cylinder_by_how_far_it_is() -> None:
    far = Days(8).run(DAYS, wrong_cylinder(8.0, 8.0))
    assert far.share >= 0.9
    near = Days(8).run(DAYS, wrong_cylinder(0.5, 0.5))
    assert near.share <= 0.1
    # Every step was answered in the end: by a good reading where the wrong one was questioned.
    assert near.good == DAYS * 23 + near.asked
    assert far.good == DAYS * 23 + far.asked


def test_good_readings_are_left_alone() -> None:
    tally = Days(9).run(60, None)
    assert tally.good == 60 * (2 + 24 + 20 + 4 + 20)
    found = sum(tally.good_asked.values()) + tally.good_later
    # 1 in 1,000 of 4,200 is 4.2; 99.9 % of such counts are at most 11.
    assert found <= 11, tally.good_asked
    assert set(tally.good_asked) <= {"unlike-its-set"}


def test_days_are_what_they_say() -> None:
    days = Days(10, SHOPS["eight cylinders"])
    tally = days.run(1, None)
    assert tally.good == 2 + 48 + 20 + 4 + 20
    assert days.bench.desk.build(days.bench.desk.active or "").done
    assert len(ALL) == 6


def test_leaves_as_entered() -> None:
    first, last = entered(LEAVES[0]), entered(LEAVES[-1])
    assert first.beside == (None, LEAVES[1])
    assert (last.upper, last.beside) == (None, (LEAVES[-2], None))
    misread = entered(LEAVES[3], LEAVES[5])
    assert (misread.lower, misread.upper) == (LEAVES[3], LEAVES[4])
    assert misread.beside == (LEAVES[4], LEAVES[6])


def test_wilson_interval_is_the_printed_one() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1: 4 of 20 gives 0.0807 to 0.4160
    # (from memory; statsmodels' proportion_confint, method "wilson", gives the same).
    low, high = interval(4, 20)
    assert low == pytest.approx(0.0807, abs=0.0005)
    assert high == pytest.approx(0.4160, abs=0.0005)


def test_the_table_says_what_was_measured() -> None:
    table = measure(2, 2, apart=(8.0,))
    text = markdown(table, (8.0,))
    for line in table.lines:
        assert f"| {line.mistake.name} | 2 |" in text
    assert len(table.good) == len(table.curves) == len(SHOPS)
    assert "A whole set taken on a sister bore, within limits" in text
    asked = Good("any", table.good[0].tally)
    assert asked.per_thousand >= 0.0
