"""Sizes beside their sisters': a reading, or a whole number, that is unlike the others."""

from __future__ import annotations

from collections.abc import Iterator

from capture.build import Build
from capture.findings.finding import Finding, size, small
from capture.findings.gather import Measured, measured
from capture.sisters import Misfit, re_examine, unlike


def readings(build: Build) -> Iterator[Finding]:
    """Readings that do not belong to their set, once all sets of the operation are complete."""
    for one in measured(build):
        if one.whole and one.characteristic.repeats == 1:
            numbers = list(one.complete())
            sets = list(one.complete().values())
            for misfit in re_examine(sets, one.u):
                yield _reading(one, numbers, misfit)


def _reading(one: Measured, numbers: list[int], misfit: Misfit) -> Finding:
    outlier, number, unit = misfit.outlier, numbers[misfit.set], one.unit
    part = one.characteristic.part
    detail = (
        f"{size(outlier.value)} {unit} lies {small(abs(outlier.distance))} {unit} from what the "
        f"others of {part} {number} lead to expect ({size(outlier.expected)} {unit}); "
        f"{small(outlier.allowed)} {unit} would be far."
    )
    shown = {
        "value": size(outlier.value),
        "expected": size(outlier.expected),
        "distance": small(abs(outlier.distance)),
        "allowed": small(outlier.allowed),
        "degrees_of_freedom": str(outlier.degrees_of_freedom),
    }
    if outlier.fits is not None and outlier.there is not None:
        like = numbers[outlier.fits]
        detail += (
            f" {part} {like} has {size(outlier.there)} {unit} at that point: was this one measured "
            "there?"
        )
        shown |= {"like": str(like), "there": size(outlier.there), "ratio": small(outlier.ratio)}
    return Finding(
        "reading-unlike-its-set", one.subject(number, misfit.point), detail + " Measure it again.",
        shown,
    )  # fmt: skip


def numbers(build: Build) -> Iterator[Finding]:
    """Numbers whose mean is unlike their sisters'."""
    for one in measured(build):
        if not one.whole or one.count < 4:
            continue
        for odd in unlike(one.complete(), one.u):
            yield Finding(
                "unlike-its-sisters",
                one.subject(odd.number),
                f"{one.characteristic.part} {odd.number} has {size(odd.mean)} {one.unit} in the "
                f"mean, {small(abs(odd.mean - odd.others))} {one.unit} from the mean of its "
                f"sisters ({size(odd.others)} {one.unit}); {small(odd.allowed)} {one.unit} would "
                "be far. Another size, or another part?",
                {
                    "mean": size(odd.mean),
                    "others": size(odd.others),
                    "distance": small(abs(odd.mean - odd.others)),
                    "allowed": small(odd.allowed),
                    "degrees_of_freedom": str(odd.degrees_of_freedom),
                },
            )
