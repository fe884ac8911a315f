"""How likely it is that a slower, or as fast, sender was heard like this, and what it then sent.

Bits of a sender that is slower than the receiver come as stretched copies: each falling edge
starts a character of the receiver, which shows the next few of the sender's bits several times.
Every message that could have been sent is followed bit by bit, all at once, with what the
receiver must have seen at each of its looks; what contradicts the bytes is dropped.
"""

from __future__ import annotations

from collections import defaultdict
from functools import lru_cache
from heapq import nlargest
from math import inf, log2
from typing import NamedTuple

from drivers.learn.line.seen import parity_of
from drivers.learn.line.setting import Setting
from drivers.learn.line.trial import Trial

_CLOSE = 0.13
"""Of a receiver's bit: a look so near to an edge may see either side of it."""
HEARD = 20
"""Bytes of a press that are looked at, at most: more would tell no more."""
_KEPT = 150
"""Messages followed at once, at most: the likeliest."""
FARTHEST = 8.2
"""How many times faster a receiver may be: above, it sees nothing but zeros."""
_IDLE = 1 / 64
"""How likely a pause is, where characters could follow one another at once."""
_IDLING = 256
"""Stands in the place of a byte while the sender pauses."""
_FAR = 10.0
"""What is so much slower costs, where the bytes are zeros: they tell no more than that."""
_BINARY = 2.0**-10
"""How likely a gauge is to send no text at all; our own judgement, as the next ones."""


def _commonness() -> list[float]:
    """How likely each byte is in a text that a gauge sends."""
    common = [0.004 / 256] * 256
    for byte in range(0x21, 0x7F):
        common[byte] += 0.056 / 94
    for sign in b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz":
        common[sign] += 0.12 / 52
    for sign in b"0123456789":
        common[sign] += 0.52 / 10
    for sign in b"+-., \r\n":
        common[sign] += 0.3 / 7
    return common


_COMMON = _commonness()


class Sent(NamedTuple):
    """What a sender would have sent."""

    cost: float
    """How unlikely all of it is, in powers of two: the smaller, the likelier."""
    message: bytes
    """The likeliest message."""


class _Way(NamedTuple):
    text: float
    """How likely it is as text, all messages together that led here."""
    any: float
    """The same where every byte is as likely."""
    best: float
    message: bytes


class _State(NamedTuple):
    place: int
    """Bits of the sender's character gone by; 0 between two."""
    value: int
    heard: int
    """Characters the receiver has finished."""
    since: int
    """Bits since the receiver's start edge; -1 while it looks for one."""
    level: int


class _Looks(NamedTuple):
    """When the receiver looks, by the sender's bits since the start edge."""

    data: list[list[int]]
    """Data bits it takes for certain during that bit."""
    stop: int
    """The bit in which it takes the stop bit."""
    stop_near: int
    """-1 or 1: that may be in the bit before or after; 0 where not."""


@lru_cache(maxsize=2048)
def explained(trial: Trial, sender: Setting) -> Sent | None:
    """What ``sender``, not faster than the trial's receiver, sent; None where nothing fits."""
    raw = trial.raw[:HEARD]
    if trial.setting.baud > FARTHEST * sender.baud:
        return Sent(_FAR, b"") if raw and not any(raw) else None
    looks = _looks(trial.setting, sender)
    states = {_State(0, 0, 0, -1, 1): _Way(1.0, 1.0, 1.0, b"")}
    done: list[_Way] = []
    while states:
        following: defaultdict[_State, list[_Way]] = defaultdict(list)
        for state, way in states.items():
            if (
                state.heard >= len(raw)
                and state.since < 0
                and (state.place == 0 or len(raw) < len(trial.raw))
            ):
                done.append(way)
                continue
            for level, more in _levels(state, sender):
                for after in _received(state, level, more, raw, trial, looks):
                    following[after].append(_grown(way, state, after, more))
        states = _kept(following)
    return _sum(done)


def _looks(receiver: Setting, sender: Setting) -> _Looks:
    # in bits of the sender: half a bit of the receiver, then one each
    ratio = sender.baud / receiver.baud
    form = receiver.form
    last = (form.data_bits + (form.parity != "none") + 1.5) * ratio
    data: list[list[int]] = [[] for _ in range(int(last) + 3)]
    for place in range(form.data_bits):
        at = (place + 1.5) * ratio
        if min(at % 1, 1 - at % 1) > _CLOSE * ratio:
            data[int(at)].append(place)
    near = 0
    if last % 1 <= _CLOSE * ratio:
        near = -1
    elif 1 - last % 1 <= _CLOSE * ratio:
        near = 1
    return _Looks(data, int(last), near)


def _levels(state: _State, sender: Setting) -> list[tuple[int, _State]]:
    """The bits that may come next: level, and where the sender is after it."""
    form = sender.form
    place, value = state.place, state.value
    if place == 0:
        start = (0, state._replace(place=1, value=0))
        # while the receiver looks for an edge, idling longer changes nothing
        return [start] if state.since < 0 else [start, (1, state._replace(value=_IDLING))]
    if place <= form.data_bits:
        return [
            (bit, state._replace(place=place + 1, value=value | bit << (place - 1)))
            for bit in (0, 1)
        ]
    if form.parity != "none" and place == form.data_bits + 1:
        return [(parity_of(value, form), state._replace(place=place + 1))]
    whole = 1 + form.data_bits + (form.parity != "none") + form.stop_bits
    return [(1, state._replace(place=(place + 1) % whole))]


def _received(
    state: _State, level: int, after: _State, raw: bytes, trial: Trial, looks: _Looks
) -> list[_State]:
    """Where the receiver may be after this bit; nowhere where it contradicts the bytes."""
    since = state.since
    if since < 0:
        if not (state.level and not level):
            return [after._replace(level=level)]
        if state.heard >= len(raw):
            return []  # it would have been heard
        since = 0
    for place in looks.data[since]:
        if raw[state.heard] >> place & 1 != level:
            return []
    found = []
    ends = {looks.stop, looks.stop + looks.stop_near}
    if since in ends and _stops(state.heard, level, trial):
        found.append(after._replace(heard=state.heard + 1, since=-1, level=level))
    if since < max(ends):
        found.append(after._replace(since=since + 1, level=level))
    return found


def _stops(heard: int, level: int, trial: Trial) -> bool:
    """Whether a stop bit at this level goes with what was told of errors."""
    if trial.wrong is None or trial.setting.form.parity != "none":
        return True
    return (heard in trial.wrong) != bool(level)


def _grown(way: _Way, state: _State, after: _State, sent: _State) -> _Way:
    if state.place and not sent.place:
        byte = state.value
        text = _COMMON[byte]
        return _Way(way.text * text, way.any / 256, way.best * text, way.message + bytes([byte]))
    if not state.place and not sent.place:
        idle = 0.5 if state.value == _IDLING else _IDLE
        return _Way(way.text * idle, way.any * idle, way.best * idle, way.message)
    return way


def _kept(following: dict[_State, list[_Way]]) -> dict[_State, _Way]:
    merged = {}
    for state, ways in following.items():
        best = max(ways, key=lambda way: way.best)
        merged[state] = _Way(
            sum(way.text for way in ways), sum(way.any for way in ways), best.best, best.message
        )
    if len(merged) <= _KEPT:
        return merged
    likeliest = nlargest(_KEPT, merged.items(), key=lambda item: item[1].text + item[1].any)
    return dict(likeliest)


def _sum(done: list[_Way]) -> Sent | None:
    if not done:
        return None
    likely = sum(way.text for way in done) + _BINARY * sum(way.any for way in done)
    best = max(done, key=lambda way: way.best)
    return Sent(-log2(likely) if likely > 0 else inf, best.message)
