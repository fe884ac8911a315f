"""Which way an axis goes on a drawing: degrees against the clock from the right."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

from capture.findings.cap import along_split

ENGINE: Final[Mapping[str, float]] = {
    "thrust": 90, "opposite": 270, "across": 90, "intake": 90, "exhaust": 270,
    "axial": 0, "along": 0, "pin": 0, "front": 180, "rear": 0, "forward": 180, "rearward": 0,
    "left": 180, "right": 0,
    "vertical": 90, "horizontal": 0, "top": 90, "bottom": 270, "slanted": 45, "diagonal": 45,
}  # fmt: skip
"""From above, the front of the engine on the left and its thrust side at the top. Common practice
of drawing, no source: a spec that means it otherwise states its directions."""
CAP: Final[Mapping[str, float]] = {**ENGINE, "along": 90, "across": 0, "off": 90, "square": 90}
"""Along the axis of a bore that a cap closes: the split line lies flat, the rod stands upright."""
_DEGREES: Final = re.compile(r"([0-9]{1,3})(?:deg)?")


def directions(axes: Sequence[str], *, cap: bool = False, ways: bool = False) -> list[float]:
    """Degrees of each axis, by its word; spread evenly from 0 on where any word is unknown or two
    would fall together. ``cap``: of a bore that a cap closes. ``ways``: an axis has one end only,
    so that opposite ones differ."""
    found = [_known(word, cap) for word in axes]
    turn = 360.0 if ways else 180.0
    known = [one % turn for one in found if one is not None]
    if len(known) == len(axes) == len(set(known)):
        return known
    if len(axes) == 1:
        return [90.0 if cap else 0.0]
    return [turn * at / len(axes) for at in range(len(axes))]


def _known(axis: str, cap: bool) -> float | None:
    if cap and along_split(axis):
        return 0.0
    degrees = _DEGREES.fullmatch(axis)
    if degrees:
        return float(degrees[1])
    names = CAP if cap else ENGINE
    return next((names[word] for word in axis.lower().split("-") if word in names), None)
