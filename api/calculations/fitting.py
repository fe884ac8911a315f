"""Fitting together: select fit with honing, and shells from a stock."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from api.calculations.forms import (
    MOST_PARTS,
    Answer,
    Data,
    Digits,
    Fields,
    Input,
    LengthUnit,
    Size,
    number,
    optional,
    shown,
)
from capture import fit
from capture.quantity import brief

Name = Annotated[str, Field(min_length=1, max_length=60)]
Sizes = Annotated[dict[Name, Size], Field(min_length=1, max_length=MOST_PARTS)]
MOST_BEARINGS = 12
MOST_SHELLS = 8


class Wanted(Input):
    """Where clearances are wanted."""

    unit: LengthUnit
    lower: Digits | None = None
    upper: Digits | None = None
    target: Annotated[Digits | None, Field(description="The middle if not given.")] = None


class SelectFit(Wanted):
    outers: Annotated[Sizes, Field(description="Bores, housings: name → size.")]
    inners: Annotated[Sizes, Field(description="Pistons, journals: name → size.")]
    forbidden: Annotated[
        list[Annotated[list[Name], Field(min_length=2, max_length=2)]],
        Field(
            max_length=10_000,
            default_factory=list,
            description="Pairs [outer, inner] that must not be.",
        ),
    ]
    most_honing: Annotated[Size | None, Field(description="What may be taken from a bore.")] = None

    example: ClassVar[Data] = {
        "unit": "mm",
        "outers": {"1": "87.208", "2": "87.214", "3": "87.235", "4": "87.246"},
        "inners": {"A": "87.201", "B": "87.180", "C": "87.213", "D": "87.171"},
        "lower": "0.025",
        "upper": "0.045",
        "target": "0.035",
    }

    def answer(self) -> Answer:
        outers = {name: number(size) for name, size in self.outers.items()}
        inners = {name: number(size) for name, size in self.inners.items()}
        band, target = (optional(self.lower), optional(self.upper)), optional(self.target)
        most = optional(self.most_honing)
        _countable([*outers.values(), *inners.values()])
        never = [(outer, inner) for outer, inner in self.forbidden]
        best = fit.assign(outers, inners, band, target, forbidden=never)
        short = fit.shortfall(outers, inners, band, target, forbidden=never)
        most_places = _places([*outers.values(), *inners.values()]) + 2
        pairs = {str(pair.outer): pair.inner for pair in best.pairs}
        cuts = fit.hone(outers, inners, pairs, band, target, most=most)
        least = fit.least_honing(outers, inners, band, target, most=most, forbidden=never)
        result = {
            **_proposal(best, most_places),
            "complete": short.complete,
            "largest_in_band": _proposal(short.largest, most_places),
            "cannot_fit": [
                *_misfits(short.misfit_outers, most_places),
                *_misfits(short.misfit_inners, most_places),
            ],
            "as_given": _proposal(fit.given_order(outers, inners, band, target), most_places),
            "honing": _honing(cuts, self.unit, most_places),
            "least_honing": _honing(least, self.unit, most_places),
        }
        method = (
            "Every clearance in the band where that can be, then the least worst miss of the "
            "target, then the least sum of misses: the best there is."
        )
        return Answer(self.unit, method, result, [])


def _countable(sizes: list[Decimal]) -> None:
    """Raises ValueError where sums of sizes, in steps of the finest digit, could leave what floats
    count exactly: the assignment would then be made slowly, and nothing is measured so finely."""
    if max(sizes).scaleb(_places(sizes)) * len(sizes) >= 2**53:
        raise ValueError("sizes have too many digits to count with: give them as measured")


def _places(sizes: list[Decimal]) -> int:
    """Digits after the point of the finest."""
    return max(max(0, -int(size.as_tuple().exponent)) for size in sizes)


def _proposal(found: fit.Proposal, places: int) -> Data:
    return {
        "pairs": [
            {
                "outer": str(pair.outer),
                "inner": str(pair.inner),
                "clearance": brief(pair.clearance, places),
                "miss": brief(pair.miss, places),
                "within": pair.within,
            }
            for pair in found.pairs
        ],
        "spare_outers": [str(one) for one in found.spare_outers],
        "spare_inners": [str(one) for one in found.spare_inners],
        "worst_miss": brief(found.worst_miss, places),
        "total_miss": brief(found.total_miss, places),
    }


def _misfits(found: Iterable[fit.Misfit], places: int) -> list[Data]:
    return [
        {
            "part": str(one.part),
            "nearest": None if one.nearest is None else str(one.nearest),
            "clearance": None if one.clearance is None else brief(one.clearance, places),
            "off": None if one.off is None else brief(one.off, places),
        }
        for one in found
    ]


def _honing(found: fit.Honing, unit: str, places: int) -> Data:
    return {
        "total": brief(found.total, places),
        "cuts": [
            {
                "outer": str(cut.outer),
                "inner": str(cut.inner),
                "amount": brief(cut.amount, places),
                "hone_to": None if cut.to is None else brief(cut.to, places),
                "clearance": brief(cut.clearance, places),
                "within": cut.within,
                "says": cut.sentence(unit, places),
            }
            for cut in found.cuts
        ],
        "left_outers": [str(one) for one in found.left_outers],
        "left_inners": [str(one) for one in found.left_inners],
    }


class Bearing(Fields):
    """What the shells go between."""

    housing: Size
    journal: Size


class Shell(Fields):
    """A kind of half shell on hand."""

    name: Name
    thickness: Annotated[Size, Field(description="At the crown.")]
    on_hand: Annotated[int, Field(ge=0, le=1000, description="Halves.")]
    half: Literal["upper", "lower", "either"] = "either"


class Shells(Wanted):
    bearings: Annotated[dict[Name, Bearing], Field(min_length=1, max_length=MOST_BEARINGS)]
    shells: Annotated[list[Shell], Field(min_length=1, max_length=MOST_SHELLS)]

    example: ClassVar[Data] = {
        "unit": "mm",
        "bearings": {
            "1": {"housing": "60.000", "journal": "55.985"},
            "2": {"housing": "60.004", "journal": "55.982"},
        },
        "shells": [
            {"name": "standard", "thickness": "1.985", "on_hand": 2},
            {"name": "thicker", "thickness": "1.990", "on_hand": 4},
        ],
        "lower": "0.030",
        "upper": "0.050",
    }

    def answer(self) -> Answer:
        bearings = {
            name: fit.Bearing(number(one.housing), number(one.journal))
            for name, one in self.bearings.items()
        }
        stock = [
            fit.Shell(one.name, number(one.thickness), one.on_hand, fit.Half(one.half))
            for one in self.shells
        ]
        band, target = (optional(self.lower), optional(self.upper)), optional(self.target)
        found = fit.choose_for_all(bearings, stock, band, target)
        result = {
            "choices": [
                {"bearing": str(name), **_choice(one)} for name, one in found.choices.items()
            ],
            "unsupplied": [
                {
                    "bearing": str(one.bearing),
                    "halves_together_should_be": shown(one.wanted_total),
                    "nearest": None if one.nearest is None else _choice(one.nearest),
                }
                for one in found.unsupplied
            ],
            "remaining": found.remaining,
            "worst_miss": shown(found.worst_miss),
            "total_miss": shown(found.total_miss),
        }
        method = (
            "Housing less both halves less journal; as many bearings in the band as can be, then "
            "the least worst miss, the least sum of misses, the fewest mixed pairs."
        )
        return Answer(self.unit, method, result, [MIXING])


MIXING = "The engine maker says which shells may be mixed, and by how much."


def _choice(one: fit.Choice) -> Data:
    return {
        "upper": one.upper,
        "lower": one.lower,
        "clearance": shown(one.clearance),
        "miss": shown(one.miss),
        "within": one.within,
        "mixed": one.mixed,
    }
