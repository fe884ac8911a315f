"""The builds of a spec with what is whole in them, for control charts: read aside from the thread
that writes, and kept as long as nothing about the build changes."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from starlette.requests import Request

from api.answers import service_of, view
from capture.archive import Archive
from capture.errors import NotFound, RequestError

if TYPE_CHECKING:
    from capture.charts.gather import Gathered
    from capture.desk import Card, Desk, SpecRecord

NEWEST = 100
"""Builds on one chart."""
LISTED = 300
"""Builds that the list of charts looks at, of all specs together."""
KEPT = 400

Mark = tuple[int, int, int]
Data = dict[str, Any]


class Kept:
    """What was gathered, by build; given again as long as its mark is the same."""

    def __init__(self) -> None:
        self._found: OrderedDict[str, tuple[Mark, Gathered]] = OrderedDict()

    def gathered(self, archive: Archive, card: Card, record: SpecRecord) -> Gathered:
        from capture.charts.gather import gathered
        from capture.inquiry.aside import aside

        mark = archive.mark_of_build(card.id)
        kept = self._found.get(card.id)
        if kept is not None and kept[0] == mark:
            return kept[1]
        desk = aside(card, record, archive.counted_of_build(card.id))
        made = gathered(card, desk.build(card.id))
        self._found[card.id] = mark, made
        while len(self._found) > KEPT:
            self._found.popitem(last=False)
        return made


class _Chosen(NamedTuple):
    """Builds on specs of one name, oldest first, and the specs they are on."""

    name: str
    cards: list[Card]
    specs: dict[str, SpecRecord]
    more: bool


def _chosen(desk: Desk, name: str, cards: Sequence[Card]) -> _Chosen:
    """The newest of these, as they are now: what a desk holds changes under another thread."""
    newest = [replace(card) for card in cards[-NEWEST:]]
    specs = {card.spec: desk.specs[card.spec] for card in newest}
    return _Chosen(name, newest, specs, len(cards) > NEWEST)


def _of_name(desk: Desk, name: str) -> _Chosen:
    """Raises NotFound."""
    cards = list(desk.cards.values())
    mine = [card for card in cards if desk.specs[card.spec].spec.id == name]
    if not mine:
        names = dict.fromkeys(desk.specs[card.spec].spec.id for card in cards)
        raise NotFound(
            f"There is no build on a spec called {name}.",
            mend=f"There are builds on: {', '.join(names) or 'none yet'}.",
        )
    return _chosen(desk, name, mine)


def _by_name(desk: Desk) -> tuple[list[_Chosen], bool]:
    """Of the newest builds, the spec built last first; and whether there are older builds."""
    cards = list(desk.cards.values())
    groups: dict[str, list[Card]] = {}
    for card in reversed(cards[-LISTED:]):
        groups.setdefault(desk.specs[card.spec].spec.id, []).append(card)
    return [_chosen(desk, name, of[::-1]) for name, of in groups.items()], len(cards) > LISTED


async def listed(request: Request) -> Data:
    """Every quantity that was measured in more than one build, by the name of the spec."""
    chosen, older = await view(request, _by_name)
    archive, kept = service_of(request).pipeline.archive, _kept(request)
    found = await asyncio.to_thread(lambda: [_cards(archive, kept, each) for each in chosen])
    return {"specs": found, "older_builds": older}


def _cards(archive: Archive, kept: Kept, chosen: _Chosen) -> Data:
    from capture.charts.answer import summary
    from capture.charts.chart import chart_of

    builds = _gathered(archive, kept, chosen)
    # in the order of the newest spec that has it
    names = dict.fromkeys(name for one in reversed(builds) for name in one.whole)
    charts = [chart_of(builds, name) for name in names]
    return {
        "name": chosen.name,
        "title": chosen.specs[chosen.cards[-1].spec].spec.title,
        "builds": len(builds),
        "older_builds": chosen.more,
        "charts": [summary(chart) for chart in charts if len(chart.points) > 1],
    }


async def chart(request: Request, name: str, quantity: str, form: str | None) -> Data:
    """One chart. Raises NotFound and RequestError."""
    chosen = await view(request, lambda desk: _of_name(desk, name))
    archive, kept = service_of(request).pipeline.archive, _kept(request)
    return await asyncio.to_thread(
        lambda: _whole(chosen, _gathered(archive, kept, chosen), quantity, form)
    )


def _whole(chosen: _Chosen, builds: list[Gathered], quantity: str, form: str | None) -> Data:
    from capture.charts.answer import whole
    from capture.charts.chart import LEAST, TRIAL_BELOW, chart_of
    from capture.charts.signal import ROW
    from capture.charts.subgroup import Form

    try:
        found = whole(chart_of(builds, quantity, None if form is None else Form(form)))
    except KeyError:
        names = dict.fromkeys(name for one in builds for name in one.whole)
        raise NotFound(
            f"No build on {chosen.name} has measured {quantity} whole.",
            mend=f"Whole in a build: {', '.join(names) or 'nothing yet'}.",
        ) from None
    except ValueError as error:
        raise RequestError(str(error), mend="Leave form out, or take one of its forms.") from None
    return {
        "spec": {
            "name": chosen.name,
            "title": chosen.specs[chosen.cards[-1].spec].spec.title,
        },
        **found,
        "newest_only": NEWEST if chosen.more else None,
        "least": LEAST,
        "trial_below": TRIAL_BELOW,
        "row": ROW,
    }


def _gathered(archive: Archive, kept: Kept, chosen: _Chosen) -> list[Gathered]:
    return [kept.gathered(archive, card, chosen.specs[card.spec]) for card in chosen.cards]


def _kept(request: Request) -> Kept:
    """Of this service; a look that comes at the same time does at most the same work twice."""
    state = request.app.state
    if not hasattr(state, "charted"):
        state.charted = Kept()
    found: Kept = state.charted
    return found
