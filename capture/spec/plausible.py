"""The band outside which a reading is questioned instead of evaluated.

What the file states stands. Where it is silent the band is worked out from the limits:

1. A missing limit counts as the nominal size; without one, as zero for an upper limit alone (a
   lower limit alone then has to be joined by a stated band).
2. The band reaches beyond either limit by the larger of ten tolerances and 1 % of the size,
   rounded up to the last decimal that the limits are written with.
3. Where the limits are not negative, neither is the band.
4. It ends, at the latest, half-way (as a ratio) to where a reading within limits would lie if its
   unit were mistaken: a factor of 25.4 for a length (inch and mm), 1.3558… for a torque (lbf·ft
   and N·m). So the mistake is always outside the band. A limit that the mistake itself can reach
   (limits further apart than the factor) is not narrowed: then no band can tell.

Rules and numbers are ours (no source); they err to the wide side, because a part may be far out.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_CEILING, Context, Decimal, localcontext
from functools import lru_cache

from capture.quantity import factor
from capture.spec.limits import UNLIMITED, measures, span
from capture.spec.model import Limits
from capture.spec.table import Table

KEYS = ("lower", "upper")
_TOLERANCES = 10
_SHARE = Decimal("0.01")
_ROUND = Context(prec=4)
_NOTHING = Limits(Decimal(0), Decimal(0))


def plausible(table: Table, limits: Limits, nominal: Decimal | None, unit: str) -> Limits:
    """The band stated in ``table``, else the one worked out; both ends set.

    ``nominal`` is the nominal size or the target torque; all in ``unit``.
    """
    stated = table.table("plausible", KEYS)
    if stated is not None:
        return _stated(table, stated, limits)
    if not table.sound:
        return _NOTHING
    lower = limits.lower if limits.lower is not None else nominal
    upper = limits.upper if limits.upper is not None else nominal
    if upper is None:
        table.problem(
            "",
            "with a lower limit alone, a plausible band cannot be worked out",
            'add plausible = { lower = "…", upper = "…" }, or nominal_size',
        )
        return _NOTHING
    lower = min(Decimal(0), upper) if lower is None else lower
    return silent(Limits(min(lower, upper), max(lower, upper)), unit)


def _stated(table: Table, stated: Table, limits: Limits) -> Limits:
    band = Limits(stated.number("lower"), stated.number("upper"))
    if not stated.sound:
        table.sound = False
    elif limits == UNLIMITED and not _contains(band, limits):
        message = f"the plausible band {span(band)} holds nothing"
        table.problem("plausible", message, "write lower and upper in this order")
    elif not _contains(band, limits):
        message = f"the plausible band {span(band)} does not contain the limits {span(limits)}"
        table.problem("plausible", message, "widen the band beyond both limits")
    return band


def own(table: Table, inside: Sequence[Decimal], why: str) -> Limits:
    """The band stated in ``table``, which nothing else could tell; it holds all of ``inside``.

    ``why`` ends the sentence where it is missing."""
    stated = table.table("plausible", KEYS)
    if stated is None:
        if "plausible" not in table:
            mend = 'add plausible = { lower = "…", upper = "…" }'
            table.problem("", f"a plausible band cannot be worked out: {why}", mend)
        return _NOTHING
    ends = Limits(min(inside), max(inside)) if inside else Limits(None, None)
    return _stated(table, stated, ends)


def around(settings: Sequence[Decimal], percent: Decimal, unit: str) -> Limits:
    """The band for settings of a tool, each off by at most ``percent``: from that of the smallest
    to that of the largest."""
    with localcontext() as context:
        context.prec = 60
        least, most = (
            silent(Limits(one - one * percent / 100, one + one * percent / 100), unit)
            for one in (min(settings), max(settings))
        )
    return Limits(least.lower, most.upper)


def _contains(band: Limits, limits: Limits) -> bool:
    assert band.lower is not None
    assert band.upper is not None
    ends = [end for end in (limits.lower, limits.upper) if end is not None]
    return band.lower < band.upper and all(band.lower <= end <= band.upper for end in ends)


def silent(limits: Limits, unit: str) -> Limits:
    """The band for limits that are both set, by the rules at the head of this module."""
    assert limits.lower is not None
    assert limits.upper is not None
    with localcontext() as context:
        context.prec = 60
        size = max(abs(limits.lower), abs(limits.upper))
        width = max(_TOLERANCES * (limits.upper - limits.lower), _SHARE * size)
        width = width.quantize(limits.upper - limits.lower, ROUND_CEILING)
        lower, upper = limits.lower - width, limits.upper + width
        if limits.lower >= 0:
            lower = max(lower, Decimal(0))
        slip = slip_factor(unit)
        if slip is not None and limits.lower * slip > limits.upper:
            product = limits.lower * limits.upper
            lower = max(lower, min(limits.lower, _ROUND.plus((product / slip).sqrt())))
            upper = min(upper, max(limits.upper, _ROUND.plus((product * slip).sqrt())))
        return Limits(lower, upper)


@lru_cache(maxsize=64)
def slip_factor(unit: str) -> Decimal | None:
    """By how much a value of the same dimension is off when its unit is mistaken, or None."""
    pair = {"length": ("in", "mm"), "torque": ("lbf·ft", "N·m")}.get(measures(unit))
    if pair is None:
        return None
    exact = factor(*pair)
    with localcontext() as context:
        context.prec = 28
        return Decimal(exact.numerator) / Decimal(exact.denominator)
