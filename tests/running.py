"""A real service on the loopback for tests: real pipeline, real store, instruments typed in.

Everything in it is invented.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import httpx

from api.server import Listening, serve
from api.settings import Settings

TOKEN = "an-invented-token-for-tests"

BENCH = """
title = "Bench for tests"

[[instrument]]
id = "mic-1"
kind = "micrometer"
port = "typed"
unit = "mm"
resolution = "0.001"
simulated = true
calibration = { certificate = "invented", due = "2099-12-31", \
expanded_uncertainty = "0.002", coverage_factor = "2" }

[[instrument]]
id = "bore-1"
kind = "bore-gauge"
port = "typed"
unit = "mm"
resolution = "0.001"
range = ["-1.000", "1.000"]
comparative = true
simulated = true
"""

SPEC = """
format = 1
id = "small-pump"
title = "Invented pump for tests"
revision = "1"
invented = true
notice = "Invented: no real pump has these sizes."
cautions = ["Drain the pump before it is opened."]

[[part]]
id = "sleeve"
title = "Sleeve"
count = 2

[[characteristic]]
id = "diameter"
title = "Sleeve diameter"
part = "sleeve"
unit = "mm"
nominal_size = "25.000"
lower_limit_of_size = "24.990"
upper_limit_of_size = "25.010"
depths = ["top", "bottom"]
instruments = ["micrometer"]
cautions = ["Support the sleeve: it rolls."]

[[confirmation]]
id = "faces-clean"
title = "Faces clean"
text = "Both faces wiped and free of nicks."
cautions = ["Solvent: gloves, fresh air, no flame."]

[[operation]]
measure = "diameter"

[[operation]]
confirm = "faces-clean"
after = ["measure-diameter"]
"""


@asynccontextmanager
async def service(
    folder: Path, *, token: str | None = None, host: str = "127.0.0.1", ping_seconds: float = 10.0
) -> AsyncIterator[Listening]:
    """A service on a free port with its store in ``folder``; stopped in order at the end."""
    bench = folder / "bench.toml"
    if not bench.exists():
        bench.write_text(BENCH, "utf-8")
    settings = Settings(bench, folder / "store", host, 0, token, ping_seconds)
    up: asyncio.Future[Listening] = asyncio.get_running_loop().create_future()
    task = asyncio.create_task(serve(settings, ready=up.set_result))
    waiting: set[asyncio.Future[Any]] = {task, up}
    await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
    if not up.done():
        await task  # raises what kept it from starting
    listening = up.result()
    try:
        yield listening
    finally:
        listening.stop()
        await task


@asynccontextmanager
async def client(
    listening: Listening, token: str | None = None
) -> AsyncIterator[httpx.AsyncClient]:
    """An HTTP client of it."""
    headers = {} if token is None else {"Authorization": f"Bearer {token}"}
    async with httpx.AsyncClient(base_url=listening.url, headers=headers, timeout=20) as made:
        yield made


async def opened_build(http: httpx.AsyncClient, spec: str = SPEC) -> str:
    """Posts the spec and opens a build on it; gives the build's id."""
    headers = {"Content-Type": "application/toml"}
    answer = await http.post("/v1/specs", content=spec.encode(), headers=headers)
    assert answer.status_code in (200, 201), answer.text
    body = {"spec": answer.json()["id"], "title": "Pump on stand 1"}
    answer = await http.post("/v1/builds", json=body)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


async def typed(http: httpx.AsyncClient, value: str, instrument: str = "mic-1") -> dict[str, Any]:
    """Types in a reading in mm; gives it as stored."""
    body = {"instrument": instrument, "value": value, "unit": "mm"}
    answer = await http.post("/v1/readings", json=body)
    assert answer.status_code == 201, answer.text
    reading: dict[str, Any] = answer.json()
    return reading
