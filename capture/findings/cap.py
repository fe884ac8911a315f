"""Bores closed by a cap: larger along the split line, or of another pattern than their neighbours.

Dirt or oil between cap and register lifts the cap and makes the bore larger across the joint it
stands in; a reversed or swapped cap gives a bore another shape than its neighbours have (common
practice, no source). Which axis lies along the split line is told by the axis' word.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from capture.build import Build
from capture.findings.chance import RARE, deviation, left_out
from capture.findings.finding import Finding, small
from capture.findings.gather import Measured, mean, measured
from capture.sisters import unlike
from capture.student import quantile

SPLIT = frozenset({"split", "parting"})
NOT_ALONG = frozenset({"across", "square", "off", "from", "to", "opposite"})


def along_split(axis: str) -> bool:
    """Whether an axis' word says that it lies along the split line: ``split``, ``along-split``;
    not ``square-to-split``."""
    words = set(axis.split("-"))
    return bool(words & SPLIT) and not words & NOT_ALONG


def along(build: Build) -> Iterator[Finding]:
    """Bores larger along the split line than across it: one unlike the others, or all of them."""
    for one in measured(build):
        points = one.characteristic.points
        here = [index for index, point in enumerate(points) if along_split(point.axis)]
        there = [index for index, point in enumerate(points) if index not in here]
        if not here or not there:
            continue
        wider = {
            number: mean([sizes[i] for i in here]) - mean([sizes[i] for i in there])
            for number, sizes in one.complete().items()
        }
        yield from _one_wider(one, wider)
        yield from _all_wider(one, wider)


def _one_wider(one: Measured, wider: dict[int, float]) -> Iterator[Finding]:
    u = None if one.u is None else math.sqrt(2.0) * one.u
    for odd in unlike({number: [value] for number, value in wider.items()}, u):
        if odd.mean > odd.others:
            yield Finding(
                "wider-along-split",
                one.subject(odd.number),
                f"{one.characteristic.part} {odd.number} is {small(odd.mean)} {one.unit} larger "
                f"along the split line than across it, the others {small(odd.others)} {one.unit}. "
                "Look for oil or dirt between cap and register.",
                {
                    "along_less_across": small(odd.mean),
                    "others": small(odd.others),
                    "allowed": small(odd.allowed),
                },
            )


def _all_wider(one: Measured, wider: dict[int, float]) -> Iterator[Finding]:
    values = list(wider.values())
    if one.u is None or len(values) < max(3, one.count):
        return
    expanded = 2.0 * math.sqrt(2.0) * one.u
    middle, scatter = mean(values), deviation(values)
    chance = quantile(2.0 * RARE, len(values) - 1) * scatter / math.sqrt(len(values))
    if min(values) > 0.0 and middle > expanded and middle > chance:
        yield Finding(
            "wider-along-split",
            one.operation,
            f"All {len(values)} are larger along the split line than across it, by "
            f"{small(middle)} {one.unit} in the mean; the uncertainty explains {small(expanded)} "
            f"{one.unit}. Were mating faces dry and clean, and the caps tightened?",
            {"along_less_across": small(middle), "explained": small(expanded)},
        )


def patterns(build: Build) -> Iterator[Finding]:
    """Numbers whose pattern over the axes is unlike that of all the others."""
    for one in measured(build):
        axes = _by_axis(one)
        if not one.whole or len(axes) < 4:
            continue
        names = list(dict.fromkeys(point.axis for point in one.characteristic.points))
        yield from _patterns(one, axes, names)


def _by_axis(one: Measured) -> dict[int, list[float]]:
    """Number → mean over the depths by axis, less the mean of all; none with one axis only."""
    points = one.characteristic.points
    names = list(dict.fromkeys(point.axis for point in points))
    if len(names) < 2:
        return {}
    found = {}
    for number, sizes in one.complete().items():
        line = [
            mean([size for size, point in zip(sizes, points, strict=True) if point.axis == name])
            for name in names
        ]
        middle = mean(line)
        found[number] = [size - middle for size in line]
    return found


def _patterns(one: Measured, axes: dict[int, list[float]], names: list[str]) -> Iterator[Finding]:
    """Two-way analysis of the others without replication; the furthest axis of each by t."""
    width, count = len(names), len(axes) - 1
    degrees = (count - 1) * (width - 1)
    reach = quantile(RARE / (len(axes) * max(1, width - 1)), degrees) * math.sqrt(
        (1.0 - 1.0 / width) * (1.0 + 1.0 / count)
    )
    others = [left_out([line[a] for line in axes.values()]) for a in range(width)]
    for at, (number, own) in enumerate(axes.items()):
        scatter = math.fsum(of[at][1] for of in others) / degrees
        allowed = reach * math.sqrt(max(scatter, (one.u or 0.0) ** 2))
        usual = [of[at][0] for of in others]
        worst = max(range(width), key=lambda a: abs(own[a] - usual[a]))
        if allowed > 0.0 and abs(own[worst] - usual[worst]) > allowed:
            yield _odd_pattern(one, number, names[worst], own[worst], usual[worst], allowed)


def _odd_pattern(
    one: Measured, number: int, axis: str, own: float, usual: float, allowed: float
) -> Finding:
    return Finding(
        "pattern-unlike-its-neighbours",
        one.subject(number),
        f"{one.characteristic.part} {number} is {small(own)} {one.unit} from its own mean along "
        f"{axis}, its neighbours {small(usual)} {one.unit}; {small(allowed)} {one.unit} apart "
        "would be far. If it is closed by a cap: has that been reversed or swapped?",
        {
            "axis": axis,
            "own": small(own),
            "others": small(usual),
            "allowed": small(allowed),
        },
    )
