"""Builds: opening one, what it wants next, and what a person decides about it."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request, Response

from api import bodies, queries
from api.answers import (
    hand_in,
    json_answer,
    record,
    recorded,
    service_of,
    tag,
    tagged,
    unchanged,
    view,
)
from capture import command
from capture import view as views
from capture.errors import RequestError
from capture.inquiry import build_wide, fits, story, studies

if TYPE_CHECKING:
    from capture.desk import Desk

router = APIRouter(prefix="/v1/builds", tags=["builds"])


@router.get("", response_model=None)
async def list_builds(request: Request) -> Response:
    """Every build on this bench, oldest first."""
    return json_answer({"builds": await view(request, views.builds)})


@router.post("", response_model=None)
async def open_build(request: Request) -> Response:
    """Opens a build on a spec and makes it the active one."""
    body = await bodies.read(request, bodies.NewBuild)
    opening = command.OpenBuild(body.spec, body.title)
    outcome = await hand_in(request, opening, body.operator)
    opened = await view(request, lambda desk: _opened(desk, outcome.seq))
    return recorded(outcome, opened, f"/v1/builds/{opened['id']}")


def _opened(desk: Desk, seq: int) -> views.Data:
    """The build that the entry ``seq`` opened."""
    return views.build(desk, next(card.id for card in desk.cards.values() if card.seq == seq))


@router.get("/{build}", response_model=None)
async def get_build(request: Request) -> Response:
    """A build's whole state, computed from the ledger."""
    build = queries.name_of(request, "build")
    etag = tag(service_of(request))
    same = unchanged(request, etag)
    state = None if same else await view(request, lambda desk: views.build(desk, build))
    return same or json_answer(state, headers=tagged(etag))


@router.get("/{build}/steps", response_model=None)
async def list_steps(request: Request) -> Response:
    """Every step of a build in the order of work, with what answers it."""
    build = queries.name_of(request, "build")
    etag = tag(service_of(request))
    same = unchanged(request, etag)
    steps = None if same else await view(request, lambda desk: views.steps(desk, build))
    return same or json_answer({"steps": steps}, headers=tagged(etag))


@router.get("/{build}/next", response_model=None)
async def next_step(request: Request) -> Response:
    """What the build wants next, and what holds it up."""
    build = queries.name_of(request, "build")
    return json_answer(await view(request, lambda desk: views.next_step(desk, build)))


@router.post("/{build}/activate", response_model=None)
async def activate_build(request: Request) -> Response:
    """Makes this build the one that readings are placed on."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.Empty)
    return await record(request, command.ActivateBuild(build), body.operator)


@router.post("/{build}/close", response_model=None)
async def close_build(request: Request) -> Response:
    """No further reading is placed on this build."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.Reason)
    return await record(request, command.CloseBuild(build, body.reason), body.operator)


@router.post("/{build}/choose", response_model=None)
async def choose_step(request: Request) -> Response:
    """Works on another open step next; null goes back to the order of work."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.Choice)
    return await record(request, body.command(build), body.operator)


@router.post("/{build}/confirmations", response_model=None)
async def confirm_step(request: Request) -> Response:
    """A person confirms what a confirmation step asks."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.Confirmation)
    return await record(request, body.command(build), body.operator)


@router.post("/{build}/assignments", response_model=None)
async def assign_piece(request: Request) -> Response:
    """Joins a piece (this very piston) to a position (piston 3)."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.Assignment)
    return await record(request, body.command(build), body.operator)


@router.post("/{build}/reworks", response_model=None)
async def rework_piece(request: Request) -> Response:
    """The piece is worked on again: its steps, and what rests on them, reopen."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.PartReason)
    return await record(request, body.rework(build), body.operator)


@router.post("/{build}/concessions", response_model=None)
async def concede(request: Request) -> Response:
    """Accepts a nonconforming or undecided result, with a reason."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.Concession)
    return await record(request, body.command(build), body.operator)


@router.post("/{build}/scraps", response_model=None)
async def scrap_piece(request: Request) -> Response:
    """Rejects the piece at a position; its steps reopen for another piece."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.PartReason)
    return await record(request, body.scrap(build), body.operator)


@router.post("/{build}/sets", response_model=None)
async def measure_set_again(request: Request) -> Response:
    """Opens the set of readings that a zero check closed, to be measured again."""
    build = queries.name_of(request, "build")
    body = await bodies.read(request, bodies.SetAgain)
    return await record(request, body.command(build), body.operator)


@router.get("/{build}/fits/{derived}", response_model=None)
async def propose_fit(request: Request) -> Response:
    """Which piece best goes where, for this clearance; what cannot fit, and how much to hone."""
    build, derived = queries.name_of(request, "build"), queries.name_of(request, "derived")
    asked = await view(request, lambda desk: fits.fit_asked(desk, build, derived))
    try:
        return json_answer(await asyncio.to_thread(fits.fit_answer, asked))
    except ValueError as error:
        raise RequestError(str(error), mend="Give the clearance two limits.") from error


@router.post("/{build}/fits/{derived}", response_model=None)
async def accept_fit(request: Request) -> Response:
    """Pieces go where this says; their sizes go with them."""
    build, derived = queries.name_of(request, "build"), queries.name_of(request, "derived")
    body = await bodies.read(request, bodies.Fit)
    return await record(request, body.command(build, derived), body.operator)


@router.get("/{build}/studies/{study}", response_model=None)
async def study_result(request: Request) -> Response:
    """What a gauge study says so far."""
    build, study = queries.name_of(request, "build"), queries.name_of(request, "study")
    asked = await view(request, lambda desk: studies.study_asked(desk, build, study))
    return json_answer(await asyncio.to_thread(studies.study_answer, asked))


@router.get("/{build}/checks/{check}", response_model=None)
async def tool_check_result(request: Request) -> Response:
    """What a torque tool's check against a reference says so far."""
    build, check = queries.name_of(request, "build"), queries.name_of(request, "check")
    asked = await view(request, lambda desk: studies.check_asked(desk, build, check))
    return json_answer(await asyncio.to_thread(studies.check_answer, asked))


@router.get("/{build}/preloads", response_model=None)
async def preloads(request: Request) -> Response:
    """What the pulls on the fasteners stand for in preload: estimates, each with its scatter."""
    build = queries.name_of(request, "build")
    found = await view(request, lambda desk: build_wide.preloads(desk, build))
    return json_answer({"preloads": found})


@router.get("/{build}/findings", response_model=None)
async def list_findings(request: Request) -> Response:
    """What is worth a second look, over the whole build. Holds nothing."""
    build = queries.name_of(request, "build")
    presses = await view(request, lambda desk: build_wide.presses_of(desk, build))
    archive = service_of(request).pipeline.archive
    taken = await asyncio.to_thread(archive.envelopes, presses)
    return json_answer(await view(request, lambda desk: build_wide.found_in(desk, build, taken)))


@router.get("/{build}/clearances", response_model=None)
async def list_clearances(request: Request) -> Response:
    """Every clearance at each measured point of its outer part."""
    build = queries.name_of(request, "build")
    found = await view(request, lambda desk: build_wide.clearances(desk.build(build)))
    return json_answer({"clearances": found})


@router.get("/{build}/story", response_model=None)
async def tell_story(request: Request) -> Response:
    """What was worked on again, accepted, scrapped, moved and voided, in order."""
    build = queries.name_of(request, "build")
    await view(request, lambda desk: desk.build(build).id)
    entries = await asyncio.to_thread(service_of(request).pipeline.archive.entries_of_build, build)
    return json_answer({"story": story.story(build, entries)})
