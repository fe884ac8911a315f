"""A build at a glance: nothing urgent left out, nothing rounded twice, nothing that moves."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from capture.build import Build, DerivedFill, Fill
from capture.desk import Desk
from capture.errors import NotFound
from capture.inquiry.glance import Most, Still, compare, glance, presses_wanted, still, together
from capture.inquiry.glance.rounded import alike, shown, signed
from capture.inquiry.glance.some import numbers
from capture.inquiry.glance.told import not_counted, told
from capture.inquiry.story import story

SPEC = """
format = 1
id = "sleeves"
title = "Invented sleeves"
revision = "1"
invented = true

[[part]]
id = "sleeve"
title = "Sleeve"
count = {count}

[[characteristic]]
id = "diameter"
title = "Diameter"
part = "sleeve"
unit = "{unit}"
nominal_size = "25"
lower_limit_of_size = "24.99"
upper_limit_of_size = "25.01"
axes = ["a", "b"]
repeats = {repeats}
instruments = ["micrometer"]

[[derived]]
id = "round"
title = "Out-of-round"
quantity = "out-of-round"
of = ["diameter"]
unit = "{unit}"
upper_limit = "0.005"

[[operation]]
measure = "diameter"
"""
AT = "2026-01-01T08:00:00.000000Z"


def entry(seq: int, kind: str, body: dict[str, Any]) -> dict[str, Any]:
    return {"v": 1, "bench": "x", "boot": 1, "seq": seq, "kind": kind, "at": AT, "mono": "1",
            "operator": None, "body": body}  # fmt: skip


def desk_of(count: int = 3, unit: str = "mm", repeats: int = 1) -> tuple[Desk, Build]:
    from capture.spec.load import load

    desk, text = Desk(), SPEC.format(count=count, unit=unit, repeats=repeats)
    spec = load(text.encode(), "spec.toml")
    body = {"text": text, "file": "spec.toml", "hash": spec.hash}
    desk.apply(entry(1, "spec", body))
    desk.apply(entry(2, "build", {"spec": spec.hash, "title": "Sleeves"}))
    return desk, desk.build("b2")


def measured(build: Build, at: int, size: str | Fraction, result: str = "conforming") -> None:
    value = Decimal(size) if isinstance(size, str) else size
    build.fill(at, Fill(100 + 2 * at, 101 + 2 * at, value, "0.002", "2", result))


def looked(kept: Still, most: Most = Most()) -> Any:  # noqa: B008 # immutable
    return glance(kept, [], {}, AT, most)


@pytest.mark.parametrize(
    ("value", "grounds", "said"),
    [
        (Decimal("25.001"), ("24.990", "25.010", "0.002"), "25.001"),
        (Fraction(860098901, 10000088), ("86.000", "86.030", "0.0019"), "86.00913"),
        # Just beyond its limit: it must not read as if it lay on it.
        (Decimal("0.06404"), (None, "0.064", "0.0029"), "0.06404"),
        (Fraction(1, 3), (), "0.333333333"),
        # Limits that follow from another size have no end and say nothing of what is worth showing.
        (Fraction(1, 3), ("0.344027199627", None, "0.01"), "0.333"),
    ],
)
def test_a_size_is_shown_to_one_digit_more_than_its_uncertainty(
    value: Decimal | Fraction, grounds: tuple[str | None, ...], said: str
) -> None:
    # GUM (JCGM 100:2008) 7.2.6: results are rounded to agree with their uncertainty; the one digit
    # more is ours.
    assert shown(value, *grounds) == said


def test_computed_values_of_a_table_have_digits_alike() -> None:
    assert alike(["0.04", None, "0.0385", "1"]) == ["0.0400", None, "0.0385", "1.0000"]
    assert alike(["3", "12"]) == ["3", "12"]
    assert alike([]) == []
    assert [signed(one) for one in ("0.001", "-0.001")] == ["+0.001", "\N{MINUS SIGN}0.001"]


def test_what_is_urgent_is_shown_before_what_is_not() -> None:
    assert numbers(3, [], 5) == [1, 2, 3]
    assert numbers(100, [70, 90], 4) == [1, 2, 70, 90]
    assert numbers(100, range(50, 100), 3) == [50, 51, 52]


def test_a_large_table_is_bounded_and_counts_what_it_leaves_out() -> None:
    desk, build = desk_of(count=5000)
    for at in range(10_000):
        measured(build, at, "25.000", "nonconforming" if at == 8_001 else "conforming")
    found = looked(still(desk, "b2", 9))
    (table,) = found.sizes.shown
    shown_numbers = [row.number for row in table.rows.shown]
    assert 4001 in shown_numbers
    assert len(shown_numbers) == Most().rows
    assert table.rows.more == 5000 - Most().rows
    assert table.tally == (9_999, 1, 0, 0, 0)
    (part,) = found.parts.shown
    assert part.numbers.more == 5000 - Most().rows
    assert next(one for one in part.numbers.shown if one.number == 4001).result == "nonconforming"
    assert found.findings is None
    assert sum(len(row.cells) for row in table.rows.shown) <= Most().cells


def test_many_points_share_the_room_of_their_table() -> None:
    desk, build = desk_of(count=50)
    (table,) = looked(still(desk, "b2", 2), Most(cells=40)).sizes.shown
    assert len(table.rows.shown) == 20
    assert table.tally.missing == len(build.steps)
    assert not table.rows.shown[0].cells[0].taken
    assert table.rows.shown[0].cells[0].result == ""


def test_repeats_are_shown_one_by_one_with_their_mean() -> None:
    desk, build = desk_of(count=1, repeats=2)
    measured(build, 0, "25.001")
    measured(build, 1, "25.002")
    measured(build, 2, "25.000")
    ((row,), _) = looked(still(desk, "b2", 2)).sizes.shown[0].rows
    both, half = row.cells
    assert [one.value for one in both.taken] == ["25.001", "25.002"]
    assert [one.reading for one in both.taken] == [100, 102]
    assert both.value == "25.0015"
    assert (len(half.taken), half.wanted) == (1, 2)


def test_what_was_copied_stays_while_the_build_goes_on() -> None:
    desk, build = desk_of()
    measured(build, 0, "25.020", "nonconforming")
    build.set_derived("round", 1, DerivedFill(9, {"result": "undecided", "notes": []}))
    kept = still(desk, "b2", 9)
    before = (kept.build.filled, dict(kept.build.press_at), kept.state()["holds"])
    build.concede("measure-diameter/1/a", "so")
    build.clear(0)
    for at in range(1, 6):
        measured(build, at, "25.000")
    build.pieces.put("sleeve", 1, "new")
    desk.cards["b2"].closed = True
    assert (kept.build.filled, kept.build.press_at, kept.state()["holds"]) == before
    assert kept.build.pieces.at("sleeve", 1) == "sleeve-1"
    assert kept.state()["closed"] is False
    assert kept.build.works["measure-diameter"].holds
    # And what is asked of the copy changes nothing either way.
    kept.build.concede("measure-diameter/1/a", "so")
    assert "measure-diameter/1/a" not in build.conceded


def test_there_is_no_copy_of_a_build_that_is_not_there() -> None:
    with pytest.raises(NotFound, match="no build b7"):
        still(Desk(), "b7", 1)


def test_only_presses_that_may_have_a_trace_are_asked_for_where_there_are_many() -> None:
    desk, build = desk_of()
    for at in range(6):
        measured(build, at, "25.000")
    kept = still(desk, "b2", 9)
    assert presses_wanted(kept) == [100, 102, 104, 106, 108, 110]
    assert presses_wanted(kept, Most(presses=5)) == []


VERDICT = {"result": "conforming", "measured": "25.0", "lower": None, "upper": None,
           "expanded_uncertainty": None, "unit": "mm"}  # fmt: skip


def decision(seq: int, press: int, build: str | None, by: str = "rule", **more: Any) -> Any:
    step = (
        None
        if build is None
        else {
            "id": "measure-diameter/1/a",
            "operation": "measure-diameter",
            "number": 1,
            "point": "a",
            "pass": 1,
        }
    )
    body = {"press": press, "build": build, "by": by, "step": step, "reason": None,
            "verdict": dict(VERDICT), "cites": CITES, **more}  # fmt: skip
    return entry(seq, "decision", body)


CITES = {"instrument": None, "setting": None}
VOID = {"reason": {"code": "void", "detail": "askew"}, "because": "askew", "act": "void"}


def test_a_void_is_told_and_so_is_a_reading_that_moved_away_or_came() -> None:
    entries = [
        decision(11, 10, "b2"),
        decision(13, 12, "b2"),
        decision(15, 14, "b1"),
        decision(16, 10, None, "person", **VOID),
        decision(17, 12, "b1", "person", act="place", because="of the other engine"),
        decision(18, 14, "b2", "person", act="place", because="of this engine"),
        decision(19, 14, None, "person", **VOID),
        decision(20, 12, None, "person", **VOID),
    ]
    told_of = [(one["reading"], one["act"]) for one in story("b2", entries)]
    assert told_of == [(10, "void"), (12, "place"), (14, "place"), (14, "void")]
    found = told("b2", entries)
    assert list(found.presses) == [10, 14]
    assert found.presses[14].first["seq"] == 15
    assert [(one.reading, one.code, one.by_person) for one in not_counted(found)] == [
        (10, "void", True),
        (14, "void", True),
    ]


def test_what_came_after_the_state_is_left_out() -> None:
    desk, _ = desk_of()
    late = [decision(11, 10, "b2"), decision(12, 10, None, "person", **VOID)]
    assert not glance(still(desk, "b2", 11), late, {}, AT).story.shown
    assert len(glance(still(desk, "b2", 12), late, {}, AT).story.shown) == 1


def test_readings_that_one_zero_check_marked_are_told_together() -> None:
    marks = [
        {"act": "marked", "reading": seq, "drift": {"zero": zero}}
        for seq, zero in ((1, 9), (2, 9), (3, 10))
    ]
    lines = together([*marks, {"act": "void", "reading": 4}])
    assert [[one["reading"] for one in line] for line in lines] == [[1, 2], [3], [4]]


def test_differences_are_exact_and_in_the_unit_of_the_first() -> None:
    first, one = desk_of(count=2)
    second, other = desk_of(count=2, unit="in")
    measured(one, 0, Fraction(75001, 3000))  # 25.000333… mm: its decimals do not end
    measured(one, 1, "25.000")
    measured(one, 2, "25.400", "nonconforming")
    measured(other, 0, "1.000")
    measured(other, 2, "1.000")
    found = compare(still(first, "b2", 9), still(second, "b2", 9), Most())
    side = next(side for side in found.sides.shown if side.kind == "measure")
    rows = {(row.number, row.point): row for row in side.rows.shown}
    # 1 in is 25.4 mm exactly (international yard and pound agreement, 1959).
    assert rows[1, "a"].difference == "0.399666666667"
    assert rows[1, "a"].shown == "+0.3997"
    assert rows[1, "b"].difference is None
    assert rows[2, "a"].difference == "0"
    assert rows[2, "a"].shown == "0"
    assert [row.differ for row in side.rows.shown] == [False, False, True, False]
    assert (found.compared, found.differ, found.same_spec) == (2, 1, False)


def test_what_differs_is_shown_first_where_there_is_not_room_for_all() -> None:
    sides = []
    for changed in ("conforming", "nonconforming"):
        desk, build = desk_of(count=500)
        for at in range(1000):
            measured(build, at, "25.000", changed if at == 900 else "conforming")
        sides.append(still(desk, "b2", 9))
    first, second = sides
    found = compare(first, second, Most(rows=10))
    side = next(side for side in found.sides.shown if side.kind == "measure")
    assert [(row.number, row.point) for row in side.rows.shown if row.differ] == [(451, "a")]
    assert len(side.rows.shown) == 10
    assert side.rows.more == 990
    assert found.same_spec
