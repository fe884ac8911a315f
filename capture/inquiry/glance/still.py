"""A build and its bench as they stand at one moment, kept apart from what goes on: looking at the
whole of a large build takes longer than the thread that stores readings should wait."""

from __future__ import annotations

from collections import deque
from copy import copy
from dataclasses import replace
from typing import Any, NamedTuple

from capture import view
from capture.build import Build
from capture.desk import Desk
from capture.zero import ZeroSet

Data = dict[str, Any]


class Still(NamedTuple):
    """What stood when the ledger had ``size`` entries."""

    desk: Desk
    """A desk of its own that holds only this build, and the bench's records."""
    build: Build
    size: int

    def state(self) -> Data:
        """As ``GET /v1/builds/{id}``."""
        return view.build(self.desk, self.build.id)

    def spec(self) -> Data:
        """As ``GET /v1/specs/{id}``."""
        return view.spec(self.desk, self.build.spec.hash)


def still(desk: Desk, build_id: str, size: int) -> Still:
    """Where the state is: quick copies of it. Raises NotFound."""
    found = _copied(desk.build(build_id))
    card, own = desk.cards[build_id], Desk()
    own.active = desk.active
    own.cards = {build_id: copy(card)}
    own.specs = {card.spec: desk.specs[card.spec]}
    own.loaded = {build_id: found}
    own.instruments = dict(desk.instruments)
    own.records_by_seq = dict(desk.records_by_seq)
    own.settings_by_seq = dict(desk.settings_by_seq)
    own.extensions_by_seq = dict(desk.extensions_by_seq)
    own.zeros = {name: _kept(zero) for name, zero in desk.zeros.items()}
    own.unclosed = {
        name: deque((opened, again, _kept(zero)) for opened, again, zero in some)
        for name, some in desk.unclosed.items()
    }
    return Still(own, found, size)


def _kept(zero: ZeroSet) -> ZeroSet:
    return replace(zero, presses=zero.presses.copy())


def _copied(build: Build) -> Build:
    """A build that stays as it is; steps and spec never change and are shared."""
    found = copy(build)
    found.works = {name: copy(work) for name, work in build.works.items()}
    for work in found.works.values():
        work.holds = dict(work.holds)
        work.left = None if work.left is None else dict(work.left)
    found.fills = list(build.fills)
    found.press_at = dict(build.press_at)
    found.passes = dict(build.passes)
    found.derived = dict(build.derived)
    found.conceded = dict(build.conceded)
    found.stale = dict(build.stale)
    found.yielded = dict(build.yielded)
    found.limits, found.families = {}, {}
    found.pieces = copy(build.pieces)
    found.pieces.named = dict(build.pieces.named)
    found.pieces.scrapped = set(build.pieces.scrapped)
    # The copies of the works in place of the works.
    found._measures = {
        name: [found.works[work.operation.id] for work in works]
        for name, works in build._measures.items()
    }
    return found
