"""What a step's part looks like: as the spec states, else as its words and gauges suggest."""

from __future__ import annotations

from typing import Final

from capture.quantity import dimension
from capture.spec.model import Characteristic, Kind, Spec
from capture.spec.shape import Shape
from capture.step import Step

WORDS: Final = {
    "journal": Shape.JOURNAL, "crankpin": Shape.JOURNAL, "shell": Shape.SHELL, "ring": Shape.RING,
    "piston": Shape.PISTON, "rod": Shape.ROD, "crankshaft": Shape.CRANKSHAFT,
    "crank": Shape.CRANKSHAFT, "bolt": Shape.BOLT, "stud": Shape.BOLT, "screw": Shape.BOLT,
    "cap": Shape.CAP, "chamber": Shape.CHAMBER, "block": Shape.BLOCK, "cylinder": Shape.BORE,
    "housing": Shape.CAPPED_BORE, "bearing": Shape.CAPPED_BORE, "deck": Shape.FACE,
}  # fmt: skip
"""Words of a part's id; the last one that is known counts: a ``rod-bolt`` is a bolt."""
SUITED: Final = {
    Shape.JOURNAL: "micrometer", Shape.SHELL: "micrometer", Shape.PISTON: "micrometer",
    Shape.BOLT: "micrometer", Shape.RING: "feeler", Shape.CHAMBER: "burette",
    Shape.CAPPED_BORE: "bore", Shape.BORE: "bore", Shape.FACE: "feeler",
}  # fmt: skip
"""The gauge that the size which is drawn of a shape is usually taken with: another gauge measures
something else of that part, and a drawing would light the wrong point."""


def shape_of(spec: Spec, step: Step) -> Shape:
    """What is drawn for a step that is about a part."""
    if step.kind is Kind.TURN:
        return Shape.CRANKSHAFT
    assert step.part is not None
    if step.kind is Kind.MEASURE:
        return of_size(spec, spec.characteristics[step.subject])
    return of_part(spec, step.part)


def of_size(spec: Spec, one: Characteristic) -> Shape:
    """What is drawn for a size."""
    stated = one.shape or spec.parts[one.part].shape
    measured = dimension(one.unit)
    if one.shape is None and measured == "temperature":
        return Shape.PROBE
    if stated is not None:
        return stated
    if measured != "length":
        return Shape.CHAMBER if measured == "volume" else Shape.PART
    kinds = {word for kind in one.instruments for word in kind.split("-")}
    guess = _by_word(one.part)
    if "bore" in kinds:
        return Shape.CAPPED_BORE if guess in (Shape.CAPPED_BORE, Shape.ROD) else Shape.BORE
    if guess is not None and SUITED.get(guess) in kinds:
        return guess
    if _is_fastener(spec, one.part):
        return Shape.BOLT
    if one.points[0].depth and one.points[-1].depth != one.points[0].depth:
        return Shape.JOURNAL
    return Shape.PART


def of_part(spec: Spec, part: str) -> Shape:
    """What is drawn of a part of which nothing is measured now."""
    guess = spec.parts[part].shape or _by_word(part)
    if guess is not None:
        return guess
    if _is_fastener(spec, part):
        return Shape.BOLT
    sizes = (one for one in spec.characteristics.values() if one.part == part)
    shapes = (of_size(spec, one) for one in sizes)
    return next((shape for shape in shapes if shape is not Shape.PROBE), Shape.PART)


def _by_word(part: str) -> Shape | None:
    found = [WORDS[word] for word in part.lower().split("-") if word in WORDS]
    return found[-1] if found else None


def _is_fastener(spec: Spec, part: str) -> bool:
    return any(group.part == part for group in spec.fasteners.values())
