"""Numbers as text: signs, points, padding, exponents, hex digits, digits last-first."""

from __future__ import annotations

from dataclasses import dataclass

from simulators.formats.gauge import Gauge, Shown, rounded
from simulators.formats.message import Piece
from simulators.formats.state import State


@dataclass(frozen=True, slots=True)
class Digits:
    """A way of writing the display's number."""

    whole: int
    """Digits before the point, filled up with ``fill``."""
    fill: str = "0"
    mark: str = "."
    """Decimal mark; empty where it is implied."""
    sign: str = "leading"
    """``leading``, ``trailing``, ``spaced`` (before the padding), ``bracket``, ``letter``."""
    plus: str = "+"
    minus: str = "-"
    more: int = 0
    """Zeros after the display's last digit."""
    backwards: bool = False
    """Digits (and point) last first; the sign stays where it is."""

    def text(self, shown: Shown) -> str:
        """``shown`` as written."""
        whole, _, part = shown.text.lstrip("-").partition(".")
        # An implied point can only be dropped from digits that are all there.
        fill = "0" if not self.mark or self.backwards else self.fill
        number = whole.rjust(self.whole, "0" if fill == "0" else "\0")
        if part or self.more:
            number += self.mark + part + "0" * self.more
        if self.backwards:
            number = number[::-1]
        padding = number.count("\0")
        return self._signed(shown.value < 0, number.lstrip("\0"), fill * padding)

    def _signed(self, negative: bool, number: str, padding: str) -> str:
        sign = self.minus if negative else self.plus
        if self.sign == "trailing":
            return padding + number + sign
        if self.sign == "spaced":
            return sign + padding + number
        if self.sign == "bracket":
            return f"{padding}({number})" if negative else f"{padding} {number} "
        return padding + sign + number

    def __str__(self) -> str:
        mark = f"point {self.mark!r}" if self.mark else "point implied"
        back = ", digits last first" if self.backwards else ""
        signs = f"{self.sign} sign {self.plus!r} or {self.minus!r}"
        return f"number, {signs}, {mark}, {self.whole} before it filled with {self.fill!r}{back}"

    def piece(self) -> Piece:
        """The number in a message."""
        return Piece(lambda shown, state: self.text(shown).encode(), str(self))

    def highest(self) -> Piece:
        """The highest since switched on, written the same way."""
        return Piece(
            lambda shown, state: self.text(in_unit_shown(state.highest, shown)).encode(), "max"
        )

    def lowest(self) -> Piece:
        """The lowest since switched on, written the same way."""
        return Piece(
            lambda shown, state: self.text(in_unit_shown(state.lowest, shown)).encode(), "min"
        )


def in_unit_shown(kept: Shown | None, shown: Shown) -> Shown:
    """A kept value in the unit shown now."""
    if kept is None:
        return shown
    scale = shown.scale
    return Shown(rounded(kept.size / scale.size, scale.step), scale, kept.size)


def exponent(style: str, gauge: Gauge) -> Piece:
    """The number with a power of ten behind it.

    ``one`` digit before the point (+1.0250E+01), ``none`` (0.10250E+02), ``whole`` (1025E-2).
    """
    length = gauge.whole_digits() + max(scale.places for scale in gauge.scales)

    def write(shown: Shown, state: State) -> bytes:
        sign = "-" if shown.value < 0 else "+"
        value = abs(shown.value)
        if style == "whole":
            return f"{sign}{abs(shown.steps)}E{-shown.scale.places:+d}".encode()
        if not value:
            zeros = "0" * (length - 1)
            return f"{sign}0.{zeros}{'' if style == 'one' else '0'}E+00".encode()
        power = value.adjusted()
        digits = format(value.scaleb(-power), f".{length - 1}f")
        if style == "one":
            return f"{sign}{digits}E{power:+03d}".encode()
        return f"{sign}0.{digits.replace('.', '')}E{power + 1:+03d}".encode()

    return Piece(write, f"number with exponent, style {style!r}")


def hexadecimal(width: int, negative: str, upper: bool) -> Piece:
    """The display's number without its point in hex digits; ``negative`` by ``twos`` complement,
    ``sign`` before it, or the top ``bit``."""

    def write(shown: Shown, state: State) -> bytes:
        steps = shown.steps
        sign = ""
        if negative == "twos":
            steps %= 16**width
        elif negative == "sign":
            sign, steps = "-" if steps < 0 else "+", abs(steps)
        elif steps < 0:
            steps = -steps | 1 << (4 * width - 1)
        return f"{sign}{steps:0{width}{'X' if upper else 'x'}}".encode()

    return Piece(write, f"{width} hex digits, negative by {negative}")
