"""Calculations that need no bench: a list of them, and each carried out on what is sent."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Request, Response

from api import bodies, queries
from api.answers import json_answer

router = APIRouter(prefix="/v1/calculations", tags=["calculations"])
AT_ONCE = 2
"""The others wait: calculating must not take every thread from those who read."""


@router.get("", response_model=None)
async def list_calculations(request: Request) -> Response:
    """Every calculation with a sentence, the JSON schema of its input, and an input that works."""
    from api.calculations.run import listed

    return json_answer({"calculations": await asyncio.to_thread(listed)})


@router.post("/{calculation}", response_model=None)
async def calculate(request: Request) -> Response:
    """Carries out one calculation. Nothing is recorded, and the bench plays no part in it."""
    from api.calculations.run import carried_out, form_of

    name = queries.name_of(request, "calculation")
    form = await asyncio.to_thread(form_of, name)
    body = await bodies.json_of(request)
    async with _turn(request):
        given = await asyncio.to_thread(bodies.checked, form, body)
        return json_answer(await asyncio.to_thread(carried_out, name, given))


def _turn(request: Request) -> asyncio.Semaphore:
    state = request.app.state
    if not hasattr(state, "calculating"):
        state.calculating = asyncio.Semaphore(AT_ONCE)
    turn = state.calculating
    assert isinstance(turn, asyncio.Semaphore)
    return turn
