"""Control charts of what was measured over builds."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import json_answer
from api.charted import chart, listed

router = APIRouter(prefix="/v1/charts", tags=["charts"])


@router.get("", response_model=None)
async def list_charts(request: Request) -> Response:
    """What was measured in more than one build on specs of the same name."""
    return json_answer(await listed(request))


@router.get("/{name}/{quantity}", response_model=None)
async def get_chart(request: Request) -> Response:
    """The control chart of a characteristic, a derived quantity or a turning test."""
    asked = queries.asked(request, queries.Charts)
    name, quantity = queries.name_of(request, "name"), queries.name_of(request, "quantity")
    return json_answer(await chart(request, name, quantity, asked.form))
