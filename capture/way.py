"""Ways: what is the same for every reading of one instrument that answers steps of one aim.

The table of rules in ``capture.place`` asks a dozen questions of every press, and most have the
same answer as for the press before: the instrument suits the step, the units agree, the gauge was
set. A *way* keeps those answers, once the table has placed a reading by them, together with the
judge made from instrument, setting and limits. What remains to be asked of each press is
``clear``; if anything is not, the whole table is asked, so that every objection is worded there.
A property test holds the two together, and ``verify`` uses the table alone.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

from capture.correlation import Shared
from capture.evaluate import Judge
from capture.instrument import Instrument
from capture.quantity import Number, add, convert
from capture.step import Step
from capture.uncertainty import Setting

Key = tuple[str, str, int, str, str, str]
"""(instrument, unit, length of the decimals, build, aim of the step, day)"""

_LEAST, _MOST = Decimal("-Infinity"), Decimal("Infinity")


class Way(NamedTuple):
    """See the module. Sizes are in the step's unit unless said otherwise."""

    plausible: tuple[Decimal, Decimal]
    range: tuple[Number, Number]
    """What the instrument can show, in the unit sent."""
    units: tuple[str, str] | None
    """The unit sent and the step's; None where they are the same."""
    offset: Number | None
    """Size of the setting standard of a comparative gauge."""
    window_ns: int
    judge: Judge
    cites: dict[str, Any]
    in_set: bool
    """Whether the step is one point of several: each size is looked at among the others."""
    u: float | None
    """Standard uncertainty of a single reading."""
    shared: Shared

    def measured(self, value: Decimal) -> Number:
        """The size that a value sent stands for."""
        size: Number = value
        if self.units is not None:
            size = convert(value, *self.units)
        return size if self.offset is None else add(self.offset, size)

    def clear(
        self,
        value: Decimal,
        digits: str,
        previous: tuple[int, int, str, str] | None,
        stamp: tuple[int, int],
        opened: tuple[int, int],
    ) -> Number | None:
        """The size, if no rule can object to this press; None only sends it to the table."""
        if (
            previous is not None
            and previous[2] == digits
            and previous[0] == stamp[0]
            and stamp[1] - previous[1] < self.window_ns
        ):
            return None
        least, most = self.range
        if not least <= value <= most:
            return None
        size = value if self.units is None and self.offset is None else self.measured(value)
        lower, upper = self.plausible
        if lower <= size <= upper and (opened[0] != stamp[0] or stamp[1] >= opened[1]):
            return size
        return None


def make_way(
    instrument: Instrument,
    setting: Setting | None,
    unit: str,
    step: Step,
    window_ms: int,
    judge: Judge,
    cites: dict[str, Any],
    in_set: bool,
    u: float | None,
    shared: Shared,
) -> Way:
    """The way of readings in ``unit`` that the table of rules has just placed."""
    ends: tuple[Number, Number] = (_LEAST, _MOST)
    if instrument.range is not None:
        least, most = instrument.range
        ends = (convert(least, instrument.unit, unit), convert(most, instrument.unit, unit))
    offset = None
    if instrument.comparative and setting is not None:
        offset = convert(setting.size, setting.unit, step.unit)
    lower, upper = step.plausible.lower, step.plausible.upper
    return Way(
        (_LEAST if lower is None else lower, _MOST if upper is None else upper),
        ends,
        None if unit == step.unit else (unit, step.unit),
        offset,
        window_ms * 1_000_000,
        judge,
        cites,
        in_set,
        u,
        shared,
    )
