"""Mistakes that no data can show, each with the practice that guards against it (all common
practice, no source)."""

from __future__ import annotations

from typing import Final, NamedTuple


class NotShown(NamedTuple):
    """One of them."""

    mistake: str
    why: str
    practice: str


NOT_SHOWN: Final = (
    NotShown(
        "A whole set taken on a sister bore, within limits",
        "Every reading agrees with every other of its set, and the set with its limits.",
        "Read the position back before each set and have it confirmed at the part; measure in a "
        "fixed order; mark the cylinders.",
    ),
    NotShown(
        "One reading taken on a sister whose size is the same within form and uncertainty",
        "It lies where a good reading would lie, and changes no result by more than they do.",
        "Finish one part before the gauge moves to the next.",
    ),
    NotShown(
        "All readings and both zero checks on a standard that is itself wrong",
        "The gauge agrees with its standard, and nothing else was measured with another.",
        "Measure one part with a second gauge set on a second standard; keep standards calibrated.",
    ),
    NotShown(
        "A zero that shifts during a set and is back at its close",
        "Both zero checks agree.",
        "Check the zero often: a set is no longer than what may be measured again.",
    ),
    NotShown(
        "The same mistake in every set (a point measured at the wrong depth or along another axis)",
        "Sisters share it, so that it looks like a form they share.",
        "A stop on the gauge, a mark on the part; a second person measures one of them.",
    ),
    NotShown(
        "Part and gauge equally warm, and nobody measured it",
        "All sizes shift together and stay within their limits.",
        "Let everything lie together; make the temperature a reading of the spec.",
    ),
    NotShown(
        "A confirmation given without looking",
        "It is a word, not a measurement.",
        "Confirm one at a time, at the part, by the one who did it.",
    ),
    NotShown(
        "The wrong lubricant on all fasteners of a group tightened by torque alone",
        "Torque reads as wanted whatever the friction; only angle or stretch would tell.",
        "Tighten to an angle or a stretch, or record the angle beside the torque.",
    ),
    NotShown(
        "A right value sent for the right step by a gauge held at the wrong part of the right bore",
        "Form at the two places is alike within the limits.",
        "Mark the depth on the gauge's stem.",
    ),
)  # fmt: skip
