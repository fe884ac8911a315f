"""An invented bench and blocks of an invented engine's spec, for tests of the page."""

from __future__ import annotations

from typing import Any

import httpx

CERTIFIED = """calibration = { certificate = "invented", due = "2099-12-31", \
expanded_uncertainty = "0.001", coverage_factor = "2" }"""
BENCH = f"""
title = "Bench for tests"

[[instrument]]
id = "mic"
kind = "micrometer"
port = "typed"
unit = "mm"
resolution = "0.001"
simulated = true
{CERTIFIED}

[[instrument]]
id = "bore"
kind = "bore-gauge"
port = "typed"
unit = "mm"
resolution = "0.001"
comparative = true
simulated = true
{CERTIFIED}

[[instrument]]
id = "feeler"
kind = "feeler"
port = "typed"
unit = "mm"
resolution = "0.01"
leaves = ["0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.35", "0.40", "0.45", "0.50"]
simulated = true

[[instrument]]
id = "click"
kind = "click-wrench"
port = "typed"
unit = "N·m"
resolution = "0.5"
simulated = true

[[instrument]]
id = "tester"
kind = "torque-tester"
port = "typed"
unit = "N·m"
resolution = "0.1"
simulated = true
"""

TOP = """
format = 1
id = "small-engine"
title = "Invented twin"
revision = "1"
invented = true
notice = "Invented: no real engine has these sizes."
[decision]
repeat_window_ms = 0

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
id = "head-bolt"
title = "Head bolt"
count = 2
"""

GAP = """
[[characteristic]]
id = "ring-gap"
title = "Top ring end gap"
part = "piston"
unit = "mm"
lower_limit_of_size = "0.30"
upper_limit_of_size = "0.46"
plausible = { lower = "0.05", upper = "1.5" }
instruments = ["feeler"]
cautions = ["Ring edges are sharp."]

[[operation]]
measure = "ring-gap"
"""

TURNING = """
[[turning_test]]
id = "turns"
title = "Turning torque"
unit = "N·m"
lower_limit = "2"
upper_limit = "15"
plausible = { lower = "0", upper = "60" }
instruments = ["click-wrench"]

[[operation]]
turn = "turns"
"""

BORES = """
[[zero_check]]
id = "ring-zero"
title = "Bore gauge on its ring"
unit = "mm"
plausible = { lower = "-0.2", upper = "0.2" }
instruments = ["bore-gauge"]

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

[[characteristic]]
id = "skirt"
title = "Piston diameter"
part = "piston"
unit = "mm"
nominal_size = "79.960"
lower_limit_deviation = "-0.015"
upper_limit_deviation = "+0.015"
instruments = ["micrometer"]

[[derived]]
id = "bore-mean"
title = "Bore, mean"
quantity = "mean"
of = ["bore"]
unit = "mm"
lower_limit = "80.000"
upper_limit = "80.030"

[[derived]]
id = "piston-clearance"
title = "Piston clearance"
quantity = "clearance"
of = ["bore", "skirt"]
unit = "mm"
lower_limit = "0.040"
upper_limit = "0.060"

[[operation]]
id = "zero-before"
zero = "ring-zero"

[[operation]]
measure = "bore"
after = ["zero-before"]

[[operation]]
id = "zero-after"
zero = "ring-zero"
after = ["measure-bore"]

[[operation]]
measure = "skirt"
after = ["zero-after"]
"""

STUDY = """
[[study]]
id = "gauge-study"
title = "Micrometer in two hands"
unit = "mm"
appraisers = ["A", "B"]
samples = 1
trials = 2
references = ["25.000"]
plausible = { lower = "24.8", upper = "25.2" }
instruments = ["micrometer"]

[[operation]]
study = "gauge-study"
"""

CHECK = """
[[tool_check]]
id = "wrench-check"
title = "Click wrench on the tester"
unit = "N·m"
tool = "click"
maximum = "50"
permissible_deviation_percent = "4"
preloads = 1
readings = 5
instruments = ["torque-tester"]

[[operation]]
check = "wrench-check"
"""

BOLTS = """
[[fastener]]
id = "head-bolts"
title = "Head bolts"
part = "head-bolt"
order = [2, 1]
lubricant = "oil"
instruments = ["click-wrench"]
[[fastener.stage]]
id = "final"
title = "Final"
unit = "N·m"
target = "40"
permissible_deviation_percent = "10"

[[operation]]
tighten = "head-bolts"
"""


class Bench(httpx.Client):
    """A client with the few things that these tests do."""

    def said(self, path: str, **body: Any) -> dict[str, Any]:
        """POSTs and gives the answer."""
        answer: dict[str, Any] = self.post(path, json=body).raise_for_status().json()
        return answer

    def build(self, *blocks: str) -> str:
        text = TOP + "".join(blocks)
        spec = self.post("/v1/specs", content=text.encode()).raise_for_status().json()["id"]
        return str(self.said("/v1/builds", spec=spec, title="Twin on stand 1")["id"])

    def press(self, value: str, instrument: str = "mic", unit: str = "mm") -> dict[str, Any]:
        return self.said("/v1/readings", instrument=instrument, value=value, unit=unit)

    def set_bore(self) -> None:
        self.said(
            "/v1/settings", instrument="bore", standard="ring", size="80.000", unit="mm",
            expanded_uncertainty="0.0005", coverage_factor="2",
        )  # fmt: skip

    def bores(self, *deviations: str) -> dict[str, Any]:
        """Presses of the bore gauge; gives the last."""
        for value in deviations:
            found = self.press(value, "bore")
        return found

    def drifted(self) -> str:
        """Two bores measured between two zero checks that do not agree."""
        build = self.build(BORES)
        self.set_bore()
        last = self.bores("0.000", "0.010", "0.012", "0.014", "0.016", "0.004")
        assert last["zero"]["steady"] is False, last
        return build

    def next(self, build: str) -> dict[str, Any]:
        answer: dict[str, Any] = self.get(f"/v1/builds/{build}/next").raise_for_status().json()
        return answer

    def misfits(self) -> str:
        """Two clearances outside their limits that change places would bring within."""
        build = self.build(BORES)
        self.set_bore()
        self.bores("0.000", "0.005", "0.006", "0.022", "0.021", "0.000")
        self.press("79.970")
        self.press("79.957")
        return build
