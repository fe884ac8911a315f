"""The drawn order of a study."""

from __future__ import annotations

import hashlib
from collections import Counter

import pytest

from capture.study.order import Turn, draw

PEOPLE = ("A", "B")


def test_the_same_word_draws_the_same_order_for_good() -> None:
    """Kept: a study under way must not be drawn otherwise by a later version or another machine."""
    drawn = draw(3, PEOPLE, 2, "Lot 7")
    assert [(turn.appraiser, turn.sample, turn.trial) for turn in drawn] == [
        *(("A", 1, 1), ("A", 2, 1), ("A", 3, 1), ("B", 1, 1), ("B", 3, 1), ("B", 2, 1)),
        *(("A", 3, 2), ("A", 1, 2), ("A", 2, 2), ("B", 1, 2), ("B", 2, 2), ("B", 3, 2)),
    ]


def test_the_order_can_be_drawn_by_hand() -> None:
    """A single block of three from the digest itself: Fisher–Yates from the end."""
    digest = hashlib.sha256("Łódź 3".encode() + b"\0" + bytes(8)).digest()
    first, second = (int.from_bytes(digest[at : at + 8], "big") for at in (0, 8))
    order = [1, 2, 3]
    order[2], order[first % 3] = order[first % 3], order[2]
    order[1], order[second % 2] = order[second % 2], order[1]
    assert [turn.sample for turn in draw(3, ["A"], 1, "Łódź 3")] == order


def test_other_words_draw_other_orders() -> None:
    orders = {tuple(draw(10, PEOPLE, 1, f"lot {number}")) for number in range(50)}
    assert len(orders) == 50


def test_every_order_of_a_block_is_as_likely() -> None:
    """6,000 draws of three samples: χ² with 5 degrees of freedom stays below 20.5 (0.1 %)."""
    seen = Counter(
        tuple(turn.sample for turn in draw(3, ["A"], 1, f"word {number}")) for number in range(6000)
    )
    assert len(seen) == 6
    assert sum((count - 1000) ** 2 / 1000 for count in seen.values()) < 20.5


def test_a_single_sample_is_measured_again_and_again() -> None:
    assert draw(1, ["A"], 3, "x") == [Turn("A", 1, trial) for trial in (1, 2, 3)]


@pytest.mark.parametrize(
    ("samples", "appraisers", "trials", "says"),
    [
        (0, PEOPLE, 2, "at least one sample, not 0"),
        (2, PEOPLE, 0, "at least one trial, not 0"),
        (2, (), 2, "at least one appraiser"),
        (2, ("A", "A"), 2, "share a name"),
    ],
)
def test_what_cannot_be_drawn_is_refused(
    samples: int, appraisers: tuple[str, ...], trials: int, says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        draw(samples, appraisers, trials, "x")
