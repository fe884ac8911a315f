"""An invented block, filled without a bench: what the tests of findings look at."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from capture.build import Build, DerivedFill, Fill
from capture.findings import Finding, Source
from capture.instrument import Calibration, Instrument
from capture.spec.load import load

SPEC = """
format = 1
id = "block"
title = "Invented block"
revision = "1"
invented = true
notice = "Invented."

[[part]]
id = "cylinder"
title = "Cylinder"
count = 5

[[part]]
id = "ring"
title = "Top ring"
count = 5
position = "cylinder"

[[part]]
id = "housing"
title = "Main housing"
count = 5
position = "main"

[[part]]
id = "bolt"
title = "Main bolt"
count = 8

[[part]]
id = "crank"
title = "Crankshaft"

[[characteristic]]
id = "bore"
title = "Bore"
part = "cylinder"
unit = "mm"
nominal_size = "86.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.020"
depths = ["top", "middle", "bottom"]
axes = ["thrust", "axial"]
instruments = ["bore-gauge"]

[[characteristic]]
id = "bore-again"
title = "Bore, with the other gauge"
part = "cylinder"
unit = "mm"
nominal_size = "86.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.020"
instruments = ["micrometer"]

[[characteristic]]
id = "housing-bore"
title = "Housing bore"
part = "housing"
unit = "mm"
nominal_size = "62.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.030"
axes = ["square-to-split", "slanted", "along-split"]
instruments = ["bore-gauge"]

[[characteristic]]
id = "ring-gap"
title = "Ring gap"
part = "ring"
unit = "mm"
lower_limit_factor = "0.003"
upper_limit_factor = "0.008"
factor_of = "bore"
plausible = { lower = "0.05", upper = "1.5" }
repeats = 3
instruments = ["feeler"]

[[characteristic]]
id = "end-float"
title = "End float"
part = "crank"
unit = "mm"
lower_limit_of_size = "0.05"
upper_limit_of_size = "0.25"
repeats = 4
instruments = ["dial-indicator"]

[[fastener]]
id = "main-bolts"
title = "Main bolts"
part = "bolt"
order = [1, 2, 3, 4, 5, 6, 7, 8]
lubricant = "oil"
instruments = ["torque-adapter"]

  [[fastener.stage]]
  id = "torque"
  title = "Torque"
  unit = "N·m"
  target = "60"
  permissible_deviation_percent = "20"

  [[fastener.stage]]
  id = "angle"
  title = "Angle"
  unit = "°"
  target = "90"
  permissible_deviation_percent = "20"

[[turning_test]]
id = "turns"
title = "Turning torque after each cap"
part = "housing"
unit = "N·m"
lower_limit = "0"
upper_limit = "20"
plausible = { lower = "0", upper = "60" }
instruments = ["torque-adapter"]

[[operation]]
id = "bores"
measure = "bore"

[[operation]]
id = "bores-again"
measure = "bore-again"

[[operation]]
id = "housings"
measure = "housing-bore"

[[operation]]
id = "gaps"
measure = "ring-gap"

[[operation]]
id = "float"
measure = "end-float"

[[operation]]
id = "bolts"
tighten = "main-bolts"

[[operation]]
id = "turning"
turn = "turns"
"""

BORES = {
    1: (86.010, 86.008, 86.009, 86.007, 86.008, 86.006),
    2: (86.012, 86.009, 86.011, 86.009, 86.009, 86.008),
    3: (86.009, 86.007, 86.009, 86.006, 86.008, 86.006),
    4: (86.011, 86.009, 86.010, 86.007, 86.009, 86.007),
    5: (86.012, 86.010, 86.011, 86.009, 86.010, 86.007),
}
"""Good ones: wider at the top and along the thrust axis, as sisters are."""

GAUGE = Instrument(
    "gauge", "micrometer", "mm", Decimal("0.001"), "typed", "x",
    calibration=Calibration("invented", "2026-06-30", Decimal("0.001"), Decimal(2)),
)  # fmt: skip


class Block:
    """A build of ``SPEC``, filled by hand."""

    def __init__(self) -> None:
        self.build = Build("b1", 1, load(SPEC.encode(), "block.toml"), 2, "One")
        self.seq = 10
        self.sources: dict[int, Source] = {}

    def put(
        self,
        operation: str,
        number: int,
        sizes: Iterable[float | str],
        expanded: str | None = "0.0014",
        bracket: Sequence[str] | None = None,
        source: Source | None = None,
    ) -> Block:
        """Answers the open steps of a number, in their order, with these sizes."""
        steps = [s for s in self.build.steps if (s.operation, s.number) == (operation, number)]
        open_ones = [s for s in steps if self.build.fills[self.build.index[s.id]] is None]
        ends = None if bracket is None else (Decimal(bracket[0]), Decimal(bracket[1]))
        for step, size in zip(open_ones, sizes, strict=False):
            self.seq += 2
            fill = Fill(
                self.seq, self.seq + 1, Decimal(str(size)), expanded,
                None if expanded is None else "2", "conforming", bracket=ends,
            )  # fmt: skip
            self.build.fill(self.build.index[step.id], fill)
            if source is not None:
                self.sources[self.seq] = source
        return self

    def bores(self, shift: float = 0.0, but: Mapping[int, Sequence[float]] | None = None) -> Block:
        """All bores, ``BORES`` but for those given."""
        for number, sizes in {**BORES, **(but or {})}.items():
            self.put("bores", number, [f"{size + shift:.4f}" for size in sizes])
        return self

    def derive(self, name: str, number: int, measured: str) -> None:
        self.build.set_derived(
            name, number, DerivedFill(self.seq, {"measured": measured, "result": "conforming"})
        )


def only(found: Iterable[Finding], code: str) -> Finding:
    """The one finding of this code."""
    (one,) = [each for each in found if each.code == code]
    return one


def codes(found: Iterable[Finding]) -> list[str]:
    return [one.code for one in found]
