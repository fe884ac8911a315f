"""Our own service under measurement, and all that the benchmarks know about it."""

from __future__ import annotations

import sys
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import orjson

from capture.verify import verify
from tests.benchmarks.peer import Peer, Stored
from tests.benchmarks.wire import LOWER, UPPER

AXES = 10
DEPTHS = 100
STEPS_A_PART = AXES * DEPTHS


def command_line(*words: str) -> list[str]:
    """How ``witnessmark …`` is run from the environment that runs the benchmarks."""
    script = Path(sys.executable).with_name("witnessmark")
    return [str(script), *words] if script.exists() else [sys.executable, "-m", "api.cli", *words]


def bench_toml(terminals: list[str]) -> str:
    """One micrometer a terminal, calibrated, simulated."""
    title = 'title = "Benchmark, all gauges simulated"\n'
    return title + "".join(
        f'''
[[instrument]]
id = "micrometer-{number}"
kind = "micrometer"
port = "{terminal}"
profile = "decimal-line"
unit = "mm"
resolution = "0.0001"
simulated = true
calibration = {{ certificate = "invented", due = "2099-12-31", expanded_uncertainty = "0.001", \
coverage_factor = "2" }}
'''
        for number, terminal in enumerate(terminals, 1)
    )


def flood_spec(steps: int) -> str:
    """An invented spec with at least ``steps`` like steps, all open to the same micrometer."""
    count = -(-steps // STEPS_A_PART)
    depths = ", ".join(f'"d{number}"' for number in range(DEPTHS))
    axes = ", ".join(f'"a{number}"' for number in range(AXES))
    return f'''format = 1
id = "flood"
title = "Invented part for a benchmark"
revision = "1"
invented = true
notice = "Invented for a benchmark: no such part exists."

[[part]]
id = "sleeve"
title = "Sleeve"
count = {count}

[[characteristic]]
id = "diameter"
title = "Diameter"
part = "sleeve"
unit = "mm"
nominal_size = "{LOWER}"
lower_limit_of_size = "{LOWER}"
upper_limit_of_size = "{UPPER}"
depths = [{depths}]
axes = [{axes}]
instruments = ["micrometer"]

[[operation]]
measure = "diameter"
'''


class Product(Peer):
    """``witnessmark serve`` with a build open that has a step for every press.

    ``steps`` 0 opens no build: every press is then stored with its reason and not evaluated.
    """

    events = "/v1/events"
    mark = b"event: reading\n"
    per_press = 2

    def __init__(self, folder: Path, terminals: int = 1, *, steps: int, keep: bool = False) -> None:
        super().__init__(folder, terminals, keep=keep)
        self._steps = steps
        self.answer_seconds = 0.0
        """From the start of the process to its first answer."""

    @property
    def store(self) -> Path:
        return self.folder / "store"

    def command(self) -> list[str]:
        words = ["serve", "--bench", str(self.folder / "bench.toml"), "--store", str(self.store)]
        words += ["--port", str(self.port)]
        if self.stamped:
            stamp = "tests.benchmarks.stamp"
            return [sys.executable, "-m", stamp, str(self.stamp_out), *words]
        return command_line(*words)

    def prepare(self) -> None:
        text = bench_toml(self.terminals.names)
        (self.folder / "bench.toml").write_text(text, encoding="utf-8")

    def ready(self) -> None:
        """Opens the build and waits until every instrument is connected."""
        with httpx.Client(base_url=f"http://127.0.0.1:{self.port}", timeout=120) as client:
            client.get("/v1/health").raise_for_status()
            self.answer_seconds = time.monotonic() - self.began
            if self._steps:
                self._open_build(client)
            self.until(lambda: self._connected(client), "the instruments connected")

    def _open_build(self, client: httpx.Client) -> None:
        spec = _sent(
            client.post(
                "/v1/specs",
                content=flood_spec(self._steps).encode(),
                headers={"Content-Type": "application/toml", "Idempotency-Key": "spec"},
            )
        )
        _sent(
            client.post(
                "/v1/builds",
                json={"spec": spec["id"], "title": "Flood"},
                headers={"Idempotency-Key": "build"},
            )
        )

    def _connected(self, client: httpx.Client) -> bool:
        answer = client.get("/v1/instruments").json()
        found = answer["instruments"] if isinstance(answer, dict) else answer
        return all("ready" in orjson.dumps(one["state"]).decode() for one in found)

    def database(self) -> Path:
        return self.store / "ledger.db"

    def last(self) -> int:
        return self.number("SELECT max(seq) FROM entry")

    def stored(self) -> Stored:
        """Counted from the entries themselves; sound if ``verify`` finds nothing."""
        presses = evaluated = 0
        with closing(self.open()) as connection:
            for (data,) in connection.execute("SELECT bytes FROM entry ORDER BY seq"):
                entry = orjson.loads(data)
                if entry["kind"] == "press":
                    presses += 1
                elif entry["kind"] == "decision":
                    placed, result = entry["body"]["step"], entry["body"]["verdict"]["result"]
                    evaluated += placed is not None and result != "not_evaluated"
        return Stored(presses, evaluated, verify(self.store).ok)


def _sent(answer: httpx.Response) -> dict[str, Any]:
    if answer.is_error:
        raise RuntimeError(f"{answer.request.url}: {answer.status_code} {answer.text[:2000]}")
    body: dict[str, Any] = answer.json()
    return body
