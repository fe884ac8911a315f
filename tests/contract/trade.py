"""A small invented engine that uses the trade's computation, and its bench, all of it typed."""

from __future__ import annotations

from typing import Any

import httpx

Json = dict[str, Any]
CERTIFIED = (
    'calibration = { certificate = "invented", due = "2099-12-31", '
    'expanded_uncertainty = "0.0010", coverage_factor = "2" }'
)

TORQUE = [
    *["0.0"] * 25,
    *[f"{0.5 * step:.1f}" for step in range(101)],
    *["39.8", "39.7", "39.6", "39.5", "39.4", "39.3"],
    *[f"{39 - 3 * step:.1f}" for step in range(14)],
]
"""A pull to a click at 50.0 N·m, 100 samples a second; invented."""


def _instrument(name: str, kind: str, unit: str, resolution: str, more: str = "") -> str:
    return f"""
[[instrument]]
id = "{name}"
kind = "{kind}"
port = "typed"
unit = "{unit}"
resolution = "{resolution}"
simulated = true
{more}
"""


BENCH = 'title = "Trade bench for tests"\n' + "".join(
    (
        _instrument("mic-1", "micrometer", "mm", "0.001", CERTIFIED),
        _instrument(
            "bore-1",
            "bore-gauge",
            "mm",
            "0.001",
            f'range = ["-1.000", "1.000"]\ncomparative = true\nexpansion = "11.5"\n{CERTIFIED}',
        ),
        _instrument(
            "feeler-1",
            "feeler",
            "mm",
            "0.01",
            'leaves = ["0.20", "0.25", "0.30", "0.35", "0.40", "0.45", "0.50"]',
        ),
        _instrument("thermometer-1", "thermometer", "°C", "0.1"),
        _instrument("adapter-1", "torque-adapter", "N·m", "0.1"),
        _instrument("click-1", "click-wrench", "N·m", "0.5"),
    )
)

SPEC = """
format = 1
id = "trade-twin"
title = "Invented twin for tests"
revision = "1"
invented = true
notice = "Invented: no real engine has these sizes."

[decision]
repeat_window_ms = 0

[[part]]
id = "block"
title = "Block"

[[part]]
id = "cylinder"
title = "Cylinder"
count = 2

[[part]]
id = "piston"
title = "Piston"
count = 2
position = "cylinder"

[[part]]
id = "ring"
title = "Top ring"
count = 2
position = "cylinder"

[[part]]
id = "bolt"
title = "Cap bolt"
count = 2

[[characteristic]]
id = "block-temperature"
title = "Block temperature"
part = "block"
unit = "°C"
lower_limit_of_size = "10"
upper_limit_of_size = "35"
plausible = { lower = "0", upper = "45" }
instruments = ["thermometer"]

[[characteristic]]
id = "bore"
title = "Cylinder bore"
part = "cylinder"
unit = "mm"
nominal_size = "80.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.030"
depths = ["top", "bottom"]
instruments = ["bore-gauge"]
expansion = { temperature = "block-temperature", coefficient = "11.5", \
coefficient_uncertainty = "0.5" }

[[characteristic]]
id = "piston-diameter"
title = "Piston diameter"
part = "piston"
unit = "mm"
nominal_size = "79.960"
lower_limit_deviation = "-0.015"
upper_limit_deviation = "+0.015"
instruments = ["micrometer"]

[[characteristic]]
id = "ring-gap"
title = "Top ring end gap"
part = "ring"
unit = "mm"
lower_limit_factor = "0.004"
upper_limit_factor = "0.006"
factor_of = "bore"
plausible = { lower = "0.05", upper = "1.5" }
instruments = ["feeler"]

[[derived]]
id = "piston-clearance"
title = "Piston clearance"
quantity = "clearance"
of = ["bore", "piston-diameter"]
unit = "mm"
lower_limit = "0.040"
upper_limit = "0.060"

[[fastener]]
id = "cap-bolts"
title = "Cap bolts"
part = "bolt"
order = [1, 2]
lubricant = "engine oil"
instruments = ["torque-adapter", "click-wrench"]
joint = { diameter = "10", pitch = "1.5", nut_factor = "0.20", scatter_percent = "25", \
proof_stress = "580" }

  [[fastener.stage]]
  id = "final"
  title = "Final"
  unit = "N·m"
  target = "50"
  permissible_deviation_percent = "5"

[[turning_test]]
id = "turns"
title = "Turning torque"
unit = "N·m"
lower_limit = "2"
upper_limit = "15"
plausible = { lower = "0", upper = "60" }
instruments = ["click-wrench"]

[[zero_check]]
id = "bore-zero"
title = "Bore gauge on its ring"
unit = "mm"
plausible = { lower = "-0.2", upper = "0.2" }
instruments = ["bore-gauge"]

[[study]]
id = "mic-study"
title = "Micrometer in two hands"
unit = "mm"
appraisers = ["A", "B"]
samples = 2
trials = 2
tolerance = "0.030"
plausible = { lower = "79", upper = "81" }
instruments = ["micrometer"]

[[tool_check]]
id = "click-check"
title = "Click wrench on the adapter"
unit = "N·m"
tool = "click-1"
maximum = "100"
points_percent = ["20", "100"]
readings = 2
preloads = 1
permissible_deviation_percent = "4"
instruments = ["torque-adapter"]

[[operation]]
measure = "block-temperature"

[[operation]]
id = "zero-before"
zero = "bore-zero"
after = ["measure-block-temperature"]

[[operation]]
measure = "bore"
after = ["zero-before"]

[[operation]]
id = "zero-after"
zero = "bore-zero"
after = ["measure-bore"]

[[operation]]
measure = "piston-diameter"
after = ["zero-after"]

[[operation]]
measure = "ring-gap"
after = ["zero-after"]

[[operation]]
tighten = "cap-bolts"
after = ["measure-piston-diameter", "measure-ring-gap"]

[[operation]]
turn = "turns"
after = ["tighten-cap-bolts"]

[[operation]]
study = "mic-study"

[[operation]]
check = "click-check"
"""
BORES = ("0.020", "0.021", "0.006", "0.007")
"""Of cylinder 1, then 2, top and bottom: deviations from an 80 mm ring."""
RING = {"instrument": "bore-1", "standard": "ring-80", "size": "80.000", "unit": "mm",
        "expanded_uncertainty": "0.0005", "coverage_factor": "2"}  # fmt: skip
GAP = {"leaves": ["0.35"], "upper": "0.40", "beside": ["0.30", "0.40"]}


class Bench:
    """What an assembler does, over HTTP."""

    def __init__(self, http: httpx.AsyncClient) -> None:
        self.http = http
        self.build = ""

    async def get(self, path: str, **headers: str) -> Any:
        answer = await self.http.get(path, headers=headers)
        assert answer.status_code == 200, answer.text
        return answer.json()

    async def post(self, path: str, **body: Any) -> Json:
        answer = await self.http.post(path, json=body)
        assert answer.status_code == 201, answer.text
        found: Json = answer.json()
        return found

    async def refused(self, path: str, status: int = 422, **body: Any) -> Json:
        """Posts what must be refused; the problem, which must say how to mend it."""
        answer = await self.http.post(path, json=body)
        assert answer.status_code == status, answer.text
        assert answer.headers["content-type"] == "application/problem+json"
        problem: Json = answer.json()
        assert problem.get("mend") or all(one["mend"] for one in problem["errors"]), problem
        return problem

    async def open(self) -> None:
        answer = await self.http.post("/v1/specs", content=SPEC.encode())
        assert answer.status_code in (200, 201), answer.text
        made = await self.post("/v1/builds", spec=answer.json()["id"], title="Twin")
        self.build = f"/v1/builds/{made['id']}"

    async def typed(self, value: str, instrument: str, unit: str = "mm") -> Json:
        return await self.post("/v1/readings", instrument=instrument, value=value, unit=unit)

    async def next(self) -> Any:
        return (await self.get(f"{self.build}/next"))["step"]

    async def zeroed(self, block: str = "20.0") -> Json:
        """A build whose block is this warm and whose bore gauge has opened a set."""
        await self.open()
        await self.post("/v1/settings", **RING)
        await self.typed(block, "thermometer-1", "°C")
        return await self.typed("0.000", "bore-1")

    async def measured(self, closing: str = "0.000") -> Json:
        """All bores, and the closing zero check (which is given back)."""
        await self.zeroed()
        for digits in BORES:
            reading = await self.typed(digits, "bore-1")
            assert "step" in reading["placement"], reading
        return await self.typed(closing, "bore-1")

    async def ready(self) -> None:
        """Everything measured: bolts come next."""
        await self.measured()
        for digits in ("79.972", "79.957"):
            await self.typed(digits, "mic-1")
        for _ in range(2):
            await self.post("/v1/readings", instrument="feeler-1", unit="mm", bracket=GAP)
