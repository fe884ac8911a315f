"""An error as a page: the same words that a program gets, for whoever mistyped an address."""

from __future__ import annotations

import orjson
from starlette.requests import Request
from starlette.responses import Response

from api.pages.render import html


def problem_html(request: Request, answer: Response) -> Response:
    """The page that says what a problem document says."""
    body = orjson.loads(bytes(answer.body))
    code = body["type"].rpartition("/")[2]
    return html(request, "problem.html", code=code, problem=body, status=answer.status_code)
