"""Unknown gauges learned: a part of the corpus of invented formats, always the same.

``python -m tests.benchmarks.learning`` tries all of it, and a corpus from another word.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache

import pytest

from simulators.formats import Format, Press, ambiguous, corpus
from tests.benchmarks.learning import (
    FAILED,
    GOAL,
    MOST_SECONDS,
    WORD,
    Answer,
    Read,
    Tried,
    as_text,
    by_command,
    by_module,
    markdown,
    try_all,
    try_format,
    try_thin,
)

SHARE = 0.12


@cache
def tried() -> Tried:
    return try_all(by_module, WORD, SHARE)


def test_as_many_are_learned_as_must_be() -> None:
    assert len(tried().outcomes) >= 40
    assert tried().share >= GOAL, as_text(tried())


def test_none_is_wrong_while_sure() -> None:
    assert not tried().wrong, as_text(tried())


def test_presses_that_settle_nothing_are_not_sure_and_say_why() -> None:
    assert len(tried().thin) >= 40
    assert all(one.verdict == "not sure" for one in tried().thin), as_text(tried())
    assert all(one.detail for one in tried().thin)


def test_the_learner_never_fails() -> None:
    every = (*tried().outcomes, *tried().thin)
    assert not [one.name for one in every if one.detail.startswith(FAILED)]


def test_each_takes_less_than_a_second() -> None:
    # Three times that here: tests share the machine with others; the benchmark tells the figure.
    assert tried().slowest <= 3 * MOST_SECONDS


@pytest.mark.parametrize("name", ["text-unit-letter-0", "binary-whole-0"])
def test_the_command_learns_and_reads_the_same(name: str) -> None:
    made = _named(name)
    outcome = try_format(by_command, made)
    assert outcome.verdict == "learned", outcome.detail


def test_the_command_is_not_sure_of_a_contradiction() -> None:
    thin = next(case for case in ambiguous(WORD) if case.name == "thin-swapped-0")
    outcome = try_thin(by_command, thin)
    assert outcome.verdict == "not sure"
    assert outcome.detail


# ── the judge itself ─────────────────────────────────────────────────────────────────────────────


def _named(name: str) -> Format:
    return next(made for made in corpus(WORD, SHARE) if made.name == name)


def _says(sure: bool, read: Callable[[Press], Read], made: Format) -> Callable[..., Answer]:
    """A learner that knows the truth, and says what it is told to."""
    truth = {press.raw: press for press in made.further}

    def learner(presses: Sequence[Press]) -> Answer:
        return Answer(sure, "", lambda messages: [read(truth[raw]) for raw in messages])

    return learner


def test_verdicts() -> None:
    made = _named("text-unit-letter-0")
    last = made.further[-1]

    def truth(press: Press) -> Read:
        return Read(press.value, press.unit)

    def but_last(answer: Read) -> Callable[[Press], Read]:
        return lambda press: answer if press is last else truth(press)

    def verdict(sure: bool, read: Callable[[Press], Read]) -> str:
        return try_format(_says(sure, read, made), made).verdict

    assert verdict(True, truth) == "learned"
    assert verdict(False, truth) == "not sure"
    assert verdict(True, but_last(Read(None, None, "no number"))) == "refuses some"
    assert verdict(True, but_last(Read(last.value, "N·m"))) == "WRONG WHILE SURE"
    assert verdict(True, but_last(Read("1" + last.value, last.unit))) == "WRONG WHILE SURE"
    outcome = try_format(_says(True, truth, made), made)
    assert outcome.same_digits
    more = try_format(_says(True, lambda press: Read(press.value + "0", press.unit), made), made)
    assert (more.verdict, more.same_digits) == ("learned", False)


def test_the_table_counts_what_was_tried() -> None:
    made = _named("text-unit-letter-0")
    learner = _says(True, lambda press: Read(press.value, press.unit), made)
    good = try_format(learner, made)
    bad = good._replace(name="other", verdict="WRONG WHILE SURE", detail="said 1, not 2")
    thin = good._replace(name="thin", shape="too few", verdict="not sure")
    tried = Tried([good, bad], [thin])
    assert tried.share == 0.5
    assert tried.wrong == [bad]
    assert "| **all** | 2 | 1 | 0 | 0 | 1 | 2 |" in markdown(tried)
    assert as_text(tried) == "WRONG WHILE SURE: other (unit letter): said 1, not 2"
