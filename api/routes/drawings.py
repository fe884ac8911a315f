"""Drawings of the parts of a build, with the point of a step lit."""

from __future__ import annotations

import asyncio
import base64
import hashlib
from typing import TYPE_CHECKING, NamedTuple

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import tagged, unchanged, view
from api.labels.choose import labels_for
from capture.errors import NotFound

if TYPE_CHECKING:
    from capture.desk import Desk
    from capture.spec.model import Spec
    from capture.step import Step

router = APIRouter(prefix="/v1/builds", tags=["builds"])
MEDIA_TYPE = "image/svg+xml"
NEAR = 500
"""Steps before and after one that are looked at for what is done on the same part."""


class Wanted(NamedTuple):
    """A step to be drawn."""

    spec: Spec
    step: Step
    done: frozenset[str]


@router.get("/{build}/drawings", response_model=None)
async def get_drawing(request: Request) -> Response:
    """The drawing of a step's part as SVG: the point that is wanted lit, what is done marked, and
    which of its sisters it is. Drawn from the spec's geometry, in the ink of the page it stands in
    where `inline` says so, else as a file of its own.
    """
    build = queries.name_of(request, "build")
    asked = queries.asked(request, queries.Drawing)
    wanted = await view(request, lambda desk: _wanted(desk, build, asked.step))
    labels = labels_for(request)
    drawn = await asyncio.to_thread(_draw, wanted, labels.language, asked.inline)
    etag = f'"{hashlib.sha256(drawn).hexdigest()[:32]}"'
    same = unchanged(request, etag)
    headers = {
        **tagged(etag),
        "Vary": "Accept-Language, Cookie",
        # A picture opened by itself is a document: it may load and run nothing.
        "Content-Security-Policy": _policy(),
    }
    return same or Response(drawn, media_type=MEDIA_TYPE, headers=headers)


def _wanted(desk: Desk, build: str, step_id: str) -> Wanted:
    """Raises NotFound."""
    found = desk.build(build)
    at = found.index.get(step_id)
    if at is None:
        raise NotFound(
            f"Build {build} has no step {step_id}.",
            mend=f"Take the id of one from GET /v1/builds/{build}/steps.",
        )
    step = found.steps[at]
    work = found.works[step.operation]
    near = range(max(work.start, at - NEAR), min(work.stop, at + NEAR))
    done = frozenset(found.steps[n].id for n in near if found.fills[n] is not None)
    return Wanted(found.spec, step, done)


def _draw(wanted: Wanted, language: str, inline: bool) -> bytes:
    # Nothing of this is needed before the first drawing.
    from api.labels.catalogue import labels
    from api.pictures.drawing import draw_step

    drawn = draw_step(
        wanted.spec, wanted.step, labels=labels(language), done=wanted.done, standalone=not inline
    )
    return drawn.encode()


def _policy() -> str:
    from api.pictures.svg import LOOK

    look = base64.b64encode(hashlib.sha256(LOOK.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{look}'; frame-ancestors 'self'"
