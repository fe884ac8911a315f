"""Specs: recorded byte for byte, named by their hash."""

from __future__ import annotations

import asyncio

from fastapi import APIRouter, Request, Response

from api import queries
from api.answers import hand_in, json_answer, recorded, service_of, view
from api.problems import problem
from capture import view as views
from capture.command import AddSpec
from capture.errors import NotFound

router = APIRouter(prefix="/v1/specs", tags=["specs"])
KINDS = ("application/toml", "text/plain", "application/octet-stream", "")


@router.get("", response_model=None)
async def list_specs(request: Request) -> Response:
    """Every spec on record, oldest first."""
    return json_answer({"specs": await view(request, views.specs)})


@router.post("", response_model=None)
async def add_spec(request: Request) -> Response:
    """Records a spec. The body is the TOML file's bytes; ``file`` is what errors call it.

    The same bytes again are answered with the spec that is there.
    """
    query = queries.asked(request, queries.NewSpec)
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in KINDS:
        return problem(
            "media-type", 415, f"A spec is TOML, not {kind}.", mend="Send application/toml."
        )
    try:
        text = (await request.body()).decode("utf-8")
    except UnicodeDecodeError as error:
        where = {
            "file": query.file,
            "line": 0,
            "key": "",
            "message": f"Byte {error.start} is not UTF-8.",
        }
        where |= {"mend": "Save the file as UTF-8."}
        return problem("spec", 422, "The spec is not UTF-8 text.", errors=[where])
    # On a thread of its own: reading a large one takes seconds, and no press must wait for that.
    # What is recorded loads it again, from what has just been loaded.
    await asyncio.to_thread(_loaded, text, query.file)
    outcome = await hand_in(request, AddSpec(text, query.file), None)
    added = await view(request, lambda desk: views.spec(desk, outcome.body["hash"]))
    return recorded(outcome, added, f"/v1/specs/{added['id']}")


def _loaded(text: str, file: str) -> None:
    from capture.spec.load import load

    load(text.encode(), file)


@router.get("/{spec}", response_model=None)
async def get_spec(request: Request) -> Response:
    """A spec's bytes as they were recorded."""
    spec = queries.name_of(request, "spec")
    text = service_of(request).pipeline.archive.spec_text(spec)
    if text is None:
        raise NotFound(
            f"There is no spec {spec}.",
            mend="List the specs: GET /v1/specs, or /specs in a browser.",
        )
    # The address is the content's hash, so it can never change.
    headers = {"ETag": f'"{spec}"', "Cache-Control": "private, max-age=31536000, immutable"}
    return Response(text.encode(), 200, headers, "application/toml")
