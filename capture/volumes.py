"""Volumes of a cylinder and the compression ratio they give.

Every amount carries its own unit, so that a bore in millimetres and a deck clearance in inches
meet without arithmetic by hand; answers are in cm³. Exact but for π, which is good to 40 decimals.
"""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from capture.quantity import Number, convert, exact
from capture.shapes import PI


class Amount(NamedTuple):
    """A length or a volume with its unit; any unit known here (``capture.units``)."""

    value: Number
    unit: str


class Space(NamedTuple):
    """What encloses the charge at top dead centre."""

    bore: Amount
    stroke: Amount
    chamber: Amount
    """Volume of the chamber in the head."""
    deck_clearance: Amount
    """Negative where the piston stands out of the block."""
    gasket_bore: Amount
    gasket_thickness: Amount
    """Compressed."""
    crown: Amount
    """Volume of the crown over its flat: a dome is positive and takes room away; a dish or valve
    pockets are negative and add room."""
    land_diameter: Amount | None = None
    """Of the piston above its top ring; with the height, counts the crevice around it."""
    land_height: Amount | None = None


class Volumes(NamedTuple):
    """All in cm³."""

    swept: Number
    chamber: Number
    gasket: Number
    deck: Number
    crown: Number
    """Signed as in ``Space``: taken off."""
    crevice: Number
    """0 where no land was given."""
    clearance: Number
    """Left at top dead centre: chamber + gasket + deck + crevice − crown."""
    total: Number
    """At bottom dead centre: swept + clearance."""
    ratio: Number
    """Compression ratio: total over clearance."""


def cylinder(diameter: Amount, height: Amount) -> Number:
    """π/4 · diameter² · height, in cm³; signed like the height. UnitError where an amount is not a
    length, ValueError where the diameter is not above zero."""
    across = _length(diameter)
    if across <= 0:
        raise ValueError("a cylinder's diameter is above zero")
    return exact(PI / 4 * across**2 * _length(height))


def swept(bore: Amount, stroke: Amount) -> Number:
    """Swept volume of one cylinder, in cm³; ValueError where the stroke is not above zero."""
    if stroke.value <= 0:
        raise ValueError("a stroke is above zero")
    return cylinder(bore, stroke)


def displacement(bore: Amount, stroke: Amount, cylinders: int) -> Number:
    """Swept volume of all cylinders, in cm³."""
    if cylinders < 1:
        raise ValueError("an engine has at least one cylinder")
    return exact(Fraction(swept(bore, stroke)) * cylinders)


def compression_ratio(swept_volume: Number, clearance_volume: Number) -> Number:
    """Volume at bottom over volume at top dead centre; both volumes in one unit."""
    if swept_volume <= 0 or clearance_volume <= 0:
        raise ValueError("a compression ratio takes a swept and a clearance volume above zero")
    return exact(Fraction(swept_volume) / Fraction(clearance_volume) + 1)


def clearance_volume(swept_volume: Number, ratio: Number) -> Number:
    """The clearance volume that gives a wanted ratio, in the swept volume's unit."""
    if ratio <= 1:
        raise ValueError("a compression ratio is above 1")
    return exact(Fraction(swept_volume) / (Fraction(ratio) - 1))


def volumes(space: Space) -> Volumes:
    """Every volume and the compression ratio. ValueError where nothing is left at top dead
    centre, or the land does not fit its bore."""
    swept_volume = swept(space.bore, space.stroke)
    chamber, crown = _volume(space.chamber), _volume(space.crown)
    gasket = cylinder(space.gasket_bore, space.gasket_thickness)
    deck = cylinder(space.bore, space.deck_clearance)
    crevice = _crevice(space)
    clearance = _rest(space) + chamber
    if clearance <= 0:
        raise ValueError(
            "nothing is left at top dead centre: check the sign of the crown (a dome is positive, "
            "a dish negative) and of the deck clearance (positive below the deck)"
        )
    return Volumes(
        swept=swept_volume,
        chamber=exact(chamber),
        gasket=gasket,
        deck=deck,
        crown=exact(crown),
        crevice=exact(crevice),
        clearance=exact(clearance),
        total=exact(Fraction(swept_volume) + clearance),
        ratio=compression_ratio(swept_volume, exact(clearance)),
    )


def chamber_for_ratio(space: Space, ratio: Number) -> Number:
    """The chamber volume, in cm³, that gives a wanted ratio with the other volumes as they are;
    ``space.chamber`` plays no part. ValueError where the others already take more."""
    wanted = Fraction(clearance_volume(swept(space.bore, space.stroke), ratio)) - _rest(space)
    if wanted <= 0:
        raise ValueError(
            "that ratio leaves no room for a chamber: a smaller dome, a larger dish, a thicker "
            "gasket or more deck clearance lowers it"
        )
    return exact(wanted)


def crown_for_ratio(space: Space, ratio: Number) -> Number:
    """The volume of crown, in cm³ (positive a dome, negative a dish), that gives a wanted ratio
    with the other volumes as they are; ``space.crown`` plays no part."""
    wanted = Fraction(clearance_volume(swept(space.bore, space.stroke), ratio))
    return exact(_volume(space.chamber) + _rest(space) + _volume(space.crown) - wanted)


def _rest(space: Space) -> Fraction:
    """The clearance volume without its chamber."""
    return (
        Fraction(cylinder(space.gasket_bore, space.gasket_thickness))
        + Fraction(cylinder(space.bore, space.deck_clearance))
        + _crevice(space)
        - _volume(space.crown)
    )


def _crevice(space: Space) -> Fraction:
    if space.land_diameter is None and space.land_height is None:
        return Fraction(0)
    if space.land_diameter is None or space.land_height is None:
        raise ValueError("the crevice takes both the land's diameter and its height")
    around = Fraction(cylinder(space.bore, space.land_height))
    crevice = around - Fraction(cylinder(space.land_diameter, space.land_height))
    if crevice < 0:
        raise ValueError("the piston's land is larger than its bore, or its height negative")
    return crevice


def _length(amount: Amount) -> Fraction:
    return Fraction(convert(amount.value, amount.unit, "cm"))


def _volume(amount: Amount) -> Fraction:
    return Fraction(convert(amount.value, amount.unit, "cm³"))
