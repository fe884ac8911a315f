"""Zero checks of comparative gauges: back on the standard, before a set of readings and after it.

A gauge set on its standard reads zero there. Each zero check says what it reads there now: against
the check before (or the setting), the difference is the drift of the zero over the *set* of
readings between the two. Drift beyond the gauge's stated uncertainty marks every reading of it.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any

from capture.quantity import Number, convert, exact, text

SET_MOST = 5000
"""A gauge never checked again does not fill the memory."""


@dataclass(slots=True)
class ZeroSet:
    """The readings since a gauge was last on its standard."""

    opened: int
    """Seq of the setting, or of the press of the zero check, that opened it."""
    deviation: Number
    """What it read on the standard then, in ``unit``; 0 when it was set."""
    unit: str
    presses: deque[int] = field(default_factory=lambda: deque(maxlen=SET_MOST))
    """Its presses since then, counted or not: the newest ``SET_MOST`` of them."""
    steps: list[tuple[str, str]] = field(default_factory=list)
    """(build, zero step) of the check that opened it, if it answered one."""


def checked(
    kept: ZeroSet, deviation: Number, unit: str, expanded: Decimal | None
) -> dict[str, Any]:
    """What a zero check finds: ``deviation`` and ``expanded`` (U of the gauge without its setting
    standard, which both checks share) in ``unit``. ``steady`` is null where no U is established."""
    opening = convert(kept.deviation, kept.unit, unit)
    drift = _difference(deviation, opening)
    steady = None if expanded is None else -expanded <= drift <= expanded
    return {
        "deviation": text(deviation),
        "opening": text(opening),
        "drift": text(drift),
        "unit": unit,
        "expanded_uncertainty": None if expanded is None else format(expanded, "f"),
        "steady": steady,
        "opened": kept.opened,
        "presses": list(kept.presses) if steady is False else [],
        "readings": len(kept.presses),
    }


def _difference(one: Number, two: Number) -> Number:
    return exact(Fraction(one) - Fraction(two))


def drift_of(press: int, found: dict[str, Any]) -> dict[str, str | int]:
    """What the zero check of this press found, as it marks the readings of its set."""
    said = {name: found[name] for name in ("drift", "unit", "expanded_uncertainty")}
    return {**said, "zero": press}


def drift_note(drift: dict[str, Any]) -> str:
    """The same as a note of a verdict."""
    return (
        f"the gauge's zero moved by {drift['drift']} {drift['unit']} over this set, beyond "
        f"U = {drift['expanded_uncertainty']} {drift['unit']} (reading {drift['zero']})"
    )


def undecided(verdict: dict[str, Any], note: str) -> dict[str, Any]:
    """The verdict on a size that a drift leaves open: the size stays as it was measured."""
    evaluated = verdict["result"] != "not_evaluated"
    return {
        **verdict,
        "result": "undecided" if evaluated else "not_evaluated",
        "notes": [*verdict["notes"], note],
    }


def sentence(found: dict[str, Any], instrument: str) -> str:
    """A zero check in words."""
    unit = found["unit"]
    said = f"{instrument} reads {found['deviation']} {unit} on its standard"
    if found["steady"] is None:
        return (
            f"{said}; whether its zero has drifted cannot be said: its uncertainty is not "
            "established."
        )
    moved = f"its zero moved by {found['drift']} {unit}"
    bound = f"U = {found['expanded_uncertainty']} {unit}"
    if found["steady"]:
        return f"{said}: {moved}, within {bound}."
    return (
        f"{said}: {moved}, beyond {bound}. What was measured in its {found['readings']} "
        "presses since it was last there is marked. Set the gauge again and measure them anew."
    )
