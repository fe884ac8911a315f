"""Samples that a torque adapter's counter says are missing while nobody pulls: where a whole pull
may be among them, the record names it."""

from __future__ import annotations

import pytest

from capture.reading import Captured, Pull, Undecodable
from simulators.torque_stream import Lines, brisk, pulled, resting
from tests.stream import RATES, TEXT, receiver, stamp

RATE = RATES[TEXT]


def read(*, lost_from: int, lost: int, second_starts_at: int | None = None) -> list[Captured]:
    """Two seconds at rest, of which ``lost`` samples do not arrive, and a pull after them."""
    layout, reads = Lines(), receiver(TEXT)
    samples = [*resting(2.0, RATE), *pulled(brisk("click", 25.0), RATE, "w"), *resting(0.8, RATE)]
    items: list[Captured] = []
    for number, sample in enumerate(samples):
        if number == second_starts_at:
            layout = Lines()
        message = layout.message([sample])
        if not lost_from <= number < lost_from + lost:
            items += reads.receive(message, stamp(number / RATE))
    return items


def test_a_hole_that_may_hide_a_pull_is_a_named_gap() -> None:
    gap, pull = read(lost_from=500, lost=1000)

    assert isinstance(gap, Undecodable)
    assert (gap.code, gap.port, gap.instrument, gap.raw) == ("gap", "port", "adapter", b"")
    assert gap.detail.startswith("1000 samples are missing (the counter jumped)")
    assert isinstance(pull, Pull)
    assert pull.incomplete is None


@pytest.mark.parametrize("lost", [1, 99])
def test_a_hole_too_short_for_a_pull_is_none(lost: int) -> None:
    (pull,) = read(lost_from=500, lost=lost)
    assert isinstance(pull, Pull)


def test_an_adapter_that_starts_anew_leaves_a_gap_of_unknown_length() -> None:
    gap, pull = read(lost_from=0, lost=0, second_starts_at=900)
    assert isinstance(gap, Undecodable)
    assert gap.detail.startswith("samples are missing: the counter went back")
    assert isinstance(pull, Pull)


def test_what_is_missing_in_a_pull_is_said_of_the_pull_alone() -> None:
    (pull,) = read(lost_from=2700, lost=150)
    assert isinstance(pull, Pull)
    assert pull.missing == 150
