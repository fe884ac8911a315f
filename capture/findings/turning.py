"""A turning torque that jumps after one cap or one cylinder points at that one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from capture.build import Build
from capture.findings.finding import Finding, small
from capture.findings.gather import answers, uncertainty
from capture.sisters import unlike
from capture.spec.model import Kind


def jumps(build: Build) -> Iterator[Finding]:
    """Rises unlike all other rises of the test, in the order in which it was done."""
    for operation, found, _ in answers(build, Kind.TURN):
        done = sorted(found, key=lambda pair: pair[1].seq)
        rises = {}
        us = [uncertainty(fill) for _, fill in done]
        for (_, before), (step, after) in pairwise(done):
            assert before.value is not None
            assert after.value is not None
            rises[step.number] = [float(after.value) - float(before.value)]
        known = [u for u in us if u is not None]
        u = math.sqrt(2.0) * max(known) if known else None
        units = {step.number: (step.unit, step.part) for step, _ in done}
        for odd in unlike(rises, u):
            if odd.mean > odd.others:
                unit, part = units[odd.number]
                yield Finding(
                    "torque-jump",
                    f"{operation}/{odd.number}",
                    f"The turning torque rose by {small(odd.mean)} {unit} at {part} {odd.number}, "
                    f"at the others by {small(odd.others)} {unit} in the mean; "
                    f"{small(odd.allowed)} {unit} more would be much. Look at that one before "
                    "going on.",
                    {
                        "rise": small(odd.mean),
                        "others": small(odd.others),
                        "allowed": small(odd.allowed),
                        "unit": unit,
                    },
                )
