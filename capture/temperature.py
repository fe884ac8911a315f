"""Sizes brought to 20 °C, the temperature at which a size on a drawing is meant (ISO 1).

A warm part is larger than at 20 °C, and a warm scale or setting standard shows less than there is;
both are taken out, in the exact form and not to first order::

    size at 20 °C = shown · (1 + α_scale·(t_scale − 20)) / (1 + α_part·(t_part − 20))

A comparative gauge shows only a deviation; what expands with it is the standard it was set on::

    size at 20 °C = (standard · (1 + α_standard·(t_standard − 20)) + deviation) / (1 + α_part·…)

Corrections are exact: they commute with every change of unit. Coefficients come from the spec and
the bench, never from here; nothing is corrected without them.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import Final, NamedTuple

from capture.quantity import Number, exact, text
from capture.spec.model import Limits
from capture.uncertainty import Contribution

REFERENCE: Final = 20
"""°C (ISO 1)."""
APART: Final = Fraction(2)
"""°C between part and gauge that is warned of: our proposal, no source."""
SHARE: Final = Fraction(1, 10)
"""Of the tolerance, beyond which a correction is warned of: our proposal, no source."""
_MILLIONTH: Final = Fraction(1, 1_000_000)
_COLDEST: Final = Fraction("-273.15")


class Warmth(NamedTuple):
    """How warm something is and how it expands."""

    celsius: Number
    coefficient: Decimal
    """Of linear expansion, 10⁻⁶ per °C."""


class Unsure(NamedTuple):
    """Standard uncertainties of a warmth; None is not stated."""

    celsius: float | None
    coefficient: float | None
    """10⁻⁶ per °C."""


NOT_STATED: Final = Unsure(None, None)


class Correction(NamedTuple):
    """A size at 20 °C beside what it was before, all in one unit."""

    value: Number
    uncorrected: Number
    correction: Number
    """What was added: value less uncorrected."""


def corrected(shown: Number, part: Warmth, scale: Warmth | None) -> Correction:
    """The size at 20 °C of a part that an absolute gauge shows as ``shown``.

    ``scale``: of the gauge; None where its expansion is not known, and then it is taken to be right
    as it is and ``warnings`` says so. Raises ValueError for an impossible temperature or a
    coefficient with which nothing would be left.
    """
    true = Fraction(shown) * (Fraction(1) if scale is None else growth(scale))
    return _correction(true / growth(part), Fraction(shown))


def corrected_comparative(
    standard: Number, deviation: Number, part: Warmth, warm_standard: Warmth | None
) -> Correction:
    """The size at 20 °C of a part that differs by ``deviation`` from a setting standard whose size
    is ``standard`` at 20 °C; one unit. ``warm_standard`` None: see ``corrected``."""
    grown = Fraction(1) if warm_standard is None else growth(warm_standard)
    true = Fraction(standard) * grown + Fraction(deviation)
    return _correction(true / growth(part), Fraction(standard) + Fraction(deviation))


def _correction(value: Fraction, uncorrected: Fraction) -> Correction:
    return Correction(exact(value), exact(uncorrected), exact(value - uncorrected))


def growth(warmth: Warmth) -> Fraction:
    """How many times its size at 20 °C something this warm is."""
    celsius = Fraction(warmth.celsius)
    if celsius < _COLDEST:
        raise ValueError(f"{text(exact(celsius))} °C is below the coldest there is")
    grown = 1 + Fraction(warmth.coefficient) * _MILLIONTH * (celsius - REFERENCE)
    if grown <= 0:
        raise ValueError(
            f"a coefficient of {warmth.coefficient} leaves nothing of a part at "
            f"{text(exact(celsius))} °C: give it in 10⁻⁶ per °C, as 11.5"
        )
    return grown


def contributions(
    size: Number, part: Warmth, scale: Warmth | None, of_part: Unsure, of_scale: Unsure
) -> list[Contribution]:
    """What temperatures and coefficients leave open in a corrected size, in the size's unit.

    First-order sensitivities: the part's grow with its own temperature and coefficient, the scale's
    against them. Taken as independent, which is never too small where one thermometer served for
    both. What is not stated gives no line; ``warnings`` names it.
    """
    found = _sensitive(size, part, of_part, "part")
    if scale is not None:
        found += _sensitive(size, scale, of_scale, "scale")
    return found


def _sensitive(size: Number, warmth: Warmth, unsure: Unsure, whose: str) -> list[Contribution]:
    per_growth = float(Fraction(size) * _MILLIONTH / growth(warmth))
    away = float(Fraction(warmth.celsius) - REFERENCE)
    found = []
    if unsure.celsius is not None:
        rate = per_growth * float(warmth.coefficient)
        found.append(_contribution(f"temperature of the {whose}", rate, unsure.celsius))
    if unsure.coefficient is not None:
        found.append(
            _contribution(f"expansion of the {whose}", per_growth * away, unsure.coefficient)
        )
    return found


def _contribution(name: str, rate: float, u: float) -> Contribution:
    return Contribution(name, abs(rate) * u, math.inf)


def warnings(
    correction: Correction,
    part: Warmth,
    scale: Warmth | None,
    limits: Limits,
    of_part: Unsure = NOT_STATED,
    of_scale: Unsure = NOT_STATED,
) -> tuple[str, ...]:
    """What a reader of a corrected size must know; ``limits`` in the size's unit."""
    found = []
    if scale is None:
        found.append("the gauge's own expansion is not stated: only the part is corrected")
    elif (apart := abs(Fraction(part.celsius) - Fraction(scale.celsius))) > APART:
        found.append(
            f"part and gauge differ by {text(exact(apart), 1)} °C, more than {text(exact(APART))}: "
            "let them come to one temperature"
        )
    share = _share(correction, limits)
    if share is not None and share > SHARE:
        found.append(
            f"the correction to 20 °C is {text(exact(share * 100), 0)} % of the tolerance, more "
            f"than {text(exact(SHARE * 100))} %"
        )
    unstated = _unstated(of_part, "part") + (_unstated(of_scale, "scale") if scale else [])
    if unstated:
        found.append(f"uncertainty not stated of {' and '.join(unstated)}")
    return tuple(found)


def _share(correction: Correction, limits: Limits) -> Fraction | None:
    """The correction as a share of the tolerance; None without limits on both sides."""
    if limits.lower is None or limits.upper is None or limits.lower == limits.upper:
        return None
    return abs(Fraction(correction.correction)) / abs(
        Fraction(limits.upper) - Fraction(limits.lower)
    )


def _unstated(unsure: Unsure, whose: str) -> list[str]:
    found = []
    if unsure.celsius is None:
        found.append(f"the temperature of the {whose}")
    if unsure.coefficient is None:
        found.append(f"the expansion of the {whose}")
    return found
