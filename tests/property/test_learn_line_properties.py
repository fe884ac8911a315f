"""Whatever was sent and however it was heard: never certain of a line that it was not."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drivers.learn.line.judge import line_of
from drivers.learn.line.rank import ranked
from drivers.learn.line.seen import as_seen_at
from drivers.learn.line.setting import FORMS, SPEEDS, Form, Setting
from drivers.learn.line.trial import Trial, marked
from drivers.learn.press import Press

QUICK = settings(deadline=None, max_examples=12, suppress_health_check=[HealthCheck.too_slow])
SETTINGS = st.builds(Setting, st.sampled_from(sorted(SPEEDS)), st.sampled_from(sorted(FORMS)))
PLAIN = st.sampled_from([Setting(baud) for baud in sorted(SPEEDS)])
SIZES = st.lists(st.decimals(-99, 99, places=2), min_size=4, max_size=6, unique=True)


def trial_of(data: bytes, sender: Setting, receiver: Setting, marks: bool) -> Trial:
    seen = as_seen_at(data, sender, receiver)
    wrong = frozenset(place for place, one in enumerate(seen) if one.wrong)
    return Trial(receiver, bytes(one.value for one in seen), wrong if marks else None)


def reads(data: bytes, sender: Setting, receiver: Setting) -> bool:
    """Whether the receiver hands on what is sent."""
    mask = 0x7F if receiver.form.data_bits == 7 else 0xFF
    values = [one.value & mask for one in as_seen_at(data, sender, receiver)]
    return values == [byte & mask for byte in data]


@QUICK
@given(st.lists(st.binary(min_size=1, max_size=9), min_size=4, max_size=5), SETTINGS, PLAIN,
       st.booleans())  # fmt: skip
def test_of_any_bytes_it_is_certain_only_of_what_reads_them(
    messages: list[bytes], sender: Setting, receiver: Setting, marks: bool
) -> None:
    trials = [trial_of(message, sender, receiver, marks) for message in messages]
    presses = [
        Press(trial.raw, Decimal(10 * n), "mm") for n, trial in enumerate(trials) if trial.raw
    ]
    line = line_of([trial for trial in trials if trial.raw], presses)
    if line.sure is not None:
        assert line.sure.baud == sender.baud
        assert all(reads(message, sender, line.sure) for message in messages)


@QUICK
@given(SIZES, SETTINGS, PLAIN, st.booleans(), st.sampled_from(["text", "binary"]))
def test_of_a_gauge_it_is_certain_of_the_true_speed_or_says_not(
    sizes: list[Decimal], sender: Setting, receiver: Setting, marks: bool, shape: str
) -> None:
    if shape == "binary" and sender.form.data_bits == 7:
        sender = Setting(sender.baud, Form(8, sender.form.parity, 1))
    messages = [
        f"{size:+07.2f} mm\r\n".encode()
        if shape == "text"
        else b"\x5a" + int(size * 100).to_bytes(3, "big", signed=True) + b"\x03"
        for size in sizes
    ]
    trials = [trial_of(message, sender, receiver, marks) for message in messages]
    presses = [
        Press(trial.raw, size, "mm") for trial, size in zip(trials, sizes, strict=True) if trial.raw
    ]
    line = line_of([trial for trial in trials if trial.raw], presses)
    if line.sure is not None:
        assert line.sure.baud == sender.baud
        assert all(reads(message, sender, line.sure) for message in messages)
    else:
        assert line.reasons


@QUICK
@given(st.binary(min_size=1, max_size=40), SETTINGS, SETTINGS)
def test_any_bytes_are_ranked_and_a_receiver_at_the_senders_setting_reads_all(
    data: bytes, sender: Setting, receiver: Setting
) -> None:
    mask = (1 << sender.form.data_bits) - 1
    seen = as_seen_at(data, sender, sender)
    assert [one.value for one in seen] == [byte & mask for byte in data]
    assert not any(one.wrong for one in seen)
    order = ranked([trial_of(data, sender, receiver, False)])
    assert [one.cost for one in order] == sorted(one.cost for one in order)


@given(st.binary(max_size=30), st.sets(st.integers(0, 29)))
def test_marks_are_taken_off_whatever_the_bytes(data: bytes, places: set[int]) -> None:
    # as a terminal with PARMRK writes them, termios(3)
    out = bytearray()
    for place, byte in enumerate(data):
        out += b"\xff\x00" if place in places else b"\xff" if byte == 0xFF else b""
        out.append(byte)
    assert marked(bytes(out)) == (data, frozenset(n for n in places if n < len(data)))
