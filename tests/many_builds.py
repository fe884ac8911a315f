"""A bench on which one small invented pump was built many times, all of it typed in over HTTP.

Sizes scatter as drawn from a fixed seed; what stands out is put there on purpose and named here.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import httpx

BENCH = """
title = "Bench of many builds"

[[instrument]]
id = "bore-1"
kind = "bore-gauge"
port = "typed"
unit = "mm"
resolution = "0.001"
range = ["-1.000", "1.000"]
comparative = true
simulated = true
calibration = { certificate = "invented 7", due = "2099-12-31", \
expanded_uncertainty = "0.0020", coverage_factor = "2" }

[[instrument]]
id = "mic-1"
kind = "micrometer"
port = "typed"
unit = "mm"
resolution = "0.001"
simulated = true
calibration = { certificate = "invented 8", due = "2020-01-31", \
expanded_uncertainty = "0.0020", coverage_factor = "2" }

[[instrument]]
id = "adapter-1"
kind = "torque-adapter"
port = "typed"
unit = "N·m"
resolution = "0.01"
simulated = true
"""

SPEC = """
format = 1
id = "many-pump"
title = "Invented pump, built often"
revision = "{revision}"
invented = true
notice = "Invented: no real pump has these sizes."

[decision]
rule = "simple"
repeat_window_ms = 0

[[part]]
id = "barrel"
title = "Barrel"
count = 4

[[part]]
id = "shaft"
title = "Shaft"

[[characteristic]]
id = "barrel-bore"
title = "Barrel bore"
part = "barrel"
unit = "mm"
nominal_size = "20.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.030"
instruments = ["bore-gauge"]

[[characteristic]]
id = "shaft-diameter"
title = "Shaft diameter"
part = "shaft"
unit = "mm"
nominal_size = "12.000"
lower_limit_deviation = "-0.012"
upper_limit_deviation = "{upper}"
depths = ["drive", "middle", "free"]
instruments = ["micrometer"]

[[derived]]
id = "shaft-mean"
title = "Shaft, mean diameter"
quantity = "mean"
of = ["shaft-diameter"]
unit = "mm"
lower_limit = "11.990"
upper_limit = "12.010"

[[turning_test]]
id = "turns"
title = "Turning torque"
unit = "N·m"
lower_limit = "0.50"
upper_limit = "3.00"
plausible = {{ lower = "0", upper = "30" }}
instruments = ["torque-adapter"]

[[zero_check]]
id = "bore-zero"
title = "Bore gauge on its ring"
unit = "mm"
plausible = {{ lower = "-0.2", upper = "0.2" }}
instruments = ["bore-gauge"]

[[operation]]
id = "zero-before"
zero = "bore-zero"

[[operation]]
measure = "barrel-bore"
after = ["zero-before"]

[[operation]]
id = "zero-after"
zero = "bore-zero"
after = ["measure-barrel-bore"]

[[operation]]
measure = "shaft-diameter"

[[operation]]
turn = "turns"
after = ["measure-shaft-diameter", "zero-after"]
"""
FIRST = SPEC.format(revision="1", upper="+0.012")
SECOND = SPEC.format(revision="2", upper="+0.010")
"""The second revision has another upper limit on the shaft."""
TIGHT = 18
"""From 0: the build whose turning torque lies far above the others."""
DRIFTED = 12
"""The build over which the zero of the bore gauge moved."""


class Shop:
    """Builds one pump after the other; keeps what it measured, by quantity."""

    def __init__(self, http: httpx.Client, folder: Path) -> None:
        self.http = http
        self.folder = folder
        self.builds: list[str] = []
        self.bores: list[list[str]] = []
        self.shafts: list[list[str]] = []
        self.torques: list[str] = []
        self._draw = random.Random(25)

    def post(self, path: str, **body: Any) -> Any:
        answer = self.http.post(path, json=body)
        assert answer.status_code == 201, answer.text
        return answer.json()

    def press(self, instrument: str, value: str, unit: str = "mm") -> Any:
        return self.post("/v1/readings", instrument=instrument, value=value, unit=unit)

    def spec(self, text: str) -> str:
        answer = self.http.post("/v1/specs", content=text.encode())
        assert answer.status_code in (200, 201), answer.text
        return str(answer.json()["id"])

    def build_many(self, count: int) -> None:
        """``count`` pumps, the newer half to the second revision."""
        self.set_gauge()
        specs = [self.spec(FIRST), self.spec(SECOND)]
        for at in range(count):
            self.build(specs[at >= count / 2], at)

    def set_gauge(self) -> None:
        self.post("/v1/settings", instrument="bore-1", standard="ring-20", size="20.000",
                  unit="mm", expanded_uncertainty="0.0005", coverage_factor="2")  # fmt: skip

    def begin(self, spec: str, at: int) -> str:
        build = str(self.post("/v1/builds", spec=spec, title=f"Pump {at + 1}")["id"])
        self.press("bore-1", "0.000")
        return build

    def build(self, spec: str, at: int) -> None:
        build = self.begin(spec, at)
        draw = self._draw.gauss
        deviations = [f"{draw(0.015, 0.003):.3f}" for _ in range(4)]
        shafts = [f"{12 + draw(0.0, 0.003):.3f}" for _ in range(3)]
        torque = f"{draw(1.6, 0.08) + (1.2 if at == TIGHT else 0):.2f}"
        for digits in deviations:
            self.press("bore-1", digits)
        self.press("bore-1", "0.004" if at == DRIFTED else f"{0.001 * (at % 3 - 1):.3f}")
        if at == DRIFTED:  # the sizes are accepted as they are, and the gauge is set anew
            for hold in self.http.get(f"/v1/builds/{build}").json()["holds"]:
                path = f"/v1/builds/{build}/concessions"
                self.post(path, subject=hold["subject"], reason="Measured again by hand.")
            self.set_gauge()
        for digits in shafts:
            self.press("mic-1", digits)
        turned = self.press("adapter-1", torque, "N·m")
        assert turned["placement"].get("step"), turned
        self.builds.append(build)
        self.bores.append([f"{20 + float(digits):.3f}" for digits in deviations])
        self.shafts.append(shafts)
        self.torques.append(torque)
        self.post(f"/v1/builds/{build}/close", reason="Done.")
