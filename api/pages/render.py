"""Templates to HTML. Imported when a page is asked for: Jinja2 takes time to load."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import orjson
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from api.answers import service_of
from api.labels.catalogue import labels, languages
from api.labels.choose import labels_for, remember
from api.pages.modules import modules
from api.state import bench_state

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
PAGES = (
    ("bench", "/"),
    ("builds", "/builds"),
    ("history", "/history"),
    ("instruments", "/instruments"),
    ("charts", "/charts"),
    ("specs", "/specs"),
)
"""The pages that every page leads to."""


@functools.cache
def _templates() -> Environment:
    loader = FileSystemLoader(Path(__file__).parent / "templates")
    environment = Environment(
        loader=loader,
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["data"] = _data
    return environment


def _data(value: Any) -> Markup:
    """JSON for a data block: nothing in it can end the block or begin another."""
    text = orjson.dumps(value).decode()
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # the signs that HTML could take for markup are gone


def html(
    request: Request,
    name: str,
    here: str = "",
    *,
    spoken: Iterable[str] = ("common",),
    status: int = 200,
    **values: Any,
) -> Response:
    """A page made from a template, in the language of whoever asks.

    ``here`` is the page's name in ``PAGES``, ``spoken`` the label files that its script needs. The
    template has ``t`` and ``named`` (see ``Labels``) beside ``values``.
    """
    chosen = labels_for(request)
    text = (
        _templates()
        .get_template(name)
        .render(
            language=chosen.language,
            languages=[labels(one) for one in languages()],
            labels=chosen.some(spoken),
            t=chosen.text,
            named=chosen.named,
            pages=PAGES,
            here=here,
            in_language=lambda other: urlencode(_other_than_language(request, other)),
            simulated=service_of(request).simulated,
            **values,
        )
    )
    headers = {"Content-Security-Policy": POLICY, "Cache-Control": "no-store"}
    response = HTMLResponse(text, status, headers)
    remember(request, response)
    return response


def _other_than_language(request: Request, language: str) -> list[tuple[str, str]]:
    """The page's own query in another language: a filter chosen stays chosen."""
    kept = [(key, value) for key, value in request.query_params.multi_items() if key != "language"]
    return [*kept, ("language", language)]


async def bench_html(request: Request) -> Response:
    """The bench page, with the state of now in it."""
    state = await bench_state(service_of(request))
    return html(
        request,
        "bench.html",
        "bench",
        spoken=("common", "bench", "hands"),
        state=state,
        modules=modules("bench.js"),
    )
