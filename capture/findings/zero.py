"""Zero error rather than wear: all sizes of a characteristic shifted alike.

Wear and machining differ from one bore to the next; a gauge set on the wrong standard, or set
wrong, shifts all of them by the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from capture.build import Build
from capture.findings.chance import deviation
from capture.findings.finding import Finding, size, small
from capture.findings.gather import Measured, mean, measured

ALIKE = 3.0
"""A shift is common to all where it is this many times their scatter."""


def shifted(build: Build) -> Iterator[Finding]:
    """All numbers lie beyond the same limit, and differ little among themselves."""
    for one in measured(build):
        lower, upper = one.characteristic.limits.lower, one.characteristic.limits.upper
        means = [mean(sizes) for sizes in one.complete().values()]
        if lower is None or upper is None or len(means) < 2 or len(means) < one.count:
            continue
        above = min(means) > float(upper)
        if not above and not max(means) < float(lower):
            continue
        shift = mean(means) - (float(lower) + float(upper)) / 2.0
        scatter = deviation(means)
        if abs(shift) >= ALIKE * scatter:
            yield Finding(
                "all-shifted",
                one.operation,
                f"All {len(means)} lie {'above' if above else 'below'} their limits, "
                f"{small(abs(shift))} {one.unit} from the middle between them, and scatter by only "
                f"{small(scatter)} {one.unit}. Wear is seldom so even: look at the gauge's zero "
                "and at what it was set on.",
                {"shift": small(shift), "scatter": small(scatter), "count": str(len(means))},
            )


def two_gauges(build: Build) -> Iterator[Finding]:
    """The same size measured in two ways, and all of one shifted against the other."""
    for one, other in combinations(measured(build), 2):
        if _same_size(one, other):
            found = _against(one, other)
            if found is not None:
                yield found


def _same_size(one: Measured, other: Measured) -> bool:
    a, b = one.characteristic, other.characteristic
    return a.part == b.part and a.unit == b.unit and a.nominal_size == b.nominal_size is not None


def _against(one: Measured, other: Measured) -> Finding | None:
    mine, theirs = one.complete(), other.complete()
    apart = [mean(sizes) - mean(theirs[n]) for n, sizes in mine.items() if n in theirs]
    if len(apart) < 3 or one.u is None or other.u is None:
        return None
    shift, scatter = mean(apart), deviation(apart)
    expanded = 2.0 * math.hypot(one.u, other.u)
    if abs(shift) <= expanded or abs(shift) < ALIKE * scatter:
        return None
    return Finding(
        "gauges-disagree",
        one.operation,
        f"All {len(apart)} are {small(abs(shift))} {one.unit} {'more' if shift > 0 else 'less'} "
        f"than {other.operation} found (scatter {small(scatter)} {one.unit}); the uncertainties "
        f"explain {small(expanded)} {one.unit}. One of the two gauges is set wrong: "
        f"{size(mean([mean(s) for s in mine.values()]))} against "
        f"{size(mean([mean(s) for s in theirs.values()]))} {one.unit} in the mean.",
        {"shift": small(shift), "scatter": small(scatter), "explained": small(expanded)},
    )
