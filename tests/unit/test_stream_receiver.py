"""A torque adapter's stream, read: both shipped layouts, what is lost on the way, what is shown."""

from __future__ import annotations

import pytest

from capture.reading import LiveTorque, Pull, Undecodable
from drivers.profiles.load import load_shipped, parse_profile
from simulators.torque_stream import Blocks, Lines, Sample, brisk, pulled, resting
from tests.stream import (
    BLOCK,
    RATES,
    TEXT,
    adapter,
    angles,
    place_of,
    receiver,
    stamp,
    stream,
    torques,
)

PROFILES = [TEXT, BLOCK]


def one_pull(profile: str, kind: str = "click", *, left: bool = False) -> list[Sample]:
    rate = RATES[profile]
    pull = pulled(brisk(kind, 25.0), rate, kind, left=left)
    return [*resting(0.4, rate), *pull, *resting(0.8, rate)]


def read(profile: str, samples: list[Sample], *losing: int) -> list[Pull | object]:
    sends = stream(profile, samples)
    for number in losing:
        sends.lose(number)
    reads = receiver(profile)
    items: list[Pull | object] = []
    for number, message in enumerate(sends.rest_of_it()):
        items += reads.receive(message, stamp(number / 100))
    return items


@pytest.mark.parametrize("profile", PROFILES)
def test_the_very_samples_come_out_with_their_angles(profile: str) -> None:
    samples = one_pull(profile)
    (pull,) = read(profile, samples)
    assert isinstance(pull, Pull)
    at = place_of(pull, samples)
    assert torques(samples)[at : at + len(pull.torque)] == pull.torque
    assert angles(samples)[at : at + len(pull.torque)] == pull.angle
    assert max(map(float, torques(samples)[:at])) < 2
    assert max(map(float, torques(samples)[at + len(pull.torque) :])) < 2
    assert (pull.unit, pull.interval_us) == ("N·m", 1_000_000 / RATES[profile])
    assert (pull.incomplete, pull.missing, pull.gaps, pull.flags) == (None, 0, (), ())


@pytest.mark.parametrize("profile", PROFILES)
def test_a_pull_to_the_left_is_negative(profile: str) -> None:
    (pull,) = read(profile, one_pull(profile, left=True))
    assert isinstance(pull, Pull)
    assert min(map(float, pull.torque)) == pytest.approx(-25, abs=0.2)
    assert pull.angle is not None
    assert min(map(float, pull.angle)) < -20


@pytest.mark.parametrize(("profile", "lost"), [(TEXT, 1), (BLOCK, 10)])
def test_a_lost_message_is_missed_by_the_counter(profile: str, lost: int) -> None:
    samples = one_pull(profile)
    (pull,) = read(profile, samples, 1200 if profile == TEXT else 600)
    assert isinstance(pull, Pull)
    assert pull.missing == lost
    assert pull.incomplete == "samples are missing (the counter jumped)"
    ((place, many),) = pull.gaps
    assert many == lost
    sent = torques(samples)
    at = next(n for n in range(len(sent)) if sent[n : n + place] == pull.torque[:place])
    after = at + place + lost
    assert sent[after : after + len(pull.torque) - place] == pull.torque[place:]


@pytest.mark.parametrize("profile", PROFILES)
def test_a_message_that_comes_twice_counts_once(profile: str) -> None:
    samples = one_pull(profile)
    sends, reads = stream(profile, samples), receiver(profile)
    items = []
    for message in sends.rest_of_it():
        items += reads.receive(message, stamp())
        items += reads.receive(message, stamp())
    (pull,) = items
    assert isinstance(pull, Pull)
    assert pull.incomplete is None
    assert place_of(pull, samples) > 0


def test_noise_between_messages_costs_nothing_where_a_counter_says_so() -> None:
    sends, reads = stream(TEXT, one_pull(TEXT)), receiver(TEXT)
    messages = sends.rest_of_it()
    messages.insert(1200, b"\xff\xfe\r\n")
    items = [item for message in messages for item in reads.receive(message, stamp())]
    noise, pull = items
    assert isinstance(noise, Undecodable)
    assert noise.raw == b"\xff\xfe\r"
    assert isinstance(pull, Pull)
    assert pull.incomplete is None


def test_noise_marks_a_pull_where_no_counter_tells_what_is_lost() -> None:
    text = load_shipped(TEXT).text
    bare = text[: text.index("[stream.counter]")]
    reads = receiver(parse_profile(bare.encode(), "mine", "mine.toml"))
    messages = stream(TEXT, one_pull(TEXT)).rest_of_it()
    messages[1200] = b"+1X.00,+000.0,1200\r\n"
    items = [item for message in messages for item in reads.receive(message, stamp())]
    unread, pull = items
    assert isinstance(unread, Undecodable)
    assert (unread.code, unread.instrument) == ("layout", "adapter")
    assert isinstance(pull, Pull)
    assert pull.incomplete == "bytes came in between that could not be read (layout)"
    assert pull.missing is None


def test_a_stream_of_noise_does_not_flood_the_record_and_loses_no_byte() -> None:
    reads = receiver(TEXT)
    sent = b"".join(b"?%03d\r" % number for number in range(1000))
    items = []
    for number in range(0, len(sent), 5):
        items += reads.receive(sent[number : number + 5], stamp(number / 1000))
    items += reads.drain()
    assert all(isinstance(item, Undecodable) for item in items)
    assert b"".join(item.raw for item in items if isinstance(item, Undecodable)) == sent
    assert len(items) < 40


def test_bytes_that_cannot_be_read_are_kept_within_a_second() -> None:
    reads = receiver(TEXT)
    kept = reads.receive(b"?\r" * 6, stamp(1.0))
    assert len(kept) == 4
    assert reads.due == stamp(2.0).mono
    (rest,) = reads.silence(stamp(2.0).mono)
    assert isinstance(rest, Undecodable)
    assert rest.raw == b"?\r?\r"
    assert reads.due is None


@pytest.mark.parametrize("profile", PROFILES)
def test_a_stream_that_stops_in_a_pull_leaves_it_incomplete(profile: str) -> None:
    samples = one_pull(profile)
    sends, reads = stream(profile, samples), receiver(profile)
    half = sends.due(1.0)
    items = [item for message in half for item in reads.receive(message, stamp(1.0))]
    assert items == []
    assert reads.due == stamp(2.0).mono
    assert reads.silence(stamp(1.9).mono) == []
    (pull,) = reads.silence(stamp(2.0).mono)
    assert isinstance(pull, Pull)
    assert pull.incomplete == "nothing more came for 1 s"
    # what goes on afterwards began before it could be seen
    late = [item for message in sends.rest_of_it() for item in reads.receive(message, stamp(9))]
    assert isinstance(late[0], Pull)
    assert late[0].incomplete is not None
    assert reads.due is None


def test_a_connection_that_ends_says_why_in_the_pull() -> None:
    reads = receiver(TEXT)
    for message in stream(TEXT, one_pull(TEXT)).due(1.0):
        reads.receive(message, stamp())
    reads.receive(b"+1", stamp())
    reads.ended_by = "the connection was lost: it was pulled"
    half, pull = reads.drain()
    assert isinstance(half, Undecodable)
    assert half.raw in (b"\n+1", b"+1")
    assert isinstance(pull, Pull)
    assert pull.incomplete == "the connection was lost: it was pulled"
    assert reads.drain() == []


def test_a_switched_unit_ends_the_pull() -> None:
    samples = one_pull(BLOCK)
    blocks, reads = Blocks(), receiver(BLOCK)
    items = []
    for at in range(0, len(samples) - 9, 10):
        if at == 600:
            blocks.status = 1
        items += reads.receive(blocks.message(samples[at : at + 10]), stamp())
    first, second = (item for item in items if isinstance(item, Pull))
    assert (first.unit, second.unit) == ("N·m", "lbf·ft")
    assert first.incomplete == "the unit changed from N·m to lbf·ft"
    assert second.incomplete is not None


def test_flags_of_any_message_are_the_pulls() -> None:
    samples = one_pull(BLOCK)
    blocks, reads = Blocks(), receiver(BLOCK)
    items = []
    for at in range(0, len(samples) - 9, 10):
        blocks.status = 0x80 if at == 600 else 0
        items += reads.receive(blocks.message(samples[at : at + 10]), stamp())
    (pull,) = items
    assert isinstance(pull, Pull)
    assert pull.flags == ("low-battery",)


def test_two_adapters_behind_one_receiver_are_cut_each_for_itself() -> None:
    profile = parse_profile(
        b'[frame]\nkind = "terminator"\nterminators = ["\\r"]\n'
        b'[decode]\nkind = "text"\nlayout = "{channel}:{sign?}{number}"\n'
        b'[stream]\ninterval_us = 10000\nrise = "2"\nbefore_seconds = "0.05"\n',
        "mine",
        "mine.toml",
    )
    reads = receiver(profile, [adapter(name="one", channel="1"), adapter(name="two", channel="2")])
    items = []
    for torque in [*[0] * 6, 5, 6, 7, *[0] * 50]:
        items += reads.receive(b"1:%d.0\r2:0.0\r" % torque, stamp())
    items += reads.receive(b"3:0.0\r", stamp())
    pull, stranger = items
    assert isinstance(pull, Pull)
    assert (pull.instrument, pull.angle) == ("one", None)
    assert isinstance(stranger, Undecodable)
    assert stranger.code == "unknown-channel"


@pytest.mark.parametrize("profile", PROFILES)
def test_an_onlooker_sees_every_sample_a_few_times_a_second(profile: str) -> None:
    samples, lives = one_pull(profile), list[LiveTorque]()
    sends, reads = stream(profile, samples), receiver(profile, lives=lives)
    items, moments = [], []
    for step in range(1, 400):
        for message in sends.due(step / 100):
            before = len(lives)
            items += reads.receive(message, stamp(step / 100))
            moments += [step / 100] * (len(lives) - before)
    (pull,) = items
    assert isinstance(pull, Pull)
    assert tuple(torque for live in lives for torque in live.torque) == pull.torque
    assert tuple(angle for live in lives for angle in live.angle or ()) == pull.angle
    assert [live.first for live in lives] == [
        sum(len(live.torque) for live in lives[:at]) for at in range(len(lives))
    ]
    assert [live.ended for live in lives] == [*[False] * (len(lives) - 1), True]
    assert all(sum(0 <= at - start < 1 for at in moments) <= 20 for start in moments)


def test_lines_go_on_after_9999() -> None:
    samples = one_pull(TEXT)
    sends, reads = Lines(9_400), receiver(TEXT)
    items = [item for one in samples for item in reads.receive(sends.message([one]), stamp())]
    (pull,) = items
    assert isinstance(pull, Pull)
    assert pull.incomplete is None


def _counted(number: int, torque: str) -> bytes:
    return f"{float(torque):+07.2f},+000.0,{number:04d}\r\n".encode()


PULLED = [*["0.00"] * 400, *["10.00"] * 1000, *["0.00"] * 700]


def test_a_counter_that_stands_still_loses_nothing_in_silence() -> None:
    reads = receiver(TEXT)
    items = [item for torque in PULLED for item in reads.receive(_counted(0, torque), stamp())]
    pulls = [item for item in items if isinstance(item, Pull)]
    assert len(pulls) == 1
    assert "does not count as the profile says" in (pulls[0].incomplete or "")
    assert [one for one in pulls[0].torque if float(one) > 5] == ["10.00"] * 1000


def test_a_counter_that_never_fits_is_told_of_once() -> None:
    reads = receiver(TEXT)
    items = [
        item
        for at, torque in enumerate(PULLED)
        for item in reads.receive(_counted(9999 - at, torque), stamp())
    ]
    assert len([item for item in items if isinstance(item, Undecodable)]) <= 4
    (pull,) = [item for item in items if isinstance(item, Pull)]
    assert "does not count as the profile says" in (pull.incomplete or "")
