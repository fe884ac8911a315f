"""The one error shape, and which of our errors becomes which."""

from __future__ import annotations

import inspect
import re

import httpx
import orjson
import pytest
from fastapi import FastAPI
from starlette.responses import Response

from api import problems
from capture import errors
from capture.errors import CaptureError, Problem


def body(answer: Response) -> dict[str, object]:
    found: dict[str, object] = orjson.loads(answer.body)
    return found


MADE: list[tuple[CaptureError, int, str]] = [
    (errors.NotFound("No such build.", mend="See the list."), 404, "not-found"),
    (errors.Conflict("Closed."), 409, "conflict"),
    (errors.RequestError("No reason."), 422, "request"),
    (errors.UnitError("No unit parsec."), 422, "unit"),
    (errors.SpecError([Problem("a.toml", 3, "unit", "Unknown.", "Use mm.")]), 422, "spec"),
    (errors.NotStored("Disk full."), 503, "not-stored"),
    (errors.OutcomeUnknown("Sync failed."), 503, "outcome-unknown"),
    (errors.StoreDamaged("Tail missing."), 500, "store"),
    (errors.PortGone("Unplugged."), 503, "device"),
    (errors.WireError("noise", "A secret of the inside."), 500, "unexpected"),
]


@pytest.mark.parametrize(("error", "status", "code"), MADE)
def test_status_and_type(error: CaptureError, status: int, code: str) -> None:
    answer = problems.of_capture_error(error)
    found = body(answer)
    assert (answer.status_code, found["status"]) == (status, status)
    assert found["type"] == f"/problems/{code}"
    assert found["title"] == problems.TITLES[code]
    assert answer.media_type == "application/problem+json"


def test_what_is_said_to_be_worth_trying_again_says_when() -> None:
    answer = problems.of_capture_error(errors.NotStored("Disk full."))
    assert answer.headers["retry-after"] == "1"
    assert "Idempotency-Key" in str(body(answer)["mend"])


def test_an_unexpected_error_says_nothing_about_itself() -> None:
    answer = problems.of_capture_error(errors.WireError("noise", "A secret of the inside."))
    assert b"secret" not in answer.body


def test_every_problem_of_a_file_is_listed() -> None:
    wrong = [Problem("a.toml", n, "unit", "Unknown.", "Use mm.") for n in (3, 9)]
    found = body(problems.of_capture_error(errors.SpecError(wrong)))
    assert found["detail"] == "2 errors were found; see errors."
    assert found["errors"] == [
        {"file": "a.toml", "line": n, "key": "unit", "message": "Unknown.", "mend": "Use mm."}
        for n in (3, 9)
    ]


def test_every_error_that_a_request_can_meet_is_mapped() -> None:
    """A new family must be given its place here, or it would answer 500."""
    families = {
        found
        for _, found in inspect.getmembers(errors, inspect.isclass)
        if issubclass(found, CaptureError)
    }
    mapped = tuple(family for family, _, _ in problems._OF_ERROR)
    left = {found.__name__ for found in families if not issubclass(found, mapped)}
    assert left == {"CaptureError", "WireError", "FramingError", "DecodingError"}


def test_every_form_a_body_asks_for_is_explained() -> None:
    """A new pattern must be given its words, or a person would read the pattern itself."""
    from pydantic.json_schema import models_json_schema

    from api import bodies, forms

    models = [
        (found, "validation")
        for _, found in inspect.getmembers(bodies, inspect.isclass)
        if issubclass(found, bodies.Body)
    ]
    _, schemas = models_json_schema(models)  # type: ignore[arg-type] # wants literal modes
    asked = set(re.findall(r'"pattern":"(.*?[^\\\\])"', orjson.dumps(schemas).decode()))
    assert {orjson.loads(f'"{one}"') for one in asked} == set(forms._OF_FORM)


async def test_an_error_nobody_expected_is_answered_in_the_same_shape() -> None:
    app = FastAPI()
    problems.install(app)

    @app.get("/broken")
    async def broken() -> None:
        raise RuntimeError("A secret of the inside.")

    transport = httpx.ASGITransport(app, raise_app_exceptions=False)
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as http:
        answer = await http.get("/broken")
    assert answer.status_code == 500
    assert answer.json()["type"] == "/problems/unexpected"
    assert "secret" not in answer.text
