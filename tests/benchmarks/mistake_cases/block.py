"""An invented block to be measured, and the gauges it is measured with. None is real."""

from __future__ import annotations

from decimal import Decimal
from typing import Final

from capture.instrument import Calibration, Instrument

RING: Final = Decimal("86.000")
SMALL_RING: Final = Decimal("58.040")
NEAR_RING: Final = Decimal("85.750")

LEAVES: Final = tuple(Decimal(hundredths) / 100 for hundredths in range(20, 65, 5))


def _certified(expanded: str) -> Calibration:
    return Calibration("invented", "2099-12-31", Decimal(expanded), Decimal(2))


INSTRUMENTS: Final = (
    Instrument(
        "mic", "micrometer", "mm", Decimal("0.001"), "typed", "x", calibration=_certified("0.002")
    ),
    Instrument(
        "inch-mic", "micrometer", "in", Decimal("0.00005"), "typed", "x",
        calibration=_certified("0.0001"),
    ),
    Instrument(
        "bore-gauge", "bore-gauge", "mm", Decimal("0.001"), "typed", "x",
        range=(Decimal(-1), Decimal(1)), comparative=True, calibration=_certified("0.002"),
    ),
    Instrument(
        "small-bore-gauge", "bore-gauge", "mm", Decimal("0.001"), "typed", "x",
        range=(Decimal(-1), Decimal(1)), comparative=True, calibration=_certified("0.002"),
    ),
    Instrument(
        "near-bore-gauge", "bore-gauge", "mm", Decimal("0.001"), "typed", "x",
        range=(Decimal(-1), Decimal(1)), comparative=True, calibration=_certified("0.002"),
    ),
    Instrument(
        "leaves", "feeler", "mm", Decimal("0.01"), "typed", "x", leaves=LEAVES,
        calibration=_certified("0.004"),
    ),
    Instrument(
        "adapter", "torque-adapter", "N·m", Decimal("0.1"), "typed", "x",
        calibration=_certified("0.8"),
    ),
)  # fmt: skip

STANDARDS: Final = {
    "bore-gauge": ("ring 86", RING),
    "small-bore-gauge": ("ring 58", SMALL_RING),
    "near-bore-gauge": ("ring 85.75", NEAR_RING),
}

HEAD: Final = """
format = 1
id = "block"
title = "Invented block"
revision = "1"
invented = true
notice = "Invented."

[decision]
repeat_window_ms = 500

[[part]]
id = "cylinder"
title = "Cylinder"
count = {cylinders}

[[part]]
id = "journal"
title = "Main journal"
count = 5

[[part]]
id = "ring"
title = "Top ring"
count = 4

[[part]]
id = "bolt"
title = "Main cap bolt"
count = 10

[[characteristic]]
id = "bore"
title = "Bore"
part = "cylinder"
unit = "mm"
nominal_size = "86.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.030"
depths = ["top", "middle", "bottom"]
axes = ["thrust", "axial"]
instruments = ["bore-gauge"]

[[characteristic]]
id = "journal-diameter"
title = "Journal diameter"
part = "journal"
unit = "mm"
nominal_size = "58.000"
lower_limit_deviation = "-0.020"
upper_limit_deviation = "0"
depths = ["front", "rear"]
axes = ["a", "b"]
instruments = ["micrometer"]

[[characteristic]]
id = "ring-gap"
title = "Ring gap"
part = "ring"
unit = "mm"
lower_limit_of_size = "0.25"
upper_limit_of_size = "0.60"
plausible = {{ lower = "0.10", upper = "1.00" }}
instruments = ["feeler"]

[[fastener]]
id = "main-bolts"
title = "Main cap bolts"
part = "bolt"
order = [5, 6, 3, 4, 7, 8, 1, 2, 9, 10]
lubricant = "oil"
instruments = ["torque-adapter"]

  [[fastener.stage]]
  id = "snug"
  title = "Snug"
  unit = "N·m"
  target = "30"
  permissible_deviation_percent = "10"

  [[fastener.stage]]
  id = "final"
  title = "Final"
  unit = "N·m"
  target = "80"
  permissible_deviation_percent = "5"

[[zero_check]]
id = "on-the-ring"
title = "Bore gauge on its ring"
unit = "mm"
plausible = {{ lower = "-0.100", upper = "0.100" }}
instruments = ["bore-gauge"]
"""

OPERATIONS: Final = {
    "zero-before": 'zero = "on-the-ring"',
    "bores": 'measure = "bore"',
    "zero-after": 'zero = "on-the-ring"',
    "journals": 'measure = "journal-diameter"',
    "gaps": 'measure = "ring-gap"',
    "bolts": 'tighten = "main-bolts"',
}


def spec(operations: tuple[str, ...], cylinders: int) -> str:
    """The block's spec with these operations, in this order."""
    lines = [f'\n[[operation]]\nid = "{name}"\n{OPERATIONS[name]}\n' for name in operations]
    return HEAD.format(cylinders=cylinders) + "".join(lines)
