"""Rules about the size: what else it could be where it is not plausible as sent."""

from __future__ import annotations

from decimal import Decimal

from capture.case import Case, measured_at, within
from capture.errors import UnitError
from capture.quantity import Number, add, convert, dimension, text
from capture.rules.objection import Objection, Rule, others, shown
from capture.spec.model import Kind

SLIPS: dict[str, tuple[tuple[str, str], ...]] = {
    "length": (("in", "mm"), ("mm", "in")),
    "torque": (
        ("lbf·ft", "N·m"),
        ("N·m", "lbf·ft"),
        ("lbf·in", "N·m"),
        ("N·m", "lbf·in"),
        ("lbf·ft", "lbf·in"),
        ("lbf·in", "lbf·ft"),
    ),
}
"""(true unit, unit it was taken for): the mix-ups looked for, by dimension."""


def out_of_range(case: Case) -> Objection | None:
    assert case.instrument is not None
    ends = case.instrument.range
    if ends is None:
        return None
    value: Number
    try:
        value = convert(case.value, case.unit, case.instrument.unit)
    except UnitError:
        return None
    if ends[0] <= value <= ends[1]:
        return None
    return {
        "code": "outside-instrument-range",
        "detail": f"{case.digits} {case.unit} is outside what {case.instrument_id} can show, "
        f"{ends[0]} to {ends[1]} {case.instrument.unit}.",
        "lower": str(ends[0]),
        "upper": str(ends[1]),
    }


def unit_slip(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    if case.instrument.comparative:
        return None
    for true, taken in SLIPS.get(dimension(case.step.unit), ()):
        if taken != case.unit:
            continue
        size = convert(case.value, true, case.step.unit)
        if within(case.step.plausible, size):
            return {
                "code": "unit-slip",
                "detail": f"{case.digits} {case.unit} is not plausible at {case.step.id}; "
                f"{case.digits} {true} would be ({shown(size)} {case.step.unit}).",
                "step": case.step.id,
                "unit": case.unit,
                "fits_unit": true,
                "size": text(size),
            }
    return None


def fits_another(case: Case) -> Objection | None:
    assert case.step is not None
    assert case.instrument is not None
    for other in others(case):
        if case.instrument.kind not in other.instruments:
            continue
        try:
            size = measured_at(case, other)
        except UnitError:
            continue
        if within(other.plausible, size):
            return {
                "code": "fits-another-step",
                "detail": f"{shown(size)} {other.unit} is not plausible at {case.step.id} but is "
                f"at {other.id}.",
                "step": case.step.id,
                "fits": [other.id],
                "size": text(size),
            }
    return None


def slip(code: str, words: str, factors: tuple[Decimal, ...]) -> Rule:
    def rule(case: Case) -> Objection | None:
        assert case.step is not None
        for factor in factors:
            moved = case.value * factor
            size = measured_at(case, case.step, moved)
            if within(case.step.plausible, size):
                return {
                    "code": code,
                    "detail": f"{case.digits} {case.unit} is not plausible at {case.step.id}; "
                    f"{format(moved, 'f')} {case.unit} would be: {words}",
                    "step": case.step.id,
                    "fits_value": format(moved, "f"),
                }
        return None

    return rule


def implausible(case: Case) -> Objection:
    assert case.step is not None
    assert case.measured is not None
    band = case.step.plausible
    return {
        "code": "implausible-size",
        "detail": f"{shown(case.measured)} {case.step.unit} is outside the plausible band of "
        f"{case.step.id}, {band.lower} to {band.upper} {case.step.unit}.",
        "step": case.step.id,
        "size": text(case.measured),
        "lower": str(band.lower),
        "upper": str(band.upper),
    }


decimal_slip = slip(
    "decimal-slip",
    "the decimal point may have slipped.",
    tuple(Decimal(10) ** power for power in (1, -1, 2, -2, 3, -3)),
)
sign_slip = slip("sign-slip", "the sign may be wrong.", (Decimal(-1),))


def wrong_standard(case: Case) -> Objection | None:
    """A gauge set on another standard than the bench was told."""
    assert case.step is not None
    assert case.instrument is not None
    if not case.instrument.comparative or case.setting is None or case.step.kind is Kind.ZERO:
        return None
    deviation = convert(case.value, case.unit, case.step.unit)
    for other in case.standards:
        size = add(convert(other.size, other.unit, case.step.unit), deviation)
        if within(case.step.plausible, size):
            return {
                "code": "wrong-standard",
                "detail": f"With {case.setting.standard} the size is not plausible at "
                f"{case.step.id}; with {other.standard} ({other.size} {other.unit}) it would be "
                f"({shown(size)} {case.step.unit}): which was {case.instrument_id} set on?",
                "step": case.step.id,
                "standard": case.setting.standard,
                "fits_standard": other.standard,
                "size": text(size),
            }
    return None
