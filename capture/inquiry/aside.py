"""A build folded aside, from what counts for its answers: for whoever asks about many builds, so
that the thread that writes is not kept from writing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from capture.desk import Card, Desk, SpecRecord
from capture.entry import Envelope


def aside(card: Card, record: SpecRecord, entries: Iterable[Envelope]) -> Desk:
    """A desk that knows this one build and its answers, and no instrument.

    ``entries`` are those of ``Archive.counted_of_build``. Its answers are the build's; what else
    follows from how it came to them is not: pass numbers, holds, what was derived when (a size
    that is void now has left no trace here), and what sizes share with each other.
    """
    desk = Desk(lambda _build: entries)
    desk.specs[card.spec] = record
    desk.cards[card.id] = replace(card)
    desk.build(card.id)
    return desk
