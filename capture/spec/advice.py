"""Warnings: what a spec may say but hardly means."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, localcontext
from fractions import Fraction

from capture.quantity import factor
from capture.spec import order_advice, warm_advice
from capture.spec.limits import span
from capture.spec.lines import Path
from capture.spec.model import Derived, Fastener, Kind, Limits, Quantity, Spec
from capture.spec.plausible import slip_factor
from capture.spec.problems import Problems


def advise(spec: Spec, problems: Problems) -> None:
    """Notes every warning about ``spec`` in ``problems``."""
    _unused_parts(spec, problems)
    _never_done(spec, problems)
    _incomplete(spec, problems)
    _sizes(spec, problems)
    _unreachable_clearances(spec, problems)
    _stages(spec, problems)
    _order(spec, problems)
    order_advice.advise(spec, problems)
    warm_advice.advise(spec, problems)


def _places(name: str, things: Mapping[str, object]) -> dict[str, Path]:
    """Path of each thing: a loaded spec keeps all of them, in the file's order."""
    return {id_: (name, index) for index, id_ in enumerate(things)}


def _unused_parts(spec: Spec, problems: Problems) -> None:
    used = {size.part for size in spec.characteristics.values()}
    used |= {fastener.part for fastener in spec.fasteners.values()}
    used |= {one.part for one in spec.confirmations.values() if one.part is not None}
    used |= {one.part for one in spec.turning_tests.values() if one.part is not None}
    for id_, path in _places("part", spec.parts).items():
        if id_ not in used:
            problems.add(path, f'nothing refers to the part "{id_}"', "use it, or remove it")
    formulas = [one.formula for one in spec.derived.values() if one.formula is not None]
    named = {name.id for formula in formulas for name in formula.names}
    for id_, path in _places("given", spec.given).items():
        if id_ not in named:
            problems.add(path, f'no formula names the given "{id_}"', "use it, or remove it")


def _never_done(spec: Spec, problems: Problems) -> None:
    tables: tuple[tuple[Kind, str, Mapping[str, object], str], ...] = (
        (Kind.MEASURE, "characteristic", spec.characteristics, "measured"),
        (Kind.CONFIRM, "confirmation", spec.confirmations, "asked for"),
        (Kind.TIGHTEN, "fastener", spec.fasteners, "tightened"),
        (Kind.TURN, "turning_test", spec.turning_tests, "done"),
        (Kind.ZERO, "zero_check", spec.zero_checks, "done"),
        (Kind.STUDY, "study", spec.studies, "done"),
        (Kind.CHECK, "tool_check", spec.tool_checks, "done"),
    )
    for kind, name, things, verb in tables:
        done = {operation.subject for operation in spec.operations if operation.kind is kind}
        for id_, path in _places(name, things).items():
            if id_ not in done:
                message = f'"{id_}" is never {verb}: no operation names it'
                problems.add(path, message, f'add [[operation]] with {kind.value} = "{id_}"')


def _incomplete(spec: Spec, problems: Problems) -> None:
    measured = {one.subject for one in spec.operations if one.kind is Kind.MEASURE}
    for (id_, path), one in zip(
        _places("derived", spec.derived).items(), spec.derived.values(), strict=True
    ):
        for source in one.of:
            if source not in measured and source not in spec.derived:
                message = f'"{id_}" never becomes complete: "{source}" is never measured'
                problems.add((*path, "of"), message, f'add an operation that measures "{source}"')


def _sizes(spec: Spec, problems: Problems) -> None:
    for (id_, path), size in zip(
        _places("characteristic", spec.characteristics).items(),
        spec.characteristics.values(),
        strict=True,
    ):
        nominal, band = size.nominal_size, size.plausible
        assert band.lower is not None
        assert band.upper is not None
        if nominal is not None and not band.lower <= nominal <= band.upper:
            message = f"the nominal size {nominal:f} is not even plausible ({span(band)})"
            problems.add((*path, "nominal_size"), message, "correct the size or the limits")
        _narrow(path, id_, size.limits, problems)
        _slip(path, size.limits, band, size.unit, problems)


def _narrow(path: Path, id_: str, limits: Limits, problems: Problems) -> None:
    if limits.lower is not None and limits.lower == limits.upper:
        message = f'both limits of "{id_}" are {limits.lower:f}: nothing measured can conform'
        problems.add(path, message, "state the tolerance")


def _slip(path: Path, limits: Limits, band: Limits, unit: str, problems: Problems) -> None:
    """A stated band so wide that a reading in a mistaken unit passes as a size."""
    slip = slip_factor(unit)
    lower, upper = limits.lower, limits.upper
    if slip is None or lower is None or upper is None or lower <= 0 or lower * slip <= upper:
        return
    assert band.lower is not None
    assert band.upper is not None
    if band.upper >= lower * slip or band.lower <= upper / slip:
        problems.add(
            (*path, "plausible"),
            f"the band {span(band)} is so wide that a value in a mistaken unit would pass",
            f"narrow it to less than a factor of {slip.normalize():.5g} either way",
        )


def _unreachable_clearances(spec: Spec, problems: Problems) -> None:
    for (_, path), one in zip(
        _places("derived", spec.derived).items(), spec.derived.values(), strict=True
    ):
        if one.quantity is Quantity.CLEARANCE:
            _unreachable(spec, one, path, problems)


def _unreachable(spec: Spec, one: Derived, path: Path, problems: Problems) -> None:
    outer, inner = (spec.characteristics[id_] for id_ in one.of)
    least = _gap(outer.limits.lower, outer.unit, inner.limits.upper, inner.unit, one.unit)
    most = _gap(outer.limits.upper, outer.unit, inner.limits.lower, inner.unit, one.unit)
    lower, upper = one.limits.lower, one.limits.upper
    message = ""
    if least is not None and upper is not None and least > upper:
        message = f"sizes within limits give at least {_plain(least)}, but {upper:f} is the most"
    elif most is not None and lower is not None and most < lower:
        message = f"sizes within limits give at most {_plain(most)}, but {lower:f} is the least"
    if message:
        message = f"this clearance can never conform: {message} {one.unit}"
        problems.add(path, message, "correct the limits of one of the sizes, or of the clearance")


def _gap(
    outer: Decimal | None, outer_unit: str, inner: Decimal | None, inner_unit: str, unit: str
) -> Fraction | None:
    if outer is None or inner is None:
        return None
    return Fraction(outer) * factor(outer_unit, unit) - Fraction(inner) * factor(inner_unit, unit)


def _plain(value: Fraction) -> str:
    with localcontext() as context:
        context.prec = 9
        return format((Decimal(value.numerator) / Decimal(value.denominator)).normalize(), "f")


def _stages(spec: Spec, problems: Problems) -> None:
    for (_, path), fastener in zip(
        _places("fastener", spec.fasteners).items(), spec.fasteners.values(), strict=True
    ):
        _falling(fastener, path, problems)
        for index, stage in enumerate(fastener.stages):
            at = (*path, "stage", index)
            _slip(at, stage.limits, stage.plausible, stage.unit, problems)


def _falling(fastener: Fastener, path: Path, problems: Problems) -> None:
    """A later stage that asks for less torque than the one before tightens nothing."""
    pairs = zip(fastener.stages, fastener.stages[1:], strict=False)
    for index, (before, stage) in enumerate(pairs, 1):
        if stage.unit == before.unit and stage.target <= before.target:
            message = f"{stage.target:f} {stage.unit} is no more than the stage before"
            problems.add((*path, "stage", index, "target"), message, "check the order of stages")


def _order(spec: Spec, problems: Problems) -> None:
    place = {operation.id: index for index, operation in enumerate(spec.operations)}
    first = True
    for index, operation in enumerate(spec.operations):
        path = ("operation", index)
        for before in operation.after:
            if place[before] > index:
                message = f'"{operation.id}" waits for "{before}", which stands below it'
                problems.add((*path, "after"), message, "list operations in the order of work")
        if operation.kind in (Kind.TIGHTEN, Kind.TURN) and not operation.after and not first:
            message = f'"{operation.id}" waits for nothing, so it can be done at any time'
            problems.add(path, message, "name in after = [...] what must be complete before it")
        first = False
