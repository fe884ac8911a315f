"""A bench on paper: the folded state with its entries in a list, no disk, no threads.

Entries go through the same functions as on a real bench; the specs and instruments are invented.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from capture import command as c
from capture.act import act
from capture.decide import by_rule
from capture.desk import Desk
from capture.draft import Known
from capture.drift import all_marked
from capture.entry import Envelope, Kind, envelope
from capture.instrument import Calibration, Instrument
from capture.reading import Stamp
from capture.typed import press_body

CERTIFIED = Calibration("invented", "2099-12-31", Decimal("0.0010"), Decimal(2))

INSTRUMENTS = (
    Instrument("mic", "micrometer", "mm", Decimal("0.001"), "typed", "x", calibration=CERTIFIED),
    Instrument(
        "inch-mic", "micrometer", "in", Decimal("0.0001"), "typed", "x",
        calibration=Calibration("invented", "2099-12-31", Decimal("0.00005"), Decimal(2)),
    ),
    Instrument(
        "bore", "bore-gauge", "mm", Decimal("0.001"), "typed", "x",
        range=(Decimal("-1"), Decimal("1")), comparative=True, calibration=CERTIFIED,
    ),
    Instrument("bare-mic", "micrometer", "mm", Decimal("0.001"), "typed", "x"),
    Instrument("wrench", "torque-adapter", "N·m", Decimal("0.1"), "typed", "x"),
    Instrument("click", "click-wrench", "N·m", Decimal("0.5"), "typed", "x"),
    Instrument("thermometer", "thermometer", "°C", Decimal("0.1"), "typed", "x"),
    Instrument(
        "feeler", "feeler", "mm", Decimal("0.01"), "typed", "x",
        leaves=tuple(Decimal(leaf) for leaf in (
            "0.05", "0.10", "0.15", "0.20", "0.25", "0.30", "0.35", "0.40", "0.45", "0.50",
        )),
    ),
)  # fmt: skip

SPEC = """
format = 1
id = "pump"
title = "Invented pump"
revision = "1"
invented = true
notice = "Invented."

[decision]
rule = "guarded"
repeat_window_ms = 1000

[[part]]
id = "barrel"
title = "Barrel"
count = 3

[[part]]
id = "plunger"
title = "Plunger"
count = 3
position = "barrel"

[[part]]
id = "bolt"
title = "Cover bolt"
count = 4

[[characteristic]]
id = "barrel-bore"
title = "Barrel bore"
part = "barrel"
unit = "mm"
nominal_size = "20.000"
lower_limit_deviation = "0"
upper_limit_deviation = "+0.020"
depths = ["top", "bottom"]
axes = ["a", "b"]
instruments = ["bore-gauge"]

[[characteristic]]
id = "plunger-diameter"
title = "Plunger diameter"
part = "plunger"
unit = "mm"
nominal_size = "19.980"
lower_limit_deviation = "-0.010"
upper_limit_deviation = "+0.010"
instruments = ["micrometer"]

[[derived]]
id = "bore-taper"
title = "Barrel taper"
quantity = "taper"
of = ["barrel-bore"]
unit = "mm"
lower_limit = "-0.010"
upper_limit = "0.010"

[[derived]]
id = "plunger-clearance"
title = "Plunger clearance"
quantity = "clearance"
of = ["barrel-bore", "plunger-diameter"]
unit = "mm"
lower_limit = "0.005"
upper_limit = "0.050"

[[fastener]]
id = "cover-bolts"
title = "Cover bolts"
part = "bolt"
order = [2, 3, 1, 4]
lubricant = "dry"
instruments = ["torque-adapter"]

  [[fastener.stage]]
  id = "snug"
  title = "Snug"
  unit = "N·m"
  target = "10"
  permissible_deviation_percent = "10"

  [[fastener.stage]]
  id = "final"
  title = "Final"
  unit = "N·m"
  target = "25"
  permissible_deviation_percent = "5"

[[confirmation]]
id = "clean"
title = "Clean"
text = "Everything wiped."

[[turning_test]]
id = "turns"
title = "Turning torque"
unit = "N·m"
lower_limit = "0.5"
upper_limit = "3"
plausible = { lower = "0", upper = "30" }
instruments = ["torque-adapter"]

[[operation]]
id = "wipe"
confirm = "clean"

[[operation]]
id = "bores"
measure = "barrel-bore"
after = ["wipe"]

[[operation]]
id = "plungers"
measure = "plunger-diameter"
after = ["wipe"]

[[operation]]
id = "cover"
tighten = "cover-bolts"
after = ["bores", "plungers"]

[[operation]]
id = "turn"
turn = "turns"
after = ["cover"]
"""


class Paper:
    """See the module. ``now_ms`` is the time on both clocks; every press moves it two seconds."""

    def __init__(self) -> None:
        self.desk = Desk()
        self.entries: list[Envelope] = []
        self.now_ms = 1000
        self.write(Kind.BOOT, {}, boot=1)
        for instrument in INSTRUMENTS:
            self.write(Kind.INSTRUMENT, {**instrument.to_body(), "profile_seq": None})

    # what act() looks things up in
    def entry(self, seq: int) -> Envelope | None:
        return self.entries[seq - 1] if 0 < seq <= len(self.entries) else None

    def decision(self, press: int) -> Envelope | None:
        found = [e for e in self.entries if e["kind"] == "decision" and e["body"]["press"] == press]
        return found[-1] if found else None

    def stamp(self) -> Stamp:
        seconds, ms = divmod(self.now_ms, 1000)
        return Stamp(f"2026-01-01T{seconds // 3600:02d}:{seconds // 60 % 60:02d}:"
                     f"{seconds % 60:02d}.{ms:03d}000Z", self.now_ms * 1_000_000)  # fmt: skip

    def write(self, kind: Kind, body: dict[str, Any], boot: int | None = None) -> Envelope:
        number = self.desk.boot if boot is None else boot
        entry = envelope("bench", number, len(self.entries) + 1, kind, self.stamp(), None, body)
        self.entries.append(entry)
        self.desk.apply(entry)
        return entry

    def do(self, command: c.Command) -> Envelope:
        """Carries a command out; raises what it raises."""
        made = act(self.desk, self, command, self.stamp())
        if isinstance(made, Known):
            known = self.entry(made.seq)
            assert known is not None
            return known
        return self.write(made.kind, made.body)

    def press(
        self,
        digits: str,
        instrument: str = "mic",
        unit: str = "mm",
        *,
        after_ms: int = 2000,
        flags: tuple[str, ...] = (),
        **more: Any,
    ) -> dict[str, Any]:
        """Presses SEND; gives the body of the decision. ``more`` goes into the press."""
        self.now_ms += after_ms
        stamp = self.stamp()
        body: dict[str, Any] = {
            "instrument": instrument, "record": None, "raw": "", "digits": digits, "unit": unit,
            "flags": list(flags), "simulated": False, "typed": False, "late": None,
            **more,
        }  # fmt: skip
        seq = len(self.entries) + 1
        decided = by_rule(self.desk, seq, body, self.desk.boot, stamp.at, stamp.mono)
        self.write(Kind.PRESS, body)
        self.write(Kind.DECISION, decided)
        if decided.get("zero"):
            for press, again in all_marked(self.desk, self, seq, decided["zero"]):
                before = self.decision(press["seq"])
                assert before is not None
                more = {"supersedes": before["seq"], "first_build": before["body"]["build"]}
                self.write(Kind.DECISION, {**again, **more})
        return decided

    def bracket(
        self,
        lower: str | None,
        upper: str | None,
        instrument: str = "feeler",
        *,
        leaves: tuple[str, ...] = (),
        beside: tuple[str | None, str | None] | None = None,
    ) -> dict[str, Any]:
        """Enters between which two values a size lies; gives the body of the decision."""
        unit = self.desk.instruments[instrument].instrument.unit
        command = c.TypeBracket(instrument, unit, lower, upper, leaves, beside)
        body = press_body(self.desk, command)
        return self.press(body["digits"], instrument, unit, bracket=body["bracket"], typed=True)

    def open(self, text: str = SPEC) -> str:
        """Records the spec and opens a build on it; gives the build's id."""
        spec = self.do(c.AddSpec(text, "pump.toml"))
        return f"b{self.do(c.OpenBuild(spec['body']['hash'], 'One'))['seq']}"

    def ready(self, text: str = SPEC) -> str:
        """A build whose first confirmation is done and whose bore gauge is set on 20.000 mm."""
        build = self.open(text)
        self.do(c.Confirm(build, "wipe/1", ""))
        self.do(c.SetGauge("bore", "ring", Decimal("20.000"), "mm", Decimal("0.0005"), Decimal(2)))
        return build

    def bores(self, *deviations: str) -> list[dict[str, Any]]:
        """Presses of the bore gauge, one after the other."""
        return [self.press(digits, "bore") for digits in deviations]

    def next_id(self, build: str) -> str | None:
        found = self.desk.build(build)
        at = found.next_index()
        return None if at is None else found.steps[at].id


GOOD_BORES = ("0.010", "0.011", "0.009", "0.008")
