"""The top of the block: deck clearance and flatness."""

from __future__ import annotations

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
from capture import deck

Place = Annotated[str, Field(min_length=1, max_length=60)]
MOST_PLACES = 400


class Stack(Fields):
    """The parts between the crank's axis and the deck."""

    block_height: Size
    crank_radius: Annotated[Size, Field(description="Half the stroke.")]
    rod_length: Size
    compression_height: Size


class Bridge(Fields):
    """A dial bridge zeroed on the deck; positive is below it."""

    front: Digits
    rear: Digits
    thrust: Digits
    opposite: Digits


class DeckClearance(Input):
    unit: LengthUnit
    stack: Stack | None = None
    bridge: Bridge | None = None
    wanted: Annotated[Digits | None, Field(description="Deck clearance; needs the stack.")] = None

    example: ClassVar[Data] = {
        "unit": "in",
        "stack": {
            "block_height": "9.025",
            "crank_radius": "1.75",
            "rod_length": "6.00",
            "compression_height": "1.25",
        },
        "bridge": {"front": "0.026", "rear": "0.024", "thrust": "0.031", "opposite": "0.019"},
        "wanted": "0.010",
    }

    def answer(self) -> Answer:
        if self.stack is None and self.bridge is None:
            raise ValueError("give the stack of parts, the bridge's readings, or both")
        if self.wanted is not None and self.stack is None:
            raise ValueError("a wanted clearance is reached by a part of the stack: give the stack")
        result: Data = {}
        if self.stack is not None:
            result["by_stack"] = self._by_stack(self.stack)
        if self.bridge is not None:
            readings = deck.BridgeReadings(*map(number, self.bridge.model_dump().values()))
            found = deck.bridge(readings)._asdict()
            result["by_bridge"] = {
                name: one if isinstance(one, str) else shown(one) for name, one in found.items()
            }
        method = "Positive below the deck. Bridge: mean of the four, so that rock averages out."
        return Answer(self.unit, method, result, [PISTON_TO_HEAD])

    def _by_stack(self, stack: Stack) -> Data:
        parts = deck.Stack(*map(number, stack.model_dump().values()))
        result = {"clearance": shown(deck.deck_clearance(parts))}
        if self.wanted is not None:
            block, radius, rod, height = parts
            wanted = number(self.wanted)
            result["rod_length_for_it"] = shown(deck.rod_length(block, radius, height, wanted))
            height = deck.compression_height(block, radius, rod, wanted)
            result["compression_height_for_it"] = shown(height)
            tall = deck.block_height(radius, rod, parts.compression_height, wanted)
            result["block_height_for_it"] = shown(tall)
        return result


PISTON_TO_HEAD = (
    "The least room between piston and head is the engine maker's to say; rods stretch and pistons "
    "rock at speed."
)


class Height(Fields):
    """How high a face stands over a reference at one place."""

    place: Place
    x: Digits
    y: Digits
    height: Digits


class Flatness(Input):
    unit: LengthUnit
    gaps: Annotated[
        dict[Place, Size] | None,
        Field(max_length=MOST_PLACES, description="Line or place → thickest leaf that went in."),
    ] = None
    heights: Annotated[list[Height] | None, Field(max_length=MOST_PLACES)] = None

    example: ClassVar[Data] = {
        "unit": "mm",
        "gaps": {"diagonal": "0.03", "front": "0.00"},
        "heights": [
            {"place": "front left", "x": "0", "y": "0", "height": "0.00"},
            {"place": "front right", "x": "150", "y": "0", "height": "0.01"},
            {"place": "rear left", "x": "0", "y": "400", "height": "0.02"},
            {"place": "rear right", "x": "150", "y": "400", "height": "0.05"},
        ],
    }

    def answer(self) -> Answer:
        if self.gaps is None and self.heights is None:
            raise ValueError("give gaps under a straight edge, heights over the face, or both")
        result: Data = {}
        if self.gaps is not None:
            value, place = deck.flatness_by_feeler({k: number(v) for k, v in self.gaps.items()})
            result["by_feeler"] = {"value": shown(value), "at": place}
        if self.heights is not None:
            result["by_heights"] = self._by_heights(self.heights)
        method = (
            "Feeler: the largest gap. Heights: peak to valley about the least-squares plane "
            "(ISO 12781-1), and the minimum zone (ISO 1101)."
        )
        return Answer(self.unit, method, result, [])

    @staticmethod
    def _by_heights(heights: list[Height]) -> Data:
        stands = {one.place: (number(one.x), number(one.y), number(one.height)) for one in heights}
        if len(stands) < len(heights):
            raise ValueError("a place is given twice: give each place one height")
        found = deck.flatness_of_grid(stands)
        return {
            "peak_to_valley": shown(found.value),
            "highest": found.highest,
            "lowest": found.lowest,
            "minimum_zone": deck.least_zone(stands),
        }
