"""Whatever is pulled and however its bytes arrive: the same pulls, every sample in its place."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from capture.reading import Pull
from drivers.stream.bounds import Bounds
from drivers.stream.segmenter import Segment, Segmenter
from simulators.torque_stream import Sample, brisk, pulled, resting
from tests.stream import BLOCK, RATES, TEXT, receiver, stamp, stream, torques

BOUNDS = Bounds(10_000, rise=2.0, rest=0.5, rest_samples=4, before_samples=5, longest_samples=50)
AT_REST = st.sampled_from(["0.0", "0.1", "-0.1"])
UNDER_LOAD = st.sampled_from(["2.5", "9.0", "-9.0", "0.0", "1.0", "0.3"])


def cut(course: list[str]) -> list[tuple[int, Segment]]:
    """The pulls, each with the number of its last sample."""
    cutter = Segmenter(BOUNDS, has_angle=False)
    found = [(at, cutter.sample(torque)) for at, torque in enumerate(course)]
    left = cutter.end("over")
    return [(at, one) for at, one in [*found, (len(course) - 1, left)] if one is not None]


COURSE = st.lists(
    st.one_of(
        st.lists(AT_REST, min_size=1, max_size=20), st.lists(UNDER_LOAD, min_size=1, max_size=30)
    ),
    max_size=10,
).map(lambda stretches: ["0.0"] * 6 + [torque for one in stretches for torque in one])


@given(course=COURSE)
def test_every_sample_from_rise_to_rest_stands_in_just_one_pull(course: list[str]) -> None:
    pulls = cut(course)
    covered = 0
    for last, pull in pulls:
        first = last + 1 - len(pull.torque)
        assert course[first : last + 1] == pull.torque
        rise = next(at for at in range(first, last + 1) if abs(float(course[at])) > 1.5)
        assert rise >= covered
        # rest, then what had left rest and not risen yet
        assert rise - first <= 8 * BOUNDS.before_samples + BOUNDS.longest_samples
        assert len(pull.torque) <= 8 * BOUNDS.before_samples + 2 * BOUNDS.longest_samples
        cut_off = pull.incomplete is not None and "was cut there" in pull.incomplete
        if not cut_off:
            # what lies between two pulls is rest
            assert all(abs(float(torque)) < 3 for torque in course[covered:rise])
        covered = last + 1
    if not any("cut" in (pull.incomplete or "") for _, pull in pulls):
        assert all(abs(float(torque)) < 3 for torque in course[covered:])


KINDS = st.sampled_from(["click", "over-pull", "no-click", "let-off"])


@st.composite
def pulls_and_rests(draw: st.DrawFn) -> list[Sample]:
    rate = 200.0
    samples = resting(0.5, rate)
    for kind in draw(st.lists(KINDS, min_size=1, max_size=3)):
        target, left = draw(st.floats(5, 90)), draw(st.booleans())
        samples += pulled(brisk(kind, target), rate, kind, left=left)
        samples += resting(draw(st.sampled_from([0.7, 1.5])), rate)
    return samples


@pytest.mark.parametrize("profile", [TEXT, BLOCK])
@settings(max_examples=20, deadline=None)
@given(samples=pulls_and_rests(), data=st.data())
def test_how_the_bytes_arrive_changes_nothing(
    profile: str, samples: list[Sample], data: st.DataObject
) -> None:
    """Split anywhere, as a radio's MTU or a serial buffer does, or all at once."""
    sent = b"".join(stream(profile, samples).rest_of_it())
    whole = receiver(profile).receive(sent, stamp())
    sizes = data.draw(st.lists(st.sampled_from([1, 2, 3, 7, 20, 23, 61, 244]), min_size=1))
    reads, items, at = receiver(profile), [], 0
    while at < len(sent):
        size = sizes[at % len(sizes)]
        items += reads.receive(sent[at : at + size], stamp())
        at += size
    assert items == whole
    assert all(isinstance(item, Pull) for item in items)
    assert RATES[profile]
    said = torques(samples)
    for item in items:
        assert isinstance(item, Pull)
        assert any(
            said[start : start + len(item.torque)] == item.torque
            for start in range(len(said) - len(item.torque) + 1)
        )
