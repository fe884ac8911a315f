"""The units of this trade: our name for each, what it measures, its exact size, and the words
gauges send and people type for it.

Sizes are exact by definition: the inch (25.4 mm) and the pound (0.453 592 37 kg) by the
international yard and pound agreement of 1959, standard gravity (9.806 65 m/s²) by the 3rd CGPM.
The few units marked as taken from pint have no entry among the exact sizes.

Words are looked up after ``normal`` made spellings alike. A word that can mean two things (``nm``,
``mil``) is refused with the choices, never guessed.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

_INCH: Final = Fraction(254, 10)
_POUND: Final = Fraction("453.59237")
_GRAVITY: Final = Fraction("9.80665")
_LBF: Final = _POUND / 1000 * _GRAVITY
_SQUARE_INCH_IN_M2: Final = (_INCH / 1000) ** 2

SIZES: Final[dict[str, dict[str, Fraction]]] = {
    "length": {  # in millimetres
        "mm": Fraction(1),
        "µm": Fraction(1, 1000),
        "cm": Fraction(10),
        "m": Fraction(1000),
        "in": _INCH,
        "thou": _INCH / 1000,
        "µin": _INCH / 1_000_000,
        "ft": _INCH * 12,
    },
    "torque": {  # in newton metres
        "N·m": Fraction(1),
        "mN·m": Fraction(1, 1000),
        "cN·m": Fraction(1, 100),
        "N·cm": Fraction(1, 100),
        "daN·m": Fraction(10),
        "kN·m": Fraction(1000),
        "lbf·ft": _LBF * _INCH * 12 / 1000,
        "lbf·in": _LBF * _INCH / 1000,
        "ozf·in": _LBF * _INCH / 16_000,
        "kgf·m": _GRAVITY,
        "kgf·cm": _GRAVITY / 100,
        "dyn·cm": Fraction(1, 10_000_000),
    },
    "angle": {  # in degrees
        "°": Fraction(1),
        "arcmin": Fraction(1, 60),
        "arcsec": Fraction(1, 3600),
        "turn": Fraction(360),
    },
    "mass": {  # in grams
        "g": Fraction(1),
        "kg": Fraction(1000),
        "lb": _POUND,
        "oz": _POUND / 16,
    },
    "volume": {  # in cubic centimetres
        "cm³": Fraction(1),
        "mL": Fraction(1),
        "mm³": Fraction(1, 1000),
        "L": Fraction(1000),
        "in³": (_INCH / 10) ** 3,
    },
    "pressure": {  # in pascals
        "Pa": Fraction(1),
        "kPa": Fraction(1000),
        "MPa": Fraction(1_000_000),
        "mbar": Fraction(100),
        "bar": Fraction(100_000),
        "psi": _LBF / _SQUARE_INCH_IN_M2,
        "kgf/cm²": _GRAVITY * 10_000,
    },
    "force": {  # in newtons
        "N": Fraction(1),
        "kN": Fraction(1000),
        "lbf": _LBF,
        "kgf": _GRAVITY,
    },
}
"""Dimension → unit → exact size in that dimension's first unit."""

TEMPERATURES: Final[dict[str, tuple[Fraction, Fraction]]] = {
    "°C": (Fraction(1), Fraction("273.15")),
    "°F": (Fraction(5, 9), Fraction("459.67") * 5 / 9),
    "K": (Fraction(1), Fraction(0)),
}
"""Unit → scale and offset: kelvins = value × scale + offset."""

RARE: Final[dict[str, tuple[str, str]]] = {
    "rad": ("angle", "radian"),
    "mrad": ("angle", "milliradian"),
    "atm": ("pressure", "standard_atmosphere"),
    "mmHg": ("pressure", "millimeter_Hg"),
    "inHg": ("pressure", "inch_Hg"),
}
"""Unit → dimension and pint's name: sizes pint supplies when one is first asked for. The radian
is known there to 50 digits of π; it has no exact size in degrees."""

DIMENSIONS: Final[dict[str, str]] = {
    **{unit: dimension for dimension, units in SIZES.items() for unit in units},
    **dict.fromkeys(TEMPERATURES, "temperature"),
    **{unit: dimension for unit, (dimension, _) in RARE.items()},
}
"""Every unit known here → what it measures."""

REFUSED: Final[dict[str, str]] = {
    "nm": "it is written for newton metres (N·m) and for nanometres: write N·m, or µm for a length",
    "mnm": "it may be mN·m or MN·m: write mN·m with these letters' case, or N·m",
    "mil": "it may be a thousandth of an inch, a millimetre or an angle: write thou or mm",
    "mils": "it may be thousandths of an inch, millimetres or angles: write thou or mm",
    "mpa": "it may be MPa or mPa: write MPa with this case, or Pa",
    "tenth": "it may be 0.0001 in or 0.1 mm: write in, µin or mm",
    "tenths": "it may be 0.0001 in or 0.1 mm: write in, µin or mm",
    "'": "it may be feet or minutes of arc: write ft or arcmin",
    "′": "it may be feet or minutes of arc: write ft or arcmin",
    "ft/lb": "it divides where a torque multiplies: write lbf·ft",
    "in/lb": "it divides where a torque multiplies: write lbf·in",
    "lb/ft": "it is a weight per length as written: write lbf·ft for a torque",
    "lb/in": "it is a weight per length as written: write lbf·in for a torque",
    "pound": "it may be a mass or a force: write lb for a mass, lbf for a force",
    "pounds": "it may be a mass or a force: write lb for a mass, lbf for a force",
    "pt": "it may be a pint or a point: write L or in³",
}
"""Words with more than one meaning, in lower case → why, and what to write."""

# Looked up before case is ignored: here the case carries the meaning.
_CASED: Final = {
    **dict.fromkeys(("Nm", "NM"), "N·m"),
    **dict.fromkeys(("mNm", "mN·m"), "mN·m"),
    **dict.fromkeys(("MPa", "MPA"), "MPa"),
    "N": "N",
    "K": "K",
    "m": "m",
}

_WORDS: Final[dict[str, str]] = {
    "mm": "mm millimetre millimetres millimeter millimeters",
    "µm": "µm um micron microns micrometre micrometres micrometer micrometers",
    "cm": "cm centimetre centimetres centimeter centimeters",
    "m": "metre metres meter meters",
    "in": "in inch inches ins \" ″ ” ''",
    "thou": "thou thous thousandth thousandths",
    "µin": "µin uin microinch microinches µ·in",
    "ft": "ft foot feet",
    "kN·m": "knm",
    "cN·m": "cnm",
    "daN·m": "danm",
    "dyn·cm": "dyncm dyne·cm",
    "°": "° deg degs degree degrees",
    "arcmin": "arcmin",
    "arcsec": "arcsec",
    "turn": "turn turns rev revs",
    "°C": "°c c degc deg·c celsius centigrade",
    "°F": "°f f degf deg·f fahrenheit",
    "K": "kelvin",
    "g": "g gram grams gramme grammes gm gms",
    "kg": "kg kgs kilogram kilograms kilogramme kilogrammes",
    "lb": "lb lbs lbm",
    "oz": "oz ounce ounces",
    "cm³": "cm3 cc ccm ccs cu·cm cucm cubic·centimetre cubic·centimetres cubic·centimeters",
    "mL": "ml millilitre millilitres milliliter milliliters",
    "mm³": "mm3 cu·mm cumm",
    "L": "l litre litres liter liters ltr",
    "in³": "in3 cu·in cuin cubic·inch cubic·inches",
    "Pa": "pa pascal pascals",
    "kPa": "kpa",
    "MPa": "megapascal megapascals",
    "mbar": "mbar millibar hpa",
    "bar": "bar bars",
    "psi": "psi lbf/in2 lb/in2 lbs/in2",
    "kgf/cm²": "kgf/cm2 kg/cm2 kp/cm2",
    "N": "newton newtons",
    "kN": "kn",
    "lbf": "lbf lbsf poundforce pound·force",
    "kgf": "kgf kp",
    "rad": "rad radian radians",
    "mrad": "mrad",
    "atm": "atm",
    "mmHg": "mmhg",
    "inHg": "inhg",
}
"""Unit → its words in lower case, spelled as ``normal`` leaves them."""

_TORQUE_ARMS: Final = {
    "m": "m metre metres meter meters",
    "cm": "cm",
    "ft": "ft foot feet",
    "in": "in inch inches",
}
_TORQUE_FORCES: Final = {
    "N": ("n newton newtons", "m cm"),
    "kN": ("kn", "m"),
    "cN": ("cn", "m"),
    "daN": ("dan", "m"),
    "lbf": ("lbf lb lbs pound pounds", "ft in"),
    "ozf": ("ozf oz ounce ounces", "in"),
    "kgf": ("kgf kg kp", "m cm"),
    "dyn": ("dyn dyne", "cm"),
}
"""Unit of force → its words in lower case, and the arms it is used with."""

_SEPARATORS: Final = re.compile(r"[\s.·⋅∙•‧*×_-]+")
_LOOKALIKES: Final = str.maketrans({"º": "°", "˚": "°", "″": '"', "”": '"', "μ": "µ", "⁄": "/"})


def normal(word: str) -> str:
    """``word`` with alike spellings made one: compatibility characters folded (``㎜``, ``℃``,
    ``cm³``), one ``·`` for whatever separates, none at the ends. Case is kept."""
    folded = unicodedata.normalize("NFKC", word.strip().translate(_LOOKALIKES)).replace("μ", "µ")
    return _SEPARATORS.sub("·", folded.replace("**", "").replace("^", "")).strip("·")


def _torque_words() -> Iterator[tuple[str, str]]:
    """Every way of putting a force and an arm together, both orders, joined and apart."""
    for force, (words, arms) in _TORQUE_FORCES.items():
        for arm in arms.split():
            unit = f"{force}·{arm}"
            for one in words.split():
                for other in _TORQUE_ARMS[arm].split():
                    yield f"{one}·{other}", unit
                    yield f"{one}{other}", unit
                    yield f"{other}·{one}", unit
                    if force in ("lbf", "ozf"):  # "mn" and "cmn" would be small forces
                        yield f"{other}{one}", unit


_FOLDED: Final[dict[str, str]] = {
    **dict(_torque_words()),
    **{normal(word): unit for unit, words in _WORDS.items() for word in words.split()},
}


def known(word: str) -> str | None:
    """Our name for the unit ``word`` means; None where it is not known or has two meanings."""
    spelled = normal(word)
    if (cased := _CASED.get(spelled)) is not None:
        return cased
    lower = _lower(spelled)
    return None if lower in REFUSED else _FOLDED.get(lower)


def refusal(word: str) -> str | None:
    """Why a word with two meanings is refused, and what to write instead; None for others."""
    return REFUSED.get(_lower(normal(word)))


def _lower(spelled: str) -> str:
    """Lower case; a capital mu (what ``µ`` becomes in capitals) gives the micro sign again."""
    return spelled.lower().replace("μ", "µ")
