"""The pages of builds: all of them, one at a glance, two side by side."""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, Literal, NamedTuple
from urllib.parse import quote

import orjson
from fastapi import APIRouter, Request, Response
from pydantic import Field
from starlette.responses import RedirectResponse

from api import queries
from api.answers import hand_in, service_of, view
from api.glanced import glanced
from api.placed import Places
from api.posted import Field as Given
from api.posted import posted
from capture import view as views
from capture.archive import Archive
from capture.command import ActivateBuild, CloseBuild
from capture.errors import NotFound, RequestError
from capture.inquiry.glance import (
    Comparison,
    Glance,
    Most,
    Still,
    compare,
    simulated,
    still,
    together,
)
from capture.ledger.search import Filters

if TYPE_CHECKING:
    from capture.desk import Desk
    from capture.spec.model import Spec

router = APIRouter(include_in_schema=False)
LISTED = 12
"""Builds on one page of them."""
LOOKED_AT = 100
"""Readings of a build that are looked at to tell whether they are simulated, where it is one of
many; its own page looks at them all."""
ROWS = 64
ROWS_MOST = 1024
CELLS_PER_ROW = 40
"""So that a page that shows more rows also has more room in all."""
PICTURES = 24
"""Traces shown as pictures; others are links."""
OTHERS_MOST = 200
"""Builds to choose from."""
LONGEST_REASON = 2000
LONGEST_NAME = 200
SECTIONS = (
    "holds", "missing", "parts", "sizes", "derived", "fits", "fasteners", "turning", "confirmed",
    "gauges", "story", "findings",
)  # fmt: skip


class Page(queries.Query):
    """What every page may be asked."""

    language: queries.Name | None = None


class Listed(Page):
    before: Annotated[queries.Seq | None, Field(description="Only builds opened before this.")] = (
        None
    )


class Shown(Page):
    rows: Annotated[int, Field(ge=1, le=ROWS_MOST, description="Rows of a table at most.")] = ROWS


class Build(Shown):
    did: Annotated[
        Literal["close", "activate"] | None, Field(description="What a form of the page just did.")
    ] = None


class Compared(Shown):
    only: Annotated[
        Literal["differ"] | None, Field(description="Only what got another verdict.")
    ] = None


class Pair(Page):
    one: queries.Name
    other: queries.Name


@router.get("/builds")
async def builds_page(request: Request) -> Response:
    """All builds, the newest first."""
    from api.pages.render import html

    asked = queries.asked(request, Listed)
    names, older = await view(request, lambda desk: _newest(desk, asked.before))
    archive = service_of(request).pipeline.archive
    builds: list[views.Data] = []
    for name in names:
        # One at a time: a build that is not in memory is loaded, and presses come between.
        kept = await view(request, partial(still, build_id=name, size=0))
        builds.append(await asyncio.to_thread(_summary, archive, kept))
    return html(
        request,
        "builds.html",
        "builds",
        builds=builds,
        before=builds[-1]["state"]["seq"] if older else None,
        newer=asked.before is not None,
    )


def _newest(desk: Desk, before: int | None) -> tuple[list[str], bool]:
    """Ids of the newest builds before a seq, and whether there are older ones."""
    cards = [card for card in desk.cards.values() if before is None or card.seq < before]
    cards.sort(key=lambda card: -card.seq)
    return [card.id for card in cards[:LISTED]], len(cards) > LISTED


def _summary(archive: Archive, kept: Still) -> views.Data:
    readings = archive.readings(limit=LOOKED_AT, filters=Filters(build=kept.build.id)).items
    pretended = any(orjson.loads(one)["simulated"] for one in readings)
    return {"state": kept.state(), "spec": kept.spec(), "simulated": pretended}


@router.get("/builds/compare")
async def chosen_page(request: Request) -> Response:
    """Where the form leads that chooses another build."""
    asked = queries.asked(request, Pair)
    return RedirectResponse(f"/builds/{quote(asked.one)}/compare/{quote(asked.other)}", 303)


@router.get("/builds/{build}")
async def build_page(request: Request) -> Response:
    """One build, the whole of it at a glance."""
    build = queries.name_of(request, "build")
    asked = queries.asked(request, Build)
    return await _build_html(request, build, _most(asked.rows), Form(did=asked.did))


@router.get("/builds/{build}/close")
@router.get("/builds/{build}/activate")
async def build_again(request: Request) -> Response:
    """Where a form was posted to, asked for by its address: as in another language."""
    build = queries.name_of(request, "build")
    return RedirectResponse(f"/builds/{quote(build)}?{request.url.query}", 303)


@router.post("/builds/{build}/close")
async def close_build(request: Request) -> Response:
    """Closes the build, for the reason given. Without one the page is shown again and says so."""
    build = queries.name_of(request, "build")
    fields = await posted(request)
    reason, who = _text(fields, "reason"), _text(fields, "operator")
    wrong = "reason" if not 0 < len(reason) <= LONGEST_REASON else ""
    if len(who) > LONGEST_NAME or not who.isprintable():
        wrong = "operator"
    if wrong:
        given = Form(reason=reason, operator=who, wrong=wrong)
        return await _build_html(request, build, _most(ROWS), given, status=422)
    key = _text(fields, "key")[:64] or None
    await hand_in(request, CloseBuild(build, reason), who or None, key)
    return RedirectResponse(f"/builds/{quote(build)}?did=close", 303)


@router.post("/builds/{build}/activate")
async def activate_build(request: Request) -> Response:
    """Makes the build the one that readings are placed on."""
    build = queries.name_of(request, "build")
    key = _text(await posted(request), "key")[:64] or None
    await hand_in(request, ActivateBuild(build), None, key)
    return RedirectResponse(f"/builds/{quote(build)}?did=activate", 303)


def _text(fields: dict[str, Given], name: str) -> str:
    return fields.get(name, Given(b"")).text.strip()


class Form(NamedTuple):
    """What the form that closes a build is filled with, and what a form of the page did."""

    reason: str = ""
    operator: str = ""
    wrong: str = ""
    """The field that cannot stay as it is."""
    did: str | None = None


async def _build_html(
    request: Request, build: str, most: Most, form: Form, *, status: int = 200
) -> Response:
    found = await glanced(request, build, most)
    spec = await view(request, lambda desk: desk.specs[found.state["spec"]].spec)
    people = await asyncio.to_thread(service_of(request).pipeline.archive.operators)
    given = {"form": form, "people": people, "key": uuid.uuid4().hex}
    return await asyncio.to_thread(_whole_page, request, found, spec, most, given, status)


def _most(rows: int) -> Most:
    return Most(rows=rows, cells=max(Most().cells, rows * CELLS_PER_ROW))


def _whole_page(
    request: Request, found: Glance, spec: Spec, most: Most, given: views.Data, status: int
) -> Response:
    from api.labels.choose import labels_for
    from api.pages import build_pictures as pictures
    from api.pages.render import html

    labels = labels_for(request)
    cut = _cut(found)
    tables = (*found.sizes.shown, *found.fasteners.shown)
    return html(
        request,
        "build.html",
        "builds",
        status=status,
        **given,
        places_of=Places(spec),
        glance=found,
        maps={t.operation: pictures.bore_map_of(t, labels) for t in found.sizes.shown},
        bands={one.id: pictures.against_of(one, labels) for one in found.derived.shown},
        growths=pictures.growths_of(found.turning.shown, labels),
        patterns={t.operation: pictures.pattern_of(spec, t, labels) for t in found.fasteners.shown},
        story=together(found.story.shown),
        pictures=PICTURES,
        panels=pictures.NUMBERS_MOST,
        columns=pictures.COLUMNS_MOST,
        anchors={table.operation for table in tables},
        places={table.part: table.operation for table in reversed(tables)},
        most=most.rows,
        sections=[name for name in SECTIONS if _has(found, name)],
        whole=min(ROWS_MOST, most.rows * 8) if cut and most.rows < ROWS_MOST else None,
    )


def _has(found: Glance, section: str) -> bool:
    """Whether a section stands on the page."""
    if section == "holds":
        return bool(found.state["holds"])
    lists: dict[str, Any] = {
        "sizes": found.sizes.shown,
        "derived": found.derived.shown,
        "fits": found.fits,
        "fasteners": found.fasteners.shown,
        "turning": found.turning.shown,
        "confirmed": found.confirmed.shown,
    }
    return bool(lists.get(section, True))


def _cut(found: Glance) -> bool:
    """Whether anything was left out that more rows would show."""
    lists = (
        found.parts, found.sizes, found.derived, found.fasteners, found.turning, found.confirmed,
        found.missing, found.story, found.not_counted, found.zeros, found.sets, found.instruments,
    )  # fmt: skip
    rows = [table.rows.more for table in (*found.sizes.shown, *found.fasteners.shown)]
    rows += [one.rows.more for one in found.derived.shown]
    rows += [part.numbers.more for part in found.parts.shown]
    return any(rows) or any(one.more for one in lists)


@router.get("/builds/{build}/compare")
async def choose_page(request: Request) -> Response:
    """Which build to put beside this one."""
    build = queries.name_of(request, "build")
    queries.asked(request, Page)
    return await _choose(request, build)


@router.get("/builds/{build}/compare/{other}")
async def compare_page(request: Request) -> Response:
    """Two builds on the same spec, side by side."""
    from api.pages.render import html

    one, other = queries.name_of(request, "build"), queries.name_of(request, "other")
    asked = queries.asked(request, Compared)
    if one == other:
        raise RequestError(
            f"{one} and {other} are the same build.", mend=f"Choose one: /builds/{one}/compare"
        )
    pipeline = service_of(request).pipeline
    first, second = await view(
        request, lambda desk: [still(desk, name, pipeline.size) for name in (one, other)]
    )
    if first.build.spec.id != second.build.spec.id:
        return await _choose(request, one, second)
    found, pretended = await asyncio.to_thread(
        _compared, pipeline.archive, first, second, _most(asked.rows)
    )
    places = [Places(one.build.spec) for one in (first, second)]
    return html(
        request,
        "compare.html",
        "builds",
        comparison=found,
        simulated_here=pretended,
        refused=False,
        only=asked.only is not None,
        first=found.one,
        places_of=places[0],
        places_there=places[1],
    )


def _compared(archive: Archive, one: Still, other: Still, most: Most) -> tuple[Comparison, bool]:
    both = (one, other)
    pretended = any(simulated(kept, archive.entries_of_build(kept.build.id)) for kept in both)
    return compare(one, other, most), pretended


async def _choose(request: Request, build: str, refused: Still | None = None) -> Response:
    """The page that lets a person choose; with what it was asked for and is not comparable."""
    from api.pages.render import html

    first, others = await view(request, lambda desk: _comparable(desk, build))
    second = None if refused is None else {**refused.state(), "spec": refused.spec()}
    return html(
        request,
        "compare.html",
        "builds",
        status=200 if refused is None else 409,
        comparison=None,
        places_of=None,
        refused=refused is not None,
        first=first,
        second=second,
        others=others[:OTHERS_MOST],
        others_more=max(0, len(others) - OTHERS_MOST),
    )


def _comparable(desk: Desk, build: str) -> tuple[views.Data, list[views.Data]]:
    """A build's card with its spec, and the others on a spec of that name, newest first."""
    cards = {card["id"]: card for card in views.builds(desk)}
    if build not in cards:
        raise NotFound(f"There is no build {build}.", mend="All there are: /builds")
    specs = {digest: views.spec(desk, digest) for digest in desk.specs}
    first = {**cards.pop(build)}
    first["spec"] = specs[first["spec"]]
    return first, list(_of_name(cards.values(), specs, first["spec"]["name"]))


def _of_name(
    cards: Iterable[views.Data], specs: dict[str, views.Data], name: str
) -> list[views.Data]:
    found = [{**card, "spec": specs[card["spec"]]} for card in cards]
    return sorted(
        (card for card in found if card["spec"]["name"] == name), key=lambda card: -card["seq"]
    )
