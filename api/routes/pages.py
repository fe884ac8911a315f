"""The pages a person sees, and the files they are made of. Nothing comes from elsewhere."""

from __future__ import annotations

import functools
import hashlib
from pathlib import Path

from fastapi import APIRouter, Request, Response

from api.answers import tagged, unchanged
from api.problems import TITLES
from api.queries import name_of
from capture.errors import NotFound

router = APIRouter(include_in_schema=False)
FILES = Path(__file__).parent.parent / "pages" / "static"
KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}


@router.get("/")
async def bench_page(request: Request) -> Response:
    """The bench page."""
    from api.pages.render import bench_html

    return await bench_html(request)


@router.get("/static/{name}")
async def static_file(request: Request) -> Response:
    """A script, style sheet or drawing of a page."""
    name = name_of(request, "name")
    found = _file(name) if name.isascii() else None
    if found is None:
        raise NotFound(f"There is no file {name}.")
    etag, body = found
    headers = tagged(etag)
    return unchanged(request, etag) or Response(body, 200, headers, KINDS[Path(name).suffix])


@router.get("/problems/{code}")
async def problem_page(request: Request) -> Response:
    """What a problem's ``type`` refers to."""
    code = name_of(request, "code")
    if code not in TITLES:
        raise NotFound(f"There is no problem called {code}.")
    return Response(f"{code}: {TITLES[code]}\n", media_type="text/plain; charset=utf-8")


@functools.cache
def _names() -> frozenset[str]:
    return frozenset(path.name for path in FILES.iterdir() if path.suffix in KINDS)


@functools.lru_cache(maxsize=256)
def _file(name: str) -> tuple[str, bytes] | None:
    """A file's ETag and bytes. Only names that are there: a path in a name finds nothing."""
    if name not in _names():
        return None
    body = (FILES / name).read_bytes()
    return f'"{hashlib.sha256(body).hexdigest()[:32]}"', body
