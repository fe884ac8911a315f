"""Limits as a spec file states them: limits of size, of torque, of a derived quantity."""

from __future__ import annotations

from decimal import Decimal, localcontext

from capture.errors import UnitError
from capture.formula.dimension import RATIO
from capture.quantity import dimension, unit_name
from capture.spec.model import Limits
from capture.spec.problems import choose, shown
from capture.spec.table import Table

SIZE_KEYS = (
    "nominal_size",
    "lower_limit_deviation",
    "upper_limit_deviation",
    "lower_limit_of_size",
    "upper_limit_of_size",
)
PLAIN_KEYS = ("lower_limit", "upper_limit")
UNLIMITED = Limits(None, None)


def unit(table: Table, allowed: tuple[str, ...]) -> str:
    """Our name for the unit at ``unit``; its dimension must be one of ``allowed``."""
    written = table.line("unit")
    if not written:
        return ""
    if written == RATIO and "ratio" in allowed:
        return RATIO
    try:
        name = unit_name(written)
        kind = dimension(name)
    except UnitError:
        table.problem("unit", f"{shown(written)} is not a known unit", f"write {_units(allowed)}")
        return ""
    if kind not in allowed:
        message = f'"{written}" is a unit of {kind}; here a unit of {choose(allowed)} is wanted'
        table.problem("unit", message, f"write {_units(allowed)}")
        return ""
    return name


def measures(unit: str) -> str:
    """What one of our units measures; ``ratio`` for ``1``."""
    return "ratio" if unit == RATIO else dimension(unit)


_EXAMPLES = {
    "length": '"mm", "in"',
    "torque": '"N·m", "lbf·ft"',
    "angle": '"°"',
    "temperature": '"°C"',
    "mass": '"g"',
    "volume": '"mL"',
    "pressure": '"kPa"',
    "force": '"kN"',
    "ratio": '"1" (a ratio)',
}


def _units(allowed: tuple[str, ...]) -> str:
    return choose([_EXAMPLES[kind] for kind in allowed])


def size_limits(table: Table) -> tuple[Decimal | None, Limits]:
    """Nominal size and limits of size, from deviations (ISO 286-1) or from sizes as such."""
    nominal = table.optional_number("nominal_size")
    lower = _size(table, "lower", nominal)
    upper = _size(table, "upper", nominal)
    limits = Limits(lower, upper)
    _judge(table, limits, SIZE_KEYS, "lower_limit_of_size", "lower_limit_deviation")
    return nominal, limits


def _size(table: Table, side: str, nominal: Decimal | None) -> Decimal | None:
    of_size, deviation = f"{side}_limit_of_size", f"{side}_limit_deviation"
    size = table.optional_number(of_size)
    offset = table.optional_number(deviation)
    if of_size in table and deviation in table:
        message = f"{deviation} and {of_size} both state the {side} limit"
        table.problem(deviation, message, "keep one of the two")
    if offset is None:
        return size
    if nominal is None:
        message = f"{deviation} needs a nominal size to start from"
        table.problem(deviation, message, f'add nominal_size = "…", or write {of_size}')
        return size
    return nominal + offset


def plain_limits(table: Table) -> Limits:
    """``lower_limit`` and ``upper_limit`` as they stand; at least one."""
    limits = Limits(table.optional_number("lower_limit"), table.optional_number("upper_limit"))
    _judge(table, limits, PLAIN_KEYS, "lower_limit", "lower_limit")
    return limits


def torque_limits(table: Table, target: Decimal) -> Limits:
    """Limits around ``target``: as they stand, or as a permissible deviation in percent."""
    percent = "permissible_deviation_percent"
    if percent not in table:
        limits = plain_limits(table)
    else:
        share = table.number(percent)
        if "lower_limit" in table or "upper_limit" in table:
            message = f"{percent} and limits both state the limits"
            table.problem(percent, message, "keep the percentage, or keep the limits")
        if not 0 < share < 100:
            table.problem(percent, f"{share} % is out of range", 'write more than 0, as "5"')
            return UNLIMITED
        with localcontext() as context:
            context.prec = 60
            width = (abs(target) * share).scaleb(-2)
            limits = Limits(target - width, target + width)
    if table.sound and not _inside(target, limits):
        table.problem(
            "target",
            f"the target {target:f} lies outside its limits {span(limits)}",
            "correct the target or the limits",
        )
    return limits


def _judge(table: Table, limits: Limits, keys: tuple[str, ...], key: str, other: str) -> None:
    """Notes missing and reversed limits, unless one of ``keys`` is wrong already."""
    if limits.lower is None and limits.upper is None:
        if table.fine(*keys):
            side = "_of_size" if key.endswith("of_size") else ""
            mend = f'write lower_limit{side} = "…", upper_limit{side} = "…", or both'
            table.problem("", "there are no limits: nothing has a default limit", mend)
    elif limits.lower is not None and limits.upper is not None and limits.lower > limits.upper:
        where = key if key in table else other
        message = f"the lower limit {limits.lower:f} is above the upper limit {limits.upper:f}"
        table.problem(where, message, "exchange the two, or correct the one that is wrong")


def _inside(value: Decimal, limits: Limits) -> bool:
    lower, upper = limits.lower, limits.upper
    return (lower is None or value >= lower) and (upper is None or value <= upper)


def span(limits: Limits) -> str:
    """``85.99 to 86.01``, ``at least 2``, ``at most 9``: limits in words."""
    if limits.lower is None:
        return "without end" if limits.upper is None else f"at most {limits.upper:f}"
    if limits.upper is None:
        return f"at least {limits.lower:f}"
    return f"{limits.lower:f} to {limits.upper:f}"
