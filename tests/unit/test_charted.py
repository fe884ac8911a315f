"""Which builds a chart looks at, and how long what was read of them is kept."""

from __future__ import annotations

from typing import Any

import pytest

from api import charted
from capture import command as c
from capture.errors import NotFound
from tests.paper import SPEC, Paper


class OneBuild:
    """An archive of one build, whose mark and entries a test sets."""

    def __init__(self, entries: list[Any]) -> None:
        self.entries = entries
        self.mark = (1, 1, 1)
        self.read = 0

    def mark_of_build(self, build: str) -> tuple[int, int, int]:
        return self.mark

    def counted_of_build(self, build: str) -> list[Any]:
        self.read += 1
        return self.entries


def test_only_the_newest_builds_are_looked_at(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(charted, "NEWEST", 2)
    paper = Paper()
    builds = [paper.open() for _ in range(3)]
    other = paper.open(SPEC.replace('id = "pump"', 'id = "other"'))
    chosen = charted._of_name(paper.desk, "pump")
    assert [card.id for card in chosen.cards] == builds[1:]
    assert chosen.more
    assert not charted._of_name(paper.desk, "other").more
    found, older = charted._by_name(paper.desk)
    assert [one.name for one in found] == ["other", "pump"]  # the one built last first
    assert [[card.id for card in one.cards] for one in found] == [[other], builds[1:]]
    assert not older
    monkeypatch.setattr(charted, "LISTED", 3)
    found, older = charted._by_name(paper.desk)
    assert [[card.id for card in one.cards] for one in found] == [[other], builds[1:]]
    assert older


def test_a_name_that_no_build_is_on_says_which_there_are() -> None:
    paper = Paper()
    with pytest.raises(NotFound) as none:
        charted._of_name(paper.desk, "pump")
    assert "none yet" in none.value.mend
    paper.open()
    with pytest.raises(NotFound) as some:
        charted._of_name(paper.desk, "pomp")
    assert some.value.mend == "There are builds on: pump."


def test_a_revision_of_the_same_spec_is_on_the_same_chart() -> None:
    paper = Paper()
    first = paper.open()
    second = paper.open(SPEC.replace('revision = "1"', 'revision = "2"'))
    assert [card.id for card in charted._of_name(paper.desk, "pump").cards] == [first, second]


def test_a_build_is_read_again_only_when_something_about_it_changed() -> None:
    paper = Paper()
    build = paper.ready()
    card = paper.desk.cards[build]
    record = paper.desk.specs[card.spec]
    archive: Any = OneBuild([])
    kept = charted.Kept()
    first = kept.gathered(archive, card, record)
    assert kept.gathered(archive, card, record) is first
    assert archive.read == 1
    paper.bores("0.010")
    archive.entries = [e for e in paper.entries if e["kind"] == "decision"]
    archive.mark = (2, 9, 1)
    again = kept.gathered(archive, card, record)
    assert (first.begun, again.begun) == (frozenset(), frozenset({"barrel-bore"}))
    assert archive.read == 2


def test_what_is_kept_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(charted, "KEPT", 2)
    paper = Paper()
    archive: Any = OneBuild([])
    kept = charted.Kept()
    for _ in range(4):
        card = paper.desk.cards[paper.open()]
        kept.gathered(archive, card, paper.desk.specs[card.spec])
    assert len(kept._found) == 2


def test_closing_a_build_after_it_was_listed_changes_nothing_in_the_list() -> None:
    paper = Paper()
    build = paper.open()
    chosen = charted._of_name(paper.desk, "pump")
    paper.do(c.CloseBuild(build, "Done."))
    assert not chosen.cards[0].closed
    assert paper.desk.cards[build].closed
