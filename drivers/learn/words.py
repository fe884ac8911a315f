"""An explanation in plain words, for a person."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from drivers.learn.beside import Mark, drifting
from drivers.learn.binary import BinaryReading
from drivers.learn.bytes_seen import Seen
from drivers.learn.explanation import Explanation
from drivers.learn.pinned import Pin
from drivers.learn.scale import Scaling, Worth
from drivers.learn.text import TextReading

_WAYS = {
    "integer": "a whole number",
    "packed": "decimal digits, two to a byte",
    "unpacked": "decimal digits, one to a byte",
    "float": "a binary floating-point number",
}
_SIGNS = {
    "twos": "two's complement",
    "top": "the highest bit is the sign",
    "first": "the first half byte is the sign",
    "last": "the last half byte is the sign",
}


def told(made: Explanation) -> list[str]:
    """What was found, a sentence each."""
    lines = [_cut(made.seen)]
    if isinstance(made.reading, TextReading):
        lines += _text(made.reading)
    else:
        lines += _binary(made.seen, made.reading)
    lines += _scale(made.scaling)
    way = made.seen.way
    if way is None:
        lines.append("No check bytes were found.")
    elif not way.sure:
        lines.append(f"A {way.words} fits as a check, and so does another: it is not verified.")
    else:
        how = "hexadecimal digits" if way.check.written == "hex" else "bytes"
        lines.append(f"The check is a {way.words}, sent as {how}, and is right in every press.")
    return lines


def _cut(seen: Seen) -> str:
    parity = f" The eighth bit of every byte is {seen.parity} parity." if seen.parity else ""
    if seen.end:
        end = " ".join({13: "CR", 10: "LF"}[byte] for byte in seen.end)
        return f"A message ends with {end}.{parity}"
    if seen.length and not seen.is_text:
        return f"A message is {seen.length} bytes long.{parity}"
    return f"A message ends with a silence.{parity}"


def _text(reading: TextReading) -> list[str]:
    writing = reading.writing
    how = "hexadecimal digits" if writing.form == "hex" else "decimal digits"
    how += ", sent last first" if writing.backwards else ""
    how += ", with a decimal comma" if writing.mark == "," else ""
    how += ", with an exponent" if reading.exponent else ""
    if writing.signed:
        how += ", two's complement" if writing.twos else ", the highest bit is the sign"
    lines = [f"The size is {reading.whole}, written as {how}."]
    if reading.minus and reading.sign_seen:
        lines.append(f"Minus is written {' or '.join(map(repr, sorted(reading.minus)))}.")
    elif not writing.signed:
        lines.append("No press was negative: a minus is expected before the number.")
    if reading.units:
        lines.append(f"The unit is written {', '.join(map(repr, reading.units))}.")
    return lines


def _binary(seen: Seen, reading: BinaryReading) -> list[str]:
    place = reading.place
    end = "high" if place.order == "big" else "low"
    if place.turned:
        end = "low half byte"
    sign = f", {_SIGNS[place.sign]}" if place.sign in _SIGNS else ""
    last = place.at + place.size - 1
    half = " without the first and last half byte" if place.skip == (1, 1) else ""
    if sum(place.skip) == 1:
        half = f" without the {'first' if place.skip[0] else 'last'} half byte"
    lines = [
        f"The size is {_WAYS[place.way]} in bytes {place.at} to {last}{half}, "
        f"{end} end first{sign}."
    ]
    if reading.sign:
        lines.append(f"The sign is in byte {_mark(reading.sign, 'plus', 'minus')}.")
    if reading.unit and reading.scaling.switched:
        names = reading.scaling.base.unit, reading.scaling.switched.unit
        lines.append(f"The unit is in byte {_mark(reading.unit, *names)}.")
    used = {*place.bytes_used, *seen.check_range}
    used |= {mark.at for mark in (reading.sign, reading.unit) if mark}
    for at in range(seen.length or 0):
        drift = None if at in used else drifting(seen.messages, at)
        if drift:
            lines.append(f"Byte {at} is {drift}; it is not read.")
    return lines


def pinned(pins: Sequence[Pin]) -> list[str]:
    """That some bytes must be as they were."""
    if not pins:
        return []
    named = ", ".join(str(pin.at) for pin in pins)
    which = f"Byte {named}" if len(pins) == 1 else f"Bytes {named}"
    return [f"{which} never changed: a message that differs there is not read."]


def _mark(mark: Mark, off: str, on: str) -> str:
    return f"{mark.at} (bits {mark.mask:02X}: {mark.off:02X} {off}, {mark.on:02X} {on})"


def _scale(scaling: Scaling) -> list[str]:
    lines = [_worth(scaling.base)]
    if scaling.switched is None:
        lines.append(
            f"The unit was never switched: every message is taken to be in "
            f"{scaling.base.unit} unless it names another."
        )
    elif scaling.follows:
        lines.append(_worth(scaling.switched))
    else:
        lines.append(f"The number stays in {scaling.base.unit} when the unit is switched.")
    return lines


def _worth(worth: Worth) -> str:
    if worth.sent:
        return f"In {worth.unit} the number is sent as it is."
    if worth.factor is None:
        return f"In {worth.unit} {worth.places} digits stand behind a point that is not sent."
    if worth.places is not None:
        return f"In {worth.unit} one count is {float(worth.factor):g}."
    return f"One count is {float(worth.factor):.8g} {worth.unit}: {_per(worth)}."


def _per(worth: Worth) -> str:
    assert worth.factor is not None
    for size, name in (
        (Fraction(1), worth.unit),
        (Fraction("25.4"), "in"),
        (Fraction(360), "turn"),
    ):
        if (size / worth.factor).denominator == 1:
            return f"{size / worth.factor} to the {name}"
    return f"{float(1 / worth.factor):.8g} to the {worth.unit}"
