"""The bench itself: is it ready, who is at it, its instruments, and all a page shows of it."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from api import VERSION, bodies, queries
from api.answers import json_answer, record, service_of, view
from api.badges import operator_bodies
from api.service import Service
from api.state import bench_state, device_body
from capture import view as views
from capture.command import SetOperator
from capture.errors import NotFound

router = APIRouter(prefix="/v1", tags=["bench"])


@router.get("/health", response_model=None)
async def health(request: Request) -> Response:
    """Answers when the service is ready, and says whether readings are being stored."""
    service = service_of(request)
    pipeline = service.pipeline
    condition = pipeline.condition()
    body = {
        "status": "ready" if condition.state == "storing" else condition.state,
        "bench": pipeline.bench,
        "title": service.bench.title,
        "boot": pipeline.boot,
        "size": pipeline.size,
        "version": VERSION,
        "simulated": service.simulated,
        "condition": condition._asdict(),
    }
    return json_answer(body, headers={"Cache-Control": "no-store"})


@router.get("/bench", response_model=None)
async def bench(request: Request) -> Response:
    """Everything a bench page shows, of one moment."""
    return json_answer(await bench_state(service_of(request)))


@router.post("/operator", response_model=None)
async def set_operator(request: Request) -> Response:
    """Who is at the bench from now on: goes into every entry that names nobody else."""
    body = await bodies.read(request, bodies.Operator)
    name = body.name(service_of(request).bench.operators)
    return await record(request, SetOperator(name), name)


@router.get("/operators", response_model=None)
async def list_operators(request: Request) -> Response:
    """Who is at the bench, who works at it by bench.toml, and what its badge readers are doing."""
    service = service_of(request)
    body = {
        "operator": await view(request, lambda desk: desk.operator),
        "operators": operator_bodies(service.bench.operators),
        "badge_readers": [] if service.badges is None else service.badges.states(),
    }
    return json_answer(body, headers={"Cache-Control": "no-store"})


@router.post("/settings", response_model=None)
async def set_gauge(request: Request) -> Response:
    """A comparative gauge was set on this standard: its deviations refer to it from now on."""
    body = await bodies.read(request, bodies.Setting)
    return await record(request, body.command(), body.operator)


@router.post("/zeros", response_model=None)
async def expect_zero(request: Request) -> Response:
    """The next press of a comparative gauge is its zero check: it lies on its standard."""
    body = await bodies.read(request, bodies.ZeroDue)
    return await record(request, body.command(), body.operator)


@router.post("/temperatures", response_model=None)
async def record_temperature(request: Request) -> Response:
    """How warm an instrument's scale is, or what it was set on."""
    body = await bodies.read(request, bodies.Temperature)
    return await record(request, body.command(), body.operator)


@router.post("/extensions", response_model=None)
async def fit_extension(request: Request) -> Response:
    """An offset extension is on a torque tool; length 0 says that none is."""
    body = await bodies.read(request, bodies.Extension)
    return await record(request, body.command(), body.operator)


@router.get("/instruments", response_model=None)
async def list_instruments(request: Request) -> Response:
    """The instruments of this bench, with what their connections are doing."""
    return json_answer({"instruments": await _instruments(request)})


@router.get("/instruments/{instrument}", response_model=None)
async def get_instrument(request: Request) -> Response:
    """One instrument."""
    instrument = queries.name_of(request, "instrument")
    for body in await _instruments(request):
        if body["id"] == instrument:
            return json_answer(body)
    raise _unknown(service_of(request), instrument)


@router.post("/instruments/{instrument}/ask", response_model=None)
async def ask_instrument(request: Request) -> Response:
    """Asks an instrument that answers requests; its reading then arrives like any other."""
    instrument = queries.name_of(request, "instrument")
    await bodies.read(request, bodies.Empty)
    service = service_of(request)
    if all(one.id != instrument for one in service.bench.instruments):
        raise _unknown(service, instrument)
    await service.devices.ask(instrument)
    return json_answer({"instrument": instrument, "asked": True}, 202)


async def _instruments(request: Request) -> list[dict[str, Any]]:
    service = service_of(request)
    states = {state.instrument: device_body(state) for state in service.pipeline.devices()}
    known = await view(request, views.instruments)
    return [_with_device(one, states.get(one["id"])) for one in known]


def _with_device(one: views.Data, device: views.Data | None) -> views.Data:
    return {**one, "state": None if device is None else device["state"], "device": device}


def _unknown(service: Service, instrument: str) -> NotFound:
    names = ", ".join(one.id for one in service.bench.instruments)
    return NotFound(f"There is no instrument {instrument}.", mend=f"This bench has: {names}.")
