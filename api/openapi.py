"""The OpenAPI document: what FastAPI knows of the routes, with what they answer added.

Made when it is first asked for, so that its models cost nothing at start-up.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from api import bodies, queries
from api import documents as d
from api.calculations import CALCULATIONS
from api.calculations.forms import Input
from api.calculations.run import form_of
from api.example_answers import answer
from api.examples import BODIES, PARAMETERS
from api.problems import MEDIA_TYPE as PROBLEM

REF = "#/components/schemas/{model}"
TEXT = "text/plain"
UNCHANGED = "The caller holds this already (If-None-Match)."
BEYOND = (
    "`after` (or `Last-Event-ID`) is beyond the ledger's end: this is another store than before. "
    "Begin again with `after=0`."
)
ABOUT = """Readings of an engine build: captured, placed, checked, stored, provable.

Sizes are decimal text, digits as sent. `seq` is the ledger's sequence number. Lists are paged by
key: ask again with `after` set to `next`, and nothing is missed or comes twice. Every POST may
carry an `Idempotency-Key`: the same key again is answered with what the first one did.

It records measurements; it does not replace the engine maker's data, a licensed practitioner or
local rules."""


class Says(NamedTuple):
    """What one operation answers when all is well."""

    model: type[BaseModel] | None = None
    status: tuple[int, ...] = (200,)
    media: str = "application/json"
    tagged: bool = False
    also: tuple[str, ...] = ()
    """Other media types, where ``Accept`` or ``as`` asks for one."""


CALCULATION = "/v1/calculations/{calculation}"
"""Nothing is recorded there, and its body has one form for each calculation."""
FILES = ("application/jsonl", "application/vnd.apache.parquet", "application/xml")
RECORDED = Says(d.Recorded, (200, 201))
CHANGED = Says(d.Reading, (200, 201))
ANSWERS: dict[tuple[str, str], Says] = {
    ("get", "/v1/health"): Says(d.Health),
    ("get", "/v1/bench"): Says(d.BenchState),
    ("post", "/v1/operator"): RECORDED,
    ("get", "/v1/operators"): Says(d.Operators),
    ("post", "/v1/settings"): RECORDED,
    ("post", "/v1/zeros"): RECORDED,
    ("post", "/v1/temperatures"): RECORDED,
    ("post", "/v1/extensions"): RECORDED,
    ("get", "/v1/instruments"): Says(d.Instruments),
    ("get", "/v1/instruments/{instrument}"): Says(d.InstrumentState),
    ("post", "/v1/instruments/{instrument}/ask"): Says(d.Asked, (202,)),
    ("get", "/v1/instruments/{instrument}/life"): Says(d.InstrumentLife),
    ("get", "/v1/charts"): Says(d.Charts),
    ("get", "/v1/charts/{name}/{quantity}"): Says(d.ChartState),
    ("get", "/v1/builds"): Says(d.Builds),
    ("post", "/v1/builds"): Says(d.BuildState, (200, 201)),
    ("get", "/v1/builds/{build}"): Says(d.BuildState, tagged=True),
    ("get", "/v1/builds/{build}/steps"): Says(d.Steps, tagged=True),
    ("get", "/v1/builds/{build}/next"): Says(d.Next),
    ("get", "/v1/builds/{build}/fits/{derived}"): Says(d.FitProposal),
    ("post", "/v1/builds/{build}/fits/{derived}"): RECORDED,
    ("get", "/v1/builds/{build}/studies/{study}"): Says(d.StudyState),
    ("get", "/v1/builds/{build}/checks/{check}"): Says(d.CheckState),
    ("get", "/v1/builds/{build}/preloads"): Says(d.Preloads),
    ("get", "/v1/builds/{build}/findings"): Says(d.Findings),
    ("get", "/v1/builds/{build}/clearances"): Says(d.Clearances),
    ("get", "/v1/builds/{build}/story"): Says(d.Story),
    ("get", "/v1/builds/{build}/sheet"): Says(None, media="text/html", tagged=True),
    ("get", "/v1/builds/{build}/sheet.pdf"): Says(None, media="application/pdf", tagged=True),
    ("get", "/v1/builds/{build}/drawings"): Says(None, media="image/svg+xml", tagged=True),
    ("get", "/v1/readings"): Says(d.Readings, tagged=True),
    ("post", "/v1/readings"): CHANGED,
    ("get", "/v1/readings/{seq}"): Says(d.Reading, tagged=True),
    ("get", "/v1/readings/{seq}/budget"): Says(d.ReadingBudget),
    ("post", "/v1/pulls"): CHANGED,
    ("get", "/v1/traces/{digest}"): Says(d.TraceSamples, also=("text/csv", "image/svg+xml")),
    ("get", "/v1/exports/readings"): Says(None, media="text/csv", also=FILES),
    ("post", "/v1/readings/{seq}/placements"): CHANGED,
    ("post", "/v1/readings/{seq}/corrections"): CHANGED,
    ("post", "/v1/readings/{seq}/voids"): CHANGED,
    ("get", "/v1/calculations"): Says(d.Calculations),
    ("post", CALCULATION): Says(d.Calculated),
    ("get", "/v1/specs"): Says(d.Specs),
    ("post", "/v1/specs"): Says(d.SpecSummary, (200, 201)),
    ("get", "/v1/specs/{spec}"): Says(None, media="application/toml"),
    ("get", "/v1/entries"): Says(d.Entries),
    ("get", "/v1/entries/{seq}"): Says(d.Entry),
    ("get", "/v1/events"): Says(None, media="text/event-stream"),
    ("get", "/v1/ledger/checkpoint"): Says(None, media=TEXT),
    ("get", "/v1/ledger/key"): Says(None, media=TEXT),
    ("get", "/v1/ledger/proof/inclusion"): Says(d.Inclusion),
    ("get", "/v1/ledger/proof/consistency"): Says(d.Consistency),
    ("get", "/v1/ledger/bundle"): Says(None, media="application/zip"),
}
for _act in (
    "activate",
    "close",
    "choose",
    "confirmations",
    "assignments",
    "reworks",
    "concessions",
    "scraps",
    "sets",
):
    ANSWERS["post", f"/v1/builds/{{build}}/{_act}"] = RECORDED


TAKES: dict[str, type[bodies.Body]] = {
    "/v1/builds": bodies.NewBuild,
    "/v1/builds/{build}/activate": bodies.Empty,
    "/v1/builds/{build}/close": bodies.Reason,
    "/v1/builds/{build}/choose": bodies.Choice,
    "/v1/builds/{build}/confirmations": bodies.Confirmation,
    "/v1/builds/{build}/assignments": bodies.Assignment,
    "/v1/builds/{build}/reworks": bodies.PartReason,
    "/v1/builds/{build}/concessions": bodies.Concession,
    "/v1/builds/{build}/scraps": bodies.PartReason,
    "/v1/builds/{build}/sets": bodies.SetAgain,
    "/v1/builds/{build}/fits/{derived}": bodies.Fit,
    "/v1/operator": bodies.Operator,
    "/v1/settings": bodies.Setting,
    "/v1/zeros": bodies.ZeroDue,
    "/v1/temperatures": bodies.Temperature,
    "/v1/extensions": bodies.Extension,
    "/v1/pulls": bodies.Pull,
    "/v1/instruments/{instrument}/ask": bodies.Empty,
    "/v1/readings": bodies.TypedReading,
    "/v1/readings/{seq}/placements": bodies.Placement,
    "/v1/readings/{seq}/corrections": bodies.Correction,
    "/v1/readings/{seq}/voids": bodies.Reason,
}


ASKS: dict[tuple[str, str], type[queries.Query]] = {
    ("get", "/v1/readings"): queries.Readings,
    ("get", "/v1/entries"): queries.Paged,
    ("get", "/v1/traces/{digest}"): queries.Traces,
    ("get", "/v1/exports/readings"): queries.Exports,
    ("get", "/v1/charts/{name}/{quantity}"): queries.Charts,
    ("get", "/v1/builds/{build}/drawings"): queries.Drawing,
    ("get", "/v1/builds/{build}/sheet"): queries.SheetPage,
    ("get", "/v1/builds/{build}/sheet.pdf"): queries.SheetPdf,
    ("get", "/v1/events"): queries.Events,
    ("get", "/v1/ledger/proof/inclusion"): queries.Inclusion,
    ("get", "/v1/ledger/proof/consistency"): queries.Consistency,
    ("get", "/v1/ledger/bundle"): queries.Bundle,
    ("post", "/v1/specs"): queries.NewSpec,
}


Refs = Mapping[Any, Any]
"""Where the schema of each model stands: class → ``{"$ref": …}``."""


def describe(app: FastAPI) -> dict[str, Any]:
    """The whole document."""
    document = get_openapi(
        title=app.title, version=app.version, description=ABOUT, routes=app.routes
    )
    schemas = document.setdefault("components", {}).setdefault("schemas", {})
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    refs, definitions = _schemas()
    schemas.update(definitions)
    document["components"]["securitySchemes"] = {
        "token": {
            "type": "http",
            "scheme": "bearer",
            "description": "Only where the service was given a token (always off the loopback).",
        }
    }
    document["security"] = [{}, {"token": []}]
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            _complete(method, path, operation, refs)
    return document


def _schemas() -> tuple[Refs, dict[str, Any]]:
    answers = {says.model for says in ANSWERS.values() if says.model} | {d.Problem}
    taken = {*TAKES.values(), *_calculations().values()}
    inputs = [(model, "serialization") for model in sorted(answers, key=_full_name)]
    inputs += [(model, "validation") for model in sorted(taken, key=_full_name)]
    found, definitions = models_json_schema(inputs, ref_template=REF)  # type: ignore[arg-type] # wants literal modes
    return {model: ref for (model, _), ref in found.items()}, dict(definitions["$defs"])


def _full_name(model: type[BaseModel]) -> str:
    return f"{model.__module__}.{model.__name__}"


def _calculations() -> dict[str, type[Input]]:
    return {name: form_of(name) for name in CALCULATIONS}


def _complete(method: str, path: str, operation: dict[str, Any], refs: Refs) -> None:
    says = ANSWERS[method, path]
    operation["operationId"] = _name(method, path)
    answers: dict[str, Any] = {}
    for status in says.status:
        done = _CALCULATED if path == CALCULATION else _DONE[status]
        answers[str(status)] = {"description": done, "content": _content(says, path, refs)}
        if says.tagged:
            answers[str(status)]["headers"] = {"ETag": {"schema": {"type": "string"}}}
    if says.tagged:
        answers["304"] = {"description": UNCHANGED}
    wrong = {PROBLEM: {"schema": refs[d.Problem]}}
    if "after" in getattr(ASKS.get((method, path)), "model_fields", {}):
        answers["409"] = {"description": BEYOND, "content": wrong}
    answers["default"] = {"description": "An error.", "content": wrong}
    operation["responses"] = answers
    parameters = _in_path(path) + _in_query(ASKS.get((method, path)))
    operation["parameters"] = parameters
    if path == CALCULATION:
        operation["requestBody"] = _of_calculations(refs)
    elif method == "post":
        parameters.append(_header("Idempotency-Key", "A key of your own, such as a UUID.", 200))
        operation["requestBody"] = _body(path, refs)
    elif path == "/v1/events":
        parameters.append(_header("Last-Event-ID", "The last event's id; sent by browsers.", 18))


_DONE = {200: "It is there.", 201: "Recorded: it is on disk.", 202: "Asked."}
_CALCULATED = "The answer; nothing was recorded."


def _content(says: Says, path: str, refs: Refs) -> dict[str, Any]:
    if says.model is None:
        return {media: {"schema": {"type": "string"}} for media in (says.media, *says.also)}
    media: dict[str, Any] = {"schema": refs[says.model]}
    media["example"] = answer(says.model.__name__, _last(path))
    more = {other: {"schema": {"type": "string"}} for other in says.also}
    return {says.media: media, **more}


def _last(path: str) -> str:
    """The last word of an address that is not a name to be filled in."""
    return next(word for word in reversed(path.split("/")) if not word.startswith("{"))


def _in_path(path: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for name in re.findall(r"{(\w+)}", path):
        schema: dict[str, Any] = {"type": "string", "minLength": 1}
        if name == "seq":
            schema = {"type": "integer", "minimum": 1, "maximum": queries.LARGEST}
        elif name == "calculation":
            schema = {"type": "string", "enum": list(CALCULATIONS)}
        found.append({"name": name, "in": "path", "required": True, "schema": schema})
    return found


def _in_query(model: type[queries.Query] | None) -> list[dict[str, Any]]:
    if model is None:
        return []
    schema = model.model_json_schema()
    needed = schema.get("required", ())
    found: list[dict[str, Any]] = []
    for name, value in schema["properties"].items():
        value.pop("title", None)
        one = {"name": name, "in": "query", "required": name in needed, "schema": value}
        if name in PARAMETERS:
            one["example"] = PARAMETERS[name]
        found.append(one)
    return found


def _header(name: str, about: str, longest: int) -> dict[str, Any]:
    pattern = "^[0-9]+$" if name == "Last-Event-ID" else r"^[\x21-\x7e]+$"
    schema = {"type": "string", "minLength": 1, "maxLength": longest, "pattern": pattern}
    return {"name": name, "in": "header", "required": False, "description": about, "schema": schema}


def _body(path: str, refs: Refs) -> dict[str, Any]:
    if path == "/v1/specs":
        return {"required": True, "content": {"application/toml": {"schema": {"type": "string"}}}}
    model = TAKES[path]
    media: dict[str, Any] = {"schema": refs[model], "example": BODIES[_last(path)]}
    return {"required": model is not bodies.Empty, "content": {"application/json": media}}


def _of_calculations(refs: Refs) -> dict[str, Any]:
    """One form for each calculation, with an example of each."""
    forms = _calculations()
    media = {
        "schema": {"anyOf": [refs[form] for form in forms.values()]},
        "examples": {
            name: {"summary": CALCULATIONS[name].sentence, "value": form.example}
            for name, form in forms.items()
        },
    }
    return {"required": True, "content": {"application/json": media}}


def _name(method: str, path: str) -> str:
    words = [word for word in re.split(r"[^a-z]+", path.removeprefix("/v1/")) if word]
    return "_".join([method, *words])
