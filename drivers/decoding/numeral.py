"""How the digits of a text message are written: point, exponent, hexadecimal, last first.

::

    sent             way                      number
    025,40           decimal mark ","         25.40
    1.0250E+01       with an exponent         10.250
    FF9C, 1 place    hex, two's complement    -10.0
    004.52           last first               25.400
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from drivers.decoding.digits import plain
from drivers.decoding.worth import FARTHEST, Worths

DigitsOf = Callable[[bool, str, str | None], str]
"""The digits to keep, from: negative, the number as sent, our name of the unit. ValueError, with a
sentence, where the number is out of all bounds."""


@dataclass(frozen=True, slots=True)
class Numeral:
    """A way of writing a number."""

    mark: Literal["", ".", ","] = "."
    """Empty where no point is sent."""
    exponent: bool = False
    base: Literal["decimal", "hex"] = "decimal"
    hex_negative: Literal["none", "twos", "top-bit"] = "none"
    last_first: bool = False

    @property
    def pattern(self) -> bytes:
        """What its digits look like."""
        if self.base == "hex":
            return rb"[0-9A-Fa-f]+"
        if not self.mark:
            number = rb"[0-9]+"
        else:
            mark = b"[.]" if self.mark == "." else b","
            number = rb"[0-9]+(?:%b[0-9]*)?|%b[0-9]+" % (mark, mark)
        return rb"(?:%b)(?:[Ee][+-]?[0-9]+)?" % number if self.exponent else number

    def is_plain(self, worths: Worths) -> bool:
        """Whether ``plain`` reads the numbers: point sent, digits kept. Most gauges are like it."""
        whole = all(worth.factor is None and worth.resolution is None for worth in worths.all)
        odd = self.exponent or self.last_first or self.base == "hex"
        return self.mark == "." and whole and not odd

    def reader(self, worths: Worths) -> DigitsOf:
        """The function that reads numbers so written."""
        if self.base == "hex":
            return lambda negative, number, unit: self._hex(worths, negative, number, unit)
        if self.is_plain(worths):
            return lambda negative, number, unit: plain(negative, number)
        return lambda negative, number, unit: self._decimal(worths, negative, number, unit)

    def _decimal(self, worths: Worths, negative: bool, number: str, unit: str | None) -> str:
        mantissa, _, power = number.upper().partition("E")
        if self.last_first:
            mantissa = mantissa[::-1]
        worth = worths.of(unit)
        if not self.mark:
            sent, digits = worth.places or 0, mantissa
        else:
            whole, _, part = mantissa.partition(self.mark)
            sent, digits = len(part), whole + part
        if power:
            if len(power) > 4 or abs(int(power)) > FARTHEST:
                raise ValueError(f"a power of ten of {power[:8]} is out of all bounds")
            sent -= int(power)
        return worth.text(negative, digits, sent)

    def _hex(self, worths: Worths, negative: bool, number: str, unit: str | None) -> str:
        if self.last_first:
            number = number[::-1]
        if len(number) > 16:
            raise ValueError(f"{len(number)} hexadecimal digits are too many")
        value, top = int(number, 16), 1 << (4 * len(number) - 1)
        if value & top and self.hex_negative != "none":
            value = 2 * top - value if self.hex_negative == "twos" else value - top
            negative = not negative
        return worths.of(unit).text(negative, str(value))
