"""An invented twin that uses the trade's computation, opened and measured on paper."""

from __future__ import annotations

from decimal import Decimal

from capture import command as c
from capture.recompute import Recomputation
from tests.paper import Paper

SPEC = """
format = 1
id = "small-engine"
title = "Invented twin"
revision = "1"
invented = true
notice = "Invented."

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
id = "rod-bolt"
title = "Rod bolt"
count = 4
position = "cylinder"
per = 2

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
axes = ["thrust", "axial"]
instruments = ["bore-gauge"]

[characteristic.expansion]
temperature = "block-temperature"
coefficient = "11.5"
coefficient_uncertainty = "0.5"

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
factor_of = "bore-mean"
plausible = { lower = "0.05", upper = "1.5" }
instruments = ["feeler"]

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
of = ["bore", "piston-diameter"]
unit = "mm"
lower_limit = "0.040"
upper_limit = "0.060"

[[derived]]
id = "gap-ratio"
title = "Ring gap over bore"
formula = "ring-gap / bore-mean"
unit = "1"
upper_limit = "0.007"

[[fastener]]
id = "rod-bolts"
title = "Rod bolts"
part = "rod-bolt"
order = [1, 2, 3, 4]
together = 2
lubricant = "oil"
torque_to_yield = true
instruments = ["torque-adapter", "click-wrench"]

  [[fastener.stage]]
  id = "snug"
  title = "Snug"
  unit = "N·m"
  target = "20"
  permissible_deviation_percent = "10"

  [[fastener.stage]]
  id = "final"
  title = "Final"
  unit = "N·m"
  target = "50"
  permissible_deviation_percent = "5"

[[confirmation]]
id = "piston-in"
title = "Piston in"
text = "Rings oiled, gaps staggered."
part = "piston"

[[turning_test]]
id = "turns"
title = "Turning torque"
part = "piston"
unit = "N·m"
lower_limit = "2"
upper_limit = "15"
plausible = { lower = "0", upper = "60" }
instruments = ["click-wrench"]

[[zero_check]]
id = "bore-gauge-zero"
title = "Bore gauge on its ring"
unit = "mm"
plausible = { lower = "-0.2", upper = "0.2" }
instruments = ["bore-gauge"]

[[operation]]
measure = "block-temperature"

[[operation]]
id = "zero-before"
zero = "bore-gauge-zero"
after = ["measure-block-temperature"]

[[operation]]
measure = "bore"
after = ["zero-before"]

[[operation]]
id = "zero-after"
zero = "bore-gauge-zero"
after = ["measure-bore"]

[[operation]]
measure = "piston-diameter"
after = ["zero-after"]

[[operation]]
measure = "ring-gap"
after = ["zero-after"]

[[operation]]
confirm = "piston-in"
after = ["measure-piston-diameter", "measure-ring-gap"]
round = "cylinder"

[[operation]]
tighten = "rod-bolts"
after = ["confirm-piston-in"]
round = "cylinder"

[[operation]]
turn = "turns"
after = ["tighten-rod-bolts"]
round = "cylinder"
"""
BORES = ("0.010", "0.012", "0.009", "0.011")
BESIDE = {"0.30": ("0.25", "0.35"), "0.35": ("0.30", "0.40"), "0.40": ("0.35", "0.45")}


def opened(paper: Paper, *, block: str = "20.0") -> str:
    """A build whose block is at ``block`` °C and whose bore gauge is set on an 80 mm ring."""
    build = paper.open(SPEC)
    paper.do(c.SetGauge("bore", "ring", Decimal("80.000"), "mm", Decimal("0.0005"), Decimal(2)))
    paper.press(block, "thermometer", "°C")
    return build


def measured(paper: Paper) -> str:
    """Everything measured and steady, up to the ring gaps."""
    build = opened(paper)
    paper.press("0.000", "bore")
    paper.bores(*BORES, "0.014", "0.016", "0.013", "0.015")
    paper.press("0.000", "bore")
    for digits in ("79.960", "79.962"):
        paper.press(digits)
    return build


def whole(paper: Paper) -> str:
    """Gaps in, pistons not yet."""
    build = measured(paper)
    for _ in range(2):
        said = paper.bracket("0.35", "0.40", leaves=("0.35",), beside=BESIDE["0.35"])
        assert said["verdict"]["result"] == "conforming", said
    return build


def again(paper: Paper) -> list[str]:
    """What verify finds when it makes everything again."""
    found: list[str] = []
    made = Recomputation(lambda _seq, _code, message: found.append(message), paper.entry)
    for entry in paper.entries[1:]:
        made.add(entry)
    return [one for one in found if "envelope" not in one and "first entry" not in one]
