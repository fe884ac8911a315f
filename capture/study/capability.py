"""Capability and performance indices, with confidence intervals.

Capability (Cp, Cpk …) speaks of a process under statistical control, from the scatter inside its
samples; performance (Pp, Ppk …) of all readings as they came (ISO 22514-2; terms from memory). The
limits come from the spec. All of it takes the readings as normally distributed.

Intervals: Cp from χ², exact; Cpl and Cpu from the noncentral t distribution, exact; Cpk with two
limits by Bissell's approximation (1990), as the NIST/SEMATECH handbook 7.1.6 gives it; Cpm after
Boyles (1991), with the degrees of freedom of s where he has n. From memory but for the handbook.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from capture.quantity import Number
from capture.spec.model import Limits
from capture.study.moments import moments, squares
from capture.study.quantile import check_level, chi_square, noncentrality, normal


class Index(NamedTuple):
    """One index and its two-sided confidence interval."""

    name: str
    value: float
    low: float
    high: float


class Capability(NamedTuple):
    """Indices, and what they are made of, in the unit of the readings."""

    n: int
    mean: float
    standard_deviation: float
    degrees_of_freedom: int
    """Of the standard deviation."""
    indices: tuple[Index, ...]

    def of(self, name: str) -> Index:
        """The index of this name. Raises KeyError where it is not given."""
        for index in self.indices:
            if index.name == name:
                return index
        raise KeyError(name)


class _Process(NamedTuple):
    n: int
    mean: float
    deviation: float
    freedom: int
    tail: float


def capability(
    samples: Sequence[Sequence[Number]],
    limits: Limits,
    target: Number | None = None,
    level: float = 0.95,
) -> Capability:
    """Cp, Cpl, Cpu, Cpk and (with a target and both limits) Cpm from the scatter inside samples.

    The samples may differ in size; their variances are pooled. Cp, Cpk and Cpm are given as far as
    the limits allow. Raises ValueError without a limit, where the upper is not above the lower, or
    where no sample has two readings or the readings inside the samples do not differ.
    """
    values = [value for sample in samples for value in sample]
    freedom = len(values) - len(samples)
    if freedom < 1 or not all(samples):
        raise ValueError("Capability takes samples that each have a reading, and one with two.")
    pooled = sum((squares(sample) for sample in samples), Fraction(0))
    return summary(
        len(values),
        moments(values).mean,
        math.sqrt(pooled / freedom),
        limits,
        target,
        level,
        freedom,
    )


def performance(
    values: Sequence[Number], limits: Limits, target: Number | None = None, level: float = 0.95
) -> Capability:
    """Pp, Ppl, Ppu, Ppk and (with a target and both limits) Ppm from all readings together.

    Raises ValueError as ``capability`` does.
    """
    if len(values) < 2:
        raise ValueError(f"Performance takes two readings or more, not {len(values)}.")
    n, middle, deviation = moments(values)
    found = summary(n, middle, deviation, limits, target, level)
    renamed = tuple(one._replace(name="P" + one.name[1:]) for one in found.indices)
    return found._replace(indices=renamed)


def summary(
    n: int,
    mean: float,
    standard_deviation: float,
    limits: Limits,
    target: Number | None = None,
    level: float = 0.95,
    degrees_of_freedom: int | None = None,
) -> Capability:
    """Indices from a mean and standard deviation of ``n`` readings (n − 1 degrees of freedom where
    none are given). Raises ValueError as ``capability`` does."""
    check_level(level)
    _check(limits)
    freedom = n - 1 if degrees_of_freedom is None else degrees_of_freedom
    if freedom < 1:
        raise ValueError(f"A capability takes two readings or more, not {n}.")
    if not standard_deviation > 0:
        raise ValueError(
            "The readings do not differ, so there is no scatter to set against the limits: "
            "a finer gauge is needed, or more readings."
        )
    process = _Process(n, mean, standard_deviation, freedom, (1 - level) / 2)
    return Capability(
        n, mean, standard_deviation, freedom, tuple(_indices(process, limits, target))
    )


def _check(limits: Limits) -> None:
    if limits.lower is None and limits.upper is None:
        raise ValueError("Capability takes a lower or an upper limit, from the spec.")
    if limits.lower is not None and limits.upper is not None and not limits.lower < limits.upper:
        raise ValueError(f"The upper limit {limits.upper} is not above the lower {limits.lower}.")


def _indices(process: _Process, limits: Limits, target: Number | None) -> list[Index]:
    lower, upper = limits.lower, limits.upper
    below = None if lower is None else _one_sided("Cpl", process.mean - float(lower), process)
    above = None if upper is None else _one_sided("Cpu", float(upper) - process.mean, process)
    if below is None or above is None:
        only = below or above
        assert only is not None
        return [only, only._replace(name="Cpk")]
    assert lower is not None
    assert upper is not None
    width = float(upper) - float(lower)
    found = [_scaled("Cp", width / (6 * process.deviation), process.freedom, process.tail)]
    found += [below, above, _nearer(min(below.value, above.value), process)]
    if target is not None:
        found.append(_about(width, process.mean - float(target), process))
    return found


def _one_sided(name: str, room: float, process: _Process) -> Index:
    """(mean − limit) / 3s: 3√n times it has a noncentral t distribution."""
    value = room / (3 * process.deviation)
    scale = 3 * math.sqrt(process.n)
    ends = [
        noncentrality(p, process.freedom, scale * value) / scale
        for p in (1 - process.tail, process.tail)
    ]
    return Index(name, value, ends[0], ends[1])


def _scaled(name: str, value: float, freedom: float, tail: float) -> Index:
    """An index whose square is a constant over a variance with χ² of ``freedom``."""
    ends = [math.sqrt(chi_square(p, freedom) / freedom) for p in (tail, 1 - tail)]
    return Index(name, value, value * ends[0], value * ends[1])


def _nearer(value: float, process: _Process) -> Index:
    """Cpk with two limits."""
    error = math.sqrt(1 / (9 * process.n) + value * value / (2 * process.freedom))
    reach = normal(1 - process.tail) * error
    return Index("Cpk", value, value - reach, value + reach)


def _about(width: float, off: float, process: _Process) -> Index:
    """Cpm: the scatter is taken about the target instead of the mean."""
    value = width / (6 * math.hypot(process.deviation, off))
    share = (off / process.deviation) ** 2
    freedom = process.freedom * (1 + share) ** 2 / (1 + 2 * share)
    return _scaled("Cpm", value, freedom, process.tail)
