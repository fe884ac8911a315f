"""Specs as the bench will walk them, and what is wrong with one that is being written.

Nothing is stored by trying. A form carries a tried spec on as base64 of its bytes, so that what is
recorded is byte for byte what was tried; a build is opened at most once by one form.
"""

from __future__ import annotations

import asyncio
import base64
import binascii
import uuid
from datetime import UTC, datetime
from typing import Any, Final
from urllib.parse import quote

import orjson
from fastapi import APIRouter, Request, Response
from starlette.responses import RedirectResponse

from api import queries
from api.answers import hand_in, service_of, view, wait
from api.posted import Field, posted
from capture import view as views
from capture.command import AddSpec, OpenBuild
from capture.errors import NotFound, RequestError

router = APIRouter(prefix="/specs", include_in_schema=False)
SHOWN: Final = 100
"""Specs in the list."""
LONGEST_TITLE: Final = 200


@router.get("")
async def specs_page(request: Request) -> Response:
    """The specs on record, and the form to try one. ``?from=starter`` or a spec's id fills it."""
    given = request.query_params.get("from", "")
    text, file = await _from(request, given) if given else ("", "")
    found, builds = await view(request, lambda desk: (views.specs(desk), views.builds(desk)))
    newest = found[::-1]
    rows = [{**one, "builds": _on(builds, one["id"])} for one in newest[:SHOWN]]
    return _html(
        request, "specs.html", specs=rows, older=len(newest) - len(rows), text=text, file=file
    )


@router.post("/try")
async def try_spec(request: Request) -> Response:
    """What is to be said about a spec; it is not stored."""
    fields = await posted(request)
    chosen = fields.get("file", Field(b""))
    typed = fields.get("text", Field(b""))
    data = chosen.data or typed.text.encode()
    if not data.strip():
        return RedirectResponse("/specs", 303)
    name = (chosen.file if chosen.data else "").strip()[-120:] or "spec.toml"
    found = await _look(request, data, name)
    known = found.spec and await _known(request, found.spec.hash)
    before = None if known or not found.spec else await _before(request, found.spec.id, None)
    return _html(
        request,
        "spec_tried.html",
        look=found,
        before=before,
        changes=await _changes(request, before, found.text),
        text=data.decode("utf-8", "replace"),
        kept=base64.b64encode(data).decode(),
        known=known,
        status=200 if found.spec else 422,
    )


@router.get("/try")
@router.get("/record")
async def try_again(request: Request) -> Response:
    """Where a form was posted to, asked for by its address: as in another language."""
    return RedirectResponse(f"/specs?{request.url.query}", 303)


@router.post("/record")
async def record_spec(request: Request) -> Response:
    """Stores a spec that was tried, and shows it."""
    fields = await posted(request)
    try:
        text = base64.b64decode(fields["kept"].data, validate=True).decode()
    except (KeyError, ValueError, binascii.Error):
        mend = "Try the spec again, and record it from there."
        raise RequestError("The form does not carry a spec.", mend=mend) from None
    file = fields.get("file", Field(b"")).text or "spec.toml"
    # on a thread: what is recorded loads it again, from what has just been loaded
    await _look(request, text.encode(), file)
    outcome = await hand_in(request, AddSpec(text, file), None)
    return RedirectResponse(f"/specs/{outcome.body['hash']}?recorded", 303)


@router.get("/starter.toml")
async def starter_file(_: Request) -> Response:
    """The spec to start from, as a file."""
    from api.starter import starter

    headers = {"Content-Disposition": 'attachment; filename="engine.toml"'}
    return Response(starter(), 200, headers, "application/toml")


@router.get("/schema.json")
async def schema_file(_: Request) -> Response:
    """The JSON Schema of the spec format, for editors."""
    from capture.spec.schema import schema

    body = orjson.dumps(schema(), option=orjson.OPT_INDENT_2)
    return Response(body, 200, None, "application/schema+json")


@router.get("/{digest}")
async def spec_page(request: Request) -> Response:
    """A spec on record."""
    return await _spec_html(request, queries.name_of(request, "digest"))


@router.post("/{digest}/builds")
async def open_build(request: Request) -> Response:
    """Opens a build on the spec, and makes it the active one."""
    digest = queries.name_of(request, "digest")
    fields = await posted(request)
    title = fields.get("title", Field(b"")).text.strip()
    if not title or len(title) > LONGEST_TITLE or not title.isprintable():
        return await _spec_html(request, digest, wrong=title or " ", status=422)
    key = fields.get("key", Field(b"")).text or None
    submitted = service_of(request).pipeline.submit(
        OpenBuild(digest, title), operator=None, key=key and key[:64]
    )
    outcome = await wait(submitted)
    return RedirectResponse(f"/specs/{digest}?opened={outcome.seq}", 303)


@router.get("/{digest}/builds")
async def builds_again(request: Request) -> Response:
    """As ``try_again``."""
    digest = queries.name_of(request, "digest")
    return RedirectResponse(f"/specs/{quote(digest)}?{request.url.query}", 303)


async def _spec_html(
    request: Request, digest: str, *, wrong: str = "", status: int = 200
) -> Response:
    """``wrong`` is a title that no build can have."""
    known = await _known(request, digest)
    text = service_of(request).pipeline.archive.spec_text(digest)
    if known is None or text is None:
        raise _no_spec(digest)
    builds = _on(await view(request, views.builds), digest)
    before = await _before(request, known["name"], known["seq"])
    opened = request.query_params.get("opened", "")
    return _html(
        request,
        "spec.html",
        summary=known,
        look=await _look(request, text.encode(), f"{known['name']}.toml"),
        before=before,
        changes=await _changes(request, before, text),
        builds=builds,
        opened=next((one for one in builds if str(one["seq"]) == opened), None),
        recorded="recorded" in request.query_params,
        key=uuid.uuid4().hex,
        wrong=wrong,
        status=status,
    )


def _html(request: Request, name: str, **values: Any) -> Response:
    from api.labels.choose import labels_for
    from api.pages.render import html
    from api.pictures.drawing import draw_step
    from api.spec_look import numbers_text, spans_text

    chosen = labels_for(request)

    def drawn(spec: Any, stretch: Any) -> str:
        return draw_step(spec, stretch.steps[0].step, labels=chosen) if stretch.steps else ""

    values |= {"drawn": drawn, "numbers": numbers_text, "spans": spans_text}
    return html(request, name, "specs", **values)


async def _look(request: Request, data: bytes, file: str) -> Any:
    from api.spec_look import look

    bench = service_of(request).bench.instruments
    day = datetime.now(UTC).date().isoformat()
    return await asyncio.to_thread(look, data, file, bench, day)


async def _known(request: Request, digest: str) -> dict[str, Any] | None:
    """What is on record of a spec; None where nothing is."""

    def found(desk: Any) -> dict[str, Any] | None:
        return views.spec(desk, digest) if digest in desk.specs else None

    return await view(request, found)


async def _before(request: Request, name: str, seq: int | None) -> dict[str, Any] | None:
    """The spec of this name that was recorded last, before the entry ``seq`` where it is given."""
    known = await view(request, views.specs)
    same = [one for one in known if one["name"] == name and (seq is None or one["seq"] < seq)]
    return same[-1] if same else None


async def _changes(request: Request, before: dict[str, Any] | None, text: str) -> Any:
    """What the text says otherwise than the spec before it; None where there is none."""
    from api.spec_changes import changes

    if before is None:
        return None
    older = service_of(request).pipeline.archive.spec_text(before["id"])
    return await asyncio.to_thread(changes, older or "", text)


async def _from(request: Request, given: str) -> tuple[str, str]:
    """Text and name of the spec that the form begins with. Raises NotFound."""
    from api.starter import starter

    if given == "starter":
        return starter().decode(), "engine.toml"
    known = await _known(request, given)
    text = service_of(request).pipeline.archive.spec_text(given)
    if known is None or text is None:
        raise _no_spec(given)
    return text, f"{known['name']}.toml"


def _no_spec(digest: str) -> NotFound:
    return NotFound(f"There is no spec {digest[:80]}.", mend="The page of all specs lists them.")


def _on(builds: list[dict[str, Any]], digest: str) -> list[dict[str, Any]]:
    """The builds on one spec, the newest first."""
    return [one for one in reversed(builds) if one["spec"] == digest]
