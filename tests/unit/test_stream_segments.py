"""Pulls cut out of a stream: begun on a rise, ended on rest, and what is said where samples are
missing. One sample every 10 ms; a pull ends after five at rest, and keeps four from before it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drivers.stream.bounds import Bounds
from drivers.stream.counter import REPEATED, RESTARTED, Counter
from drivers.stream.segmenter import JUST_BEGUN, OFF_REST, Segment, Segmenter

BOUNDS = Bounds(10_000, rise=2.0, rest=0.5, rest_samples=5, before_samples=4, longest_samples=40)
REST = ["0.00", "0.01", "-0.01", "0.00"]
PULL = ["2.10", "5.00", "9.00", "20.00", "12.00", "1.00"]
CALM = ["0.40", "0.10", "0.00", "0.00", "0.00"]


def cut(cutter: Segmenter, *stretches: list[str]) -> list[Segment]:
    found = (cutter.sample(torque) for stretch in stretches for torque in stretch)
    return [segment for segment in found if segment is not None]


@pytest.fixture
def cutter() -> Segmenter:
    return Segmenter(BOUNDS, has_angle=False)


def test_a_pull_has_the_rest_before_it_and_the_rest_that_ends_it(cutter: Segmenter) -> None:
    (pull,) = cut(cutter, REST, REST, PULL, CALM, REST)
    assert pull.torque == [*REST, *PULL, *CALM]
    assert pull == (pull.torque, None, [], None, 0)
    assert not cutter.pulling


def test_rest_alone_gives_nothing_and_keeps_nothing(cutter: Segmenter) -> None:
    assert cut(cutter, REST * 1000) == []
    assert len(cutter._before) <= 8 * BOUNDS.before_samples
    assert cutter.torque == []


def test_slack_shorter_than_the_rest_stays_in_the_pull(cutter: Segmenter) -> None:
    (pull,) = cut(cutter, REST, PULL, CALM[:4], PULL, CALM)
    assert pull.torque == [*REST, *PULL, *CALM[:4], *PULL, *CALM]


def test_a_pull_to_the_other_side_is_one_too(cutter: Segmenter) -> None:
    left = [f"-{torque}" for torque in PULL]
    (pull,) = cut(cutter, REST, left, CALM)
    assert pull.torque == [*REST, *left, *CALM]


def test_a_pull_that_goes_through_zero_to_the_other_side_is_one(cutter: Segmenter) -> None:
    course = ["5.0", "0.0", "-5.0"]
    (pull,) = cut(cutter, REST, course, CALM)
    assert pull.torque == [*REST, *course, *CALM]


def test_the_rest_after_one_pull_is_the_rest_before_the_next(cutter: Segmenter) -> None:
    first, second = cut(cutter, REST, PULL, CALM, PULL[1:], CALM)
    assert first.incomplete is second.incomplete is None
    assert second.torque == [*CALM[1:], *PULL[1:], *CALM]


def test_rest_need_not_be_zero(cutter: Segmenter) -> None:
    """An adapter that was not tared: the rise counts from where it rests."""
    away = ["1.50"] * 100
    (pull,) = cut(cutter, away, ["3.40", "3.60", "20.0"], ["1.60"] * 5)
    assert pull.torque == [*["1.50"] * 4, "3.40", "3.60", "20.0", *["1.60"] * 5]


def test_a_slow_rise_does_not_take_rest_along() -> None:
    """One N·m a second after a long rest: the whole slope is kept with the rest ahead of it, so
    that a zero found in the trace is the zero."""
    bounds = replace(BOUNDS, before_samples=25, longest_samples=2000)
    cutter = Segmenter(bounds, has_angle=False)
    slope = [f"{step / 100:.2f}" for step in range(1200)]
    (pull,) = cut(cutter, REST * 1000, slope, CALM)
    assert pull.incomplete is None
    assert pull.torque[-len(CALM) - 1100 :] == [*slope[100:], *CALM]
    assert all(abs(float(torque)) <= 0.15 for torque in pull.torque[: bounds.before_samples])


def test_a_screw_that_runs_heavily_does_not_become_rest() -> None:
    """Run down at 1.5 N·m for five seconds, tightened, let go: one pull, ended by the true rest;
    and the next one is a pull of its own."""
    cutter = Segmenter(replace(BOUNDS, longest_samples=2000), has_angle=False)
    heavy = ["1.50"] * 500
    first, second = cut(cutter, REST * 1000, heavy, PULL, CALM, REST * 100, PULL, CALM)
    assert first.torque == [*REST, *heavy, *PULL, *CALM]
    assert second.torque == [*REST, *PULL, *CALM]
    assert first.incomplete is second.incomplete is None


def test_off_rest_for_longer_than_a_pull_may_last_is_said_of_the_next_pull(
    cutter: Segmenter,
) -> None:
    (pull,) = cut(cutter, REST * 10, ["1.20"] * 60, PULL, CALM)
    assert pull.incomplete == OFF_REST
    (after,) = cut(cutter, REST, PULL, CALM)
    assert after.incomplete is None


def test_a_pull_that_never_ends_is_cut_and_says_so(cutter: Segmenter) -> None:
    (pull,) = cut(cutter, REST, ["9.00", "9.50"] * 60)
    assert len(pull.torque) == len(REST) + BOUNDS.longest_samples
    assert pull.missing is None
    assert pull.incomplete is not None
    assert "did not come to rest within 0.4 s and was cut there" in pull.incomplete
    # bounded: nothing of what follows is kept
    assert cutter.torque == []
    (after,) = cut(cutter, CALM, REST, PULL, CALM)
    assert after.incomplete is None
    assert after.torque == [*REST, *PULL, *CALM]


def test_a_load_left_on_becomes_rest_in_the_end(cutter: Segmenter) -> None:
    """Else an adapter that was never tared would be deaf for good."""
    (cut_off,) = cut(cutter, ["7.00"] * 1100)
    assert cut_off.incomplete
    (pull,) = cut(cutter, ["7.00"] * 4, ["8.00", "15.0"], ["7.10"] * 5)
    assert pull.torque == [*["7.00"] * 4, "8.00", "15.0", *["7.10"] * 5]


def test_a_stream_that_begins_under_load_has_no_beginning(cutter: Segmenter) -> None:
    (pull,) = cut(cutter, REST[:2], PULL, CALM)
    assert (pull.incomplete, pull.missing) == (JUST_BEGUN, None)


def test_lost_samples_are_counted_and_have_their_place(cutter: Segmenter) -> None:
    cut(cutter, REST, PULL[:3])
    cutter.lost(7, "lost on the way")
    cut(cutter, PULL[3:])
    cutter.lost(2, "lost on the way")
    (pull,) = cut(cutter, CALM)
    assert pull.gaps == [(7, 7), (10, 2)]
    assert (pull.incomplete, pull.missing) == ("lost on the way", 9)


def test_one_loss_of_unknown_length_makes_the_sum_unknown(cutter: Segmenter) -> None:
    cut(cutter, REST, PULL[:3])
    cutter.lost(7, "a jump")
    cutter.lost(None, "noise")
    (pull,) = cut(cutter, PULL[3:], CALM)
    assert (pull.gaps, pull.incomplete, pull.missing) == ([(7, 7)], "a jump; noise", None)


def test_a_loss_at_rest_matters_to_a_pull_that_follows_at_once_alone(cutter: Segmenter) -> None:
    cut(cutter, REST)
    cutter.lost(3, "a jump")
    at_once, later = cut(cutter, REST[:1], PULL, CALM, REST, PULL, CALM)
    assert (at_once.incomplete, at_once.missing, at_once.gaps) == ("a jump", 3, [])
    assert at_once.torque[0] == REST[0]
    assert later.incomplete is None


def test_an_end_from_outside_keeps_what_came(cutter: Segmenter) -> None:
    cut(cutter, REST, PULL[:4])
    pull = cutter.end("the cable was pulled")
    assert pull is not None
    assert pull.torque == [*REST, *PULL[:4]]
    assert (pull.incomplete, pull.missing) == ("the cable was pulled", None)
    assert cutter.end("again") is None


def test_angles_go_with_their_torques() -> None:
    cutter = Segmenter(BOUNDS, has_angle=True)
    course = [*REST, *PULL, *CALM]
    pulls = [cutter.sample(torque, f"{at}.0") for at, torque in enumerate(course)]
    (pull,) = (one for one in pulls if one is not None)
    assert pull.angle == [f"{at}.0" for at in range(len(course))]


@pytest.mark.parametrize(
    ("numbers", "missed"),
    [
        ([5, 6, 7], [0, 0, 0]),
        ([9, 0, 1], [0, 0, 0]),
        ([5, 8], [0, 2]),
        ([8, 1], [0, 2]),
        ([5, 5, 6], [0, REPEATED, 0]),
        ([5, 3, 4], [0, RESTARTED, 0]),
    ],
)
def test_a_counter_says_what_was_lost(numbers: list[int], missed: list[int]) -> None:
    counter = Counter(10, 1)
    assert [counter.missed(number) for number in numbers] == missed


def test_a_counter_of_samples_grows_by_a_block() -> None:
    counter = Counter(65_536, 10)
    assert [counter.missed(number) for number in (65_520, 65_530, 4, 34)] == [0, 0, 0, 20]
