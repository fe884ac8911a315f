"""The one JSON error shape (RFC 9457), and which of our errors becomes which.

``{"type", "title", "status", "detail", "mend"?, "errors"?: [{"key", "message", "mend", "file"?,
"line"?}]}`` with media type ``application/problem+json``. ``type`` is a relative reference that
this service answers (``/problems/not-found``). An error nobody expected says nothing about itself;
its traceback goes to the log.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from http import HTTPStatus
from typing import Any

import orjson
from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from api.forms import explain
from capture.errors import (
    CaptureError,
    Conflict,
    FileError,
    NotFound,
    NotStored,
    OutcomeUnknown,
    RequestError,
    StoreError,
    TransportError,
    UnitError,
)

MEDIA_TYPE = "application/problem+json"
TITLES: dict[str, str] = {
    "invalid": "The request is not of the form this address takes",
    "spec": "The spec has errors",
    "not-found": "There is no such thing",
    "conflict": "This contradicts what is already there",
    "request": "This cannot be carried out as it stands",
    "unit": "The unit is unknown or does not fit",
    "not-stored": "Nothing was stored",
    "outcome-unknown": "It may or may not have been stored",
    "store": "The store failed",
    "device": "The instrument could not be reached",
    "forbidden": "Not from there",
    "unauthorized": "An access token is needed",
    "too-large": "The request is too large",
    "media-type": "The body is of another kind than this address takes",
    "method": "This address does not take that method",
    "http": "The request failed",
    "unexpected": "Something unexpected went wrong here",
}
_OF_ERROR: tuple[tuple[type[CaptureError], str, int], ...] = (
    (NotFound, "not-found", 404),
    (Conflict, "conflict", 409),
    (RequestError, "request", 422),
    (UnitError, "unit", 422),
    (FileError, "spec", 422),
    (NotStored, "not-stored", 503),
    (OutcomeUnknown, "outcome-unknown", 503),
    (StoreError, "store", 500),
    (TransportError, "device", 503),
)
_OF_STATUS = {404: "not-found", 405: "method", 413: "too-large", 415: "media-type", 422: "invalid"}
PLACES = ("/", "/builds", "/history", "/entries", "/instruments", "/charts", "/specs")
_MENDS = {
    "not-stored": "See the bench page for why; send it again, with the same Idempotency-Key.",
    "outcome-unknown": "Send it again with the same Idempotency-Key: it is stored once at most.",
}
log = logging.getLogger("witnessmark.api")


def problem(
    code: str, status: int, detail: str, *, mend: str = "", errors: Sequence[dict[str, Any]] = ()
) -> Response:
    """An error answer."""
    body: dict[str, Any] = {
        "type": f"/problems/{code}",
        "title": TITLES[code],
        "status": status,
        "detail": detail,
    }
    if mend:
        body["mend"] = mend
    if errors:
        body["errors"] = list(errors)
    return Response(orjson.dumps(body), status, media_type=MEDIA_TYPE)


def of_capture_error(error: CaptureError) -> Response:
    """The answer for one of our own errors; one of no known family is unexpected."""
    code, status = next(
        ((code, status) for family, code, status in _OF_ERROR if isinstance(error, family)),
        ("unexpected", 500),
    )
    if code == "unexpected":
        log.error("unexpected error", exc_info=error)
        return problem(code, status, "The log of this service has the details.")
    if isinstance(error, FileError):
        count = len(error.problems)
        detail = f"{count} {'error was' if count == 1 else 'errors were'} found; see errors."
        return problem(code, status, detail, errors=_of_file(error))
    mend = getattr(error, "mend", "") or _MENDS.get(code, "")
    answer = problem(code, status, str(error) or TITLES[code], mend=mend)
    if status == 503:
        answer.headers["Retry-After"] = "1"
    return answer


def _of_file(error: FileError) -> list[dict[str, Any]]:
    return [
        {"file": p.file, "line": p.line, "key": p.key, "message": p.message, "mend": p.mend}
        for p in error.problems
    ]


def of_validation(errors: Iterable[dict[str, Any]]) -> Response:
    """The answer for a request of the wrong form: every field that is wrong, by its path."""
    found = []
    for error in errors:
        message, mend = explain(error)
        key = ".".join(str(step) for step in error["loc"])
        found.append({"key": key, "message": message, "mend": mend})
    where = ", ".join(item["key"] for item in found)
    return problem("invalid", 422, f"Wrong or missing: {where}.", errors=found)


def _for(request: Request, answer: Response) -> Response:
    """The answer as a page, where a person asked for a page."""
    if request.url.path.startswith("/v1/") or "text/html" not in request.headers.get("accept", ""):
        return answer
    from api.pages.problem import problem_html

    return problem_html(request, answer)


def install(app: FastAPI) -> None:
    """Makes every error of ``app`` answer in the one shape."""

    async def captured(request: Request, error: Exception) -> Response:
        assert isinstance(error, CaptureError)
        return _for(request, of_capture_error(error))

    async def invalid(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        return _for(request, of_validation(error.errors()))

    async def http(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        code = _OF_STATUS.get(error.status_code, "http")
        detail = error.detail or HTTPStatus(error.status_code).phrase
        mend = ""
        if error.status_code == 404:
            detail = f"There is no page and no address {request.url.path[:200]}."
            mend = f"The pages are {', '.join(PLACES)}. What programs can ask: /openapi.json."
        answer = problem(code, error.status_code, str(detail), mend=mend)
        answer.headers.update(error.headers or {})
        return _for(request, answer)

    async def unexpected(request: Request, error: Exception) -> Response:
        # It is raised again after this answer, and the web server logs it.
        answer = problem("unexpected", 500, "The log of this service has the details.")
        return _for(request, answer)

    app.add_exception_handler(CaptureError, captured)
    app.add_exception_handler(RequestValidationError, invalid)
    app.add_exception_handler(HTTPException, http)
    app.add_exception_handler(Exception, unexpected)
