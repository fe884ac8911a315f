"""The life of an instrument: what the ledger says of it, from its first record on."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import json_answer
from api.instrument_life import life_of

router = APIRouter(prefix="/v1", tags=["bench"])


@router.get("/instruments/{instrument}/life", response_model=None)
async def instrument_life(request: Request) -> Response:
    """Calibrations, settings, zero checks, studies, gaps of an instrument: the newest of each."""
    return json_answer(await life_of(request, queries.name_of(request, "instrument")))
