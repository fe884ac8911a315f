"""What a study's figures mean, in sentences.

No sentence says whether a gauge is good enough: that is for the limits of whoever uses it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Context, Decimal
from typing import Final

from capture.study.anova import Line
from capture.study.bias import Bias, Linearity
from capture.study.component import Component, Variation, Wanted
from capture.study.ranges import RangeStudy

_SHOWN: Final = Context(prec=3)
_NAMED: Final = 5
ACCEPTANCE: Final = (
    "Which shares are acceptable is for your own quality system to say; none is set here."
)

TOGETHER: Final = (
    "Biases here take the readings of all appraisers together and as independent; where appraisers "
    "differ, look at the bias of each."
)


def shown(value: float) -> str:
    """Three significant digits, without an exponent."""
    rounded = _SHOWN.create_decimal_from_float(value)
    if not rounded:
        return "0"
    last = min(0, rounded.adjusted() - 2)
    return format(rounded.quantize(Decimal(1).scaleb(last)), "f")


def of_variation(found: Variation, wanted: Wanted, unit: str) -> list[str]:
    """What the gauge adds to what is read, and what it can tell apart."""
    gauge = found.of("gauge")
    sentences = [_gauge(gauge, wanted, unit)]
    if gauge.standard_deviation == 0:
        sentences.append(
            "No repeat differs from another: the gauge's steps are too coarse to show its scatter, "
            "or the readings were not independent."
        )
    elif found.sizes_told_apart is not None:
        count = found.sizes_told_apart
        sentences.append(
            "Between these samples it can tell nothing apart: they differ by less than it scatters."
            if count < 1
            else f"It can tell {count} group{'s' if count > 1 else ''} of these samples apart."
        )
    ids = [one.id for one in found.components]
    if "between_appraisers" in ids and gauge.standard_deviation:
        sentences.append(_larger(found))
    return sentences


def _gauge(gauge: Component, wanted: Wanted, unit: str) -> str:
    size, spread = gauge.standard_deviation, f"{wanted.spread:g}"
    text = (
        f"Repeatability and reproducibility together have a standard deviation of {shown(size)} "
        f"{unit}"
    )
    if gauge.low is not None and gauge.high is not None:
        text += f" ({_percent(wanted.level)} between {shown(gauge.low)} and {shown(gauge.high)})"
    shares = []
    if gauge.percent_of_all_variation is not None:
        shares.append(f"{shown(gauge.percent_of_all_variation)} % of the total variation")
    if gauge.percent_of_tolerance is not None:
        shares.append(
            f"{spread} of them span {shown(gauge.percent_of_tolerance)} % of the tolerance"
        )
    return "; ".join([text, *shares]) + "."


def _larger(found: Variation) -> str:
    repeat, gauge = (
        found.of("repeatability").standard_deviation,
        found.of("gauge").standard_deviation,
    )
    if 2 * repeat * repeat >= gauge * gauge:
        return (
            "Most of it is repeatability: the gauge, its holding and the sample's own form, more "
            "than the appraisers."
        )
    return (
        "Most of it is between appraisers: how they hold, set and read the gauge, more than the "
        "gauge itself."
    )


def of_interaction(line: Line, pooled: bool, at: float) -> str:
    """Whether appraisers differ by sample, and what was done about it."""
    chance = "nothing varies" if line.p is None else f"p {_chance(line.p)}"
    if pooled:
        return (
            f"Appraisers do not differ from sample to sample beyond chance ({chance}, not below "
            f"{at:g}): interaction and repeatability are taken together."
        )
    return (
        f"Appraisers differ from sample to sample ({chance}, below {at:g}): the interaction is "
        "kept. See which samples one appraiser measures otherwise than the rest."
    )


def of_ranges(study: RangeStudy, appraisers: Sequence[str], unit: str) -> list[str]:
    """What the range chart and the chart of means show."""
    limit = f"{shown(study.range_lower)} to {shown(study.range_upper)} {unit}"
    cells = len(appraisers) * len(study.sample_means)
    if not study.mean_range:
        return []
    if study.outside:
        named = ", ".join(
            f"appraiser {appraisers[one.appraiser]} on sample {one.sample + 1} "
            f"({shown(one.range)} {unit})"
            for one in study.outside[:_NAMED]
        )
        more = len(study.outside) - _NAMED
        first = (
            f"Repeats range outside what chance explains ({limit}): {named}"
            f"{f' and {more} more' if more > 0 else ''}. Find the cause and measure again before "
            "relying on the rest."
        )
    else:
        first = f"The repeats of every sample range within what chance explains ({limit})."
    if cells == len(appraisers):
        return [first]
    return [
        first,
        f"{study.means_outside} of {cells} means lie outside the limits that repeatability alone "
        "would draw: the more of them, the better the gauge tells the samples apart.",
    ]


def of_bias(found: Sequence[Bias], level: float, unit: str) -> list[str]:
    """Where readings lie off their references."""
    off = [one for one in found if one.zero_inside is False]
    judged = [one for one in found if one.zero_inside is not None]
    if not judged:
        return ["A bias takes a second reading of its reference before chance can be told from it."]
    if not off:
        return [f"No reference shows a bias at {_percent(level)}: zero lies in every interval."]
    return [
        f"At reference {_size(one.reference)} {unit} readings lie {_off(one.bias, unit)} "
        f"({_percent(level)} between {shown(one.low or 0.0)} and {shown(one.high or 0.0)})."
        for one in off
    ]


def of_linearity(found: Linearity, level: float, unit: str) -> str:
    """Whether the bias changes with size."""
    line = found.line
    if found.slope_low <= 0 <= found.slope_high:
        slope = f"The bias does not change with size beyond chance (p {_chance(line.slope_p)})"
    else:
        slope = (
            f"The bias changes by {shown(line.slope)} {unit} for each {unit} of size "
            f"(p {_chance(line.slope_p)})"
        )
    inside = (
        "zero lies inside the band at every reference"
        if found.zero_inside
        else "zero lies outside the band at "
        + ", ".join(_size(one.reference) for one in found.band if not one.zero_inside)
        + f" {unit}"
    )
    return f"{slope}; {inside} ({_percent(level)})."


def _chance(p: float | None) -> str:
    return "is not known" if p is None else "below 0.001" if p < 0.001 else f"= {shown(p)}"


def _off(value: float, unit: str) -> str:
    return f"{shown(abs(value))} {unit} too {'large' if value > 0 else 'small'}"


def _size(value: float) -> str:
    """A reference with the digits it needs."""
    return format(Decimal(repr(value)).normalize(), "f")


def _percent(level: float) -> str:
    return f"{100 * level:g} %"
