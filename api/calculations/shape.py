"""Form and room: sizes by point, clearances of a pair, bearings, end float."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, ClassVar

from pydantic import Field

from api.calculations.forms import (
    Answer,
    Data,
    Digits,
    Fields,
    Input,
    LengthUnit,
    Size,
    number,
    shown,
)
from capture import shapes
from capture.quantity import Number
from capture.spec.model import Point

Name = Annotated[str, Field(max_length=40)]


class Sized(Fields):
    """A size, and where on the part: at which depth, along which axis."""

    depth: Name = ""
    axis: Name = ""
    size: Digits


Sizes = Annotated[list[Sized], Field(min_length=1, max_length=100)]


class Form(Input):
    unit: LengthUnit
    sizes: Annotated[Sizes, Field(description="In the order of the depths, first depth first.")]

    example: ClassVar[Data] = {
        "unit": "mm",
        "sizes": [
            {"depth": "top", "axis": "thrust", "size": "88.012"},
            {"depth": "top", "axis": "axial", "size": "88.021"},
            {"depth": "bottom", "axis": "thrust", "size": "88.004"},
            {"depth": "bottom", "axis": "axial", "size": "88.013"},
        ],
    }

    def answer(self) -> Answer:
        sizes = by_point(self.sizes)
        values = list(sizes.values())
        result: Data = {
            "mean": shown(shapes.mean(values)),
            "range": shown(shapes.size_range(values)),
            "smallest": shown(min(values)),
            "largest": shown(max(values)),
        }
        for name, measure in _MEASURES.items():
            result[name] = _found(measure, sizes)
        method = (
            "Taper: first depth less last along one axis, positive is larger at the first. "
            "Out-of-round: the spread at one depth. Cylindricity: the spread along one axis "
            "(two-point, on diameters). Each where it is worst."
        )
        return Answer(self.unit, method, result, [])


_MEASURES: dict[str, Callable[[Mapping[Point, Number]], shapes.Form]] = {
    "taper": shapes.taper_end,
    "out_of_round": shapes.out_of_round_direction,
    "cylindricity": shapes.cylindricity_depths,
}


def _found(
    measure: Callable[[Mapping[Point, Number]], shapes.Form], sizes: Mapping[Point, Number]
) -> Data:
    """Its value and where it lies; null with the reason where the points do not show it."""
    try:
        form = measure(sizes)
    except ValueError as error:
        return {"value": None, "because": str(error)}
    return {
        "value": shown(form.value),
        "along": form.line,
        "larger_at": form.larger,
        "smaller_at": form.smaller,
    }


class Clearance(Input):
    unit: LengthUnit
    outer: Sizes
    inner: Sizes

    example: ClassVar[Data] = {
        "unit": "mm",
        "outer": [{"depth": "top", "size": "86.012"}, {"depth": "bottom", "size": "86.008"}],
        "inner": [{"size": "85.965"}],
    }

    def answer(self) -> Answer:
        outer, inner = by_point(self.outer), by_point(self.inner)
        fit = shapes.fit(list(outer.values()), list(inner.values()))
        result: Data = {name: shown(value) for name, value in fit._asdict().items()}
        try:
            at = shapes.clearance_at(outer, inner)
        except ValueError as error:
            result |= {"points": [], "because": str(error)}
        else:
            result["points"] = [
                {"point": point.id, "clearance": shown(room)} for point, room in at.items()
            ]
        method = "Diameter less diameter; negative is an interference."
        return Answer(self.unit, method, result, [])


class OilClearance(Input):
    unit: LengthUnit
    housing: Annotated[Size, Field(description="Bore without shells, cap tightened.")]
    shells: Annotated[list[Size], Field(min_length=2, max_length=2, description="At the crown.")]
    journal: Size

    example: ClassVar[Data] = {
        "unit": "mm",
        "housing": "60.000",
        "shells": ["1.985", "1.985"],
        "journal": "55.985",
    }

    def answer(self) -> Answer:
        walls = numbers(self.shells)
        room = shapes.oil_clearance(number(self.housing), walls, number(self.journal))
        method = "Housing bore less both walls less journal, all square to the split."
        return Answer(self.unit, method, {"oil_clearance": shown(room)}, [])


class EndFloat(Input):
    unit: LengthUnit
    forward: Annotated[list[Digits], Field(min_length=1, max_length=100)]
    rearward: Annotated[list[Digits], Field(min_length=1, max_length=100)]

    example: ClassVar[Data] = {"unit": "mm", "forward": ["0.00", "0.01"], "rearward": ["0.18"]}

    def answer(self) -> Answer:
        found = shapes.end_float(numbers(self.forward), numbers(self.rearward))
        result = {"end_float": shown(found.value), "spread_of_repeats": shown(found.spread)}
        method = "Difference of the means with the shaft pushed home forward, then rearward."
        return Answer(self.unit, method, result, [])


def numbers(digits: Sequence[str]) -> list[Number]:
    return [number(one) for one in digits]


def by_point(sizes: Sequence[Sized]) -> dict[Point, Number]:
    """Raises ValueError where a point is named twice."""
    found: dict[Point, Number] = {}
    for one in sizes:
        point = Point(one.depth, one.axis)
        if point in found:
            where = point.id or "without depth and axis"
            raise ValueError(f"the point {where} is given twice: give each point one size")
        found[point] = number(one.size)
    return found
