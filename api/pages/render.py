"""Templates to HTML. Imported when a page is asked for: Jinja2 takes time to load."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

import orjson
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from api.service import Service
from api.state import bench_state

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


@functools.cache
def _templates() -> Environment:
    loader = FileSystemLoader(Path(__file__).parent / "templates")
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined)
    environment.filters["data"] = _data
    return environment


def _data(value: Any) -> Markup:
    """JSON for a data block: nothing in it can end the block or begin another."""
    text = orjson.dumps(value).decode()
    for sign in "<>&":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # the signs that HTML could take for markup are gone


def html(name: str, **values: Any) -> Response:
    """A page made from a template."""
    headers = {"Content-Security-Policy": POLICY, "Cache-Control": "no-store"}
    return HTMLResponse(_templates().get_template(name).render(values), headers=headers)


async def bench_html(service: Service) -> Response:
    """The bench page, with the state of now in it."""
    return html("bench.html", state=await bench_state(service))
