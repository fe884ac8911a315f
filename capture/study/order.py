"""The order in which a study is measured: drawn by lot, the same from the same word everywhere.

Every appraiser measures all samples once, in an order of their own, before the next appraiser does;
when all have, the next trial begins. So nobody can remember a sample's last size, and a drift of
the gauge falls on every appraiser alike (common practice, no source). The lot is a stream of
SHA-256 digests of the word and a counter, shuffled after Fisher and Yates: it depends on nothing
but the text, so that anyone can draw it again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from typing import NamedTuple

_BLOCK = 8
"""Bytes a number of the stream is made of."""


class Turn(NamedTuple):
    """One measurement of a study; ``sample`` and ``trial`` count from 1."""

    appraiser: str
    sample: int
    trial: int


def draw(samples: int, appraisers: Sequence[str], trials: int, lot: str) -> list[Turn]:
    """Every turn of the study once, in the order to measure them.

    In blocks: for every trial, for every appraiser (in the order given), all samples in random
    order. With two samples or more, no sample is measured twice in a row, across blocks either.
    Raises ValueError where there is no sample, appraiser or trial, or two appraisers share a name.
    """
    _check(samples, appraisers, trials)
    numbers = _numbers(lot)
    turns: list[Turn] = []
    last = 0
    for trial in range(1, trials + 1):
        for appraiser in appraisers:
            order = _shuffled(samples, numbers)
            while samples > 1 and order[0] == last:
                order = _shuffled(samples, numbers)
            turns += [Turn(appraiser, sample, trial) for sample in order]
            last = order[-1]
    return turns


def _check(samples: int, appraisers: Sequence[str], trials: int) -> None:
    if samples < 1:
        raise ValueError(f"A study takes at least one sample, not {samples}.")
    if trials < 1:
        raise ValueError(f"A study takes at least one trial, not {trials}.")
    if not appraisers:
        raise ValueError("A study takes at least one appraiser: name one.")
    if len(set(appraisers)) != len(appraisers):
        raise ValueError("Two appraisers of a study share a name: give each one their own.")


def _shuffled(count: int, numbers: Iterator[int]) -> list[int]:
    """1 to ``count``, every order equally likely."""
    order = list(range(1, count + 1))
    for at in range(count - 1, 0, -1):
        other = _below(at + 1, numbers)
        order[at], order[other] = order[other], order[at]
    return order


def _below(bound: int, numbers: Iterator[int]) -> int:
    """One of 0 to ``bound`` − 1, all equally likely: numbers past the last whole multiple of the
    bound are passed over."""
    whole = 256**_BLOCK // bound * bound
    return next(number for number in numbers if number < whole) % bound


def _numbers(lot: str) -> Iterator[int]:
    """64-bit numbers, without end: SHA-256 of the lot's UTF-8 bytes, a zero byte and a counter
    (8 bytes, big-endian), four numbers from each digest."""
    seed = lot.encode() + b"\0"
    counter = 0
    while True:
        digest = hashlib.sha256(seed + counter.to_bytes(8, "big")).digest()
        for at in range(0, len(digest), _BLOCK):
            yield int.from_bytes(digest[at : at + _BLOCK], "big")
        counter += 1
