"""Numbers as bytes: integers, decimal digits, floats, counts of a scale."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from fractions import Fraction

from simulators.formats.checks import Order
from simulators.formats.gauge import Shown
from simulators.formats.message import Piece
from simulators.formats.state import State


def integer(width: int, order: Order, magnitude: bool = False) -> Piece:
    """The display's number without its point as ``width`` bytes."""
    kind = "sign and magnitude" if magnitude else "two's complement"

    def write(shown: Shown, state: State) -> bytes:
        return packed(shown.steps, width, order, magnitude)

    return Piece(write, f"integer of {width} bytes, {order} end first, {kind}")


def packed(number: int, width: int, order: Order, magnitude: bool) -> bytes:
    """``number`` in ``width`` bytes."""
    if not magnitude:
        return number.to_bytes(width, order, signed=True)
    top = 1 << (8 * width - 1)
    if abs(number) >= top:
        raise OverflowError(f"{number} does not fit {width} bytes with a sign bit")
    return (abs(number) | (top if number < 0 else 0)).to_bytes(width, order)


def multiple(width: int, order: Order, of: Fraction, what: str) -> Piece:
    """How many ``of`` (in the gauge's first unit) the size is, whatever unit is shown."""

    def write(shown: Shown, state: State) -> bytes:
        return packed(round(shown.size / of), width, order, False)

    return Piece(write, f"counts, {what}, {width} bytes, {order} end first")


def units_of_step(width: int, order: Order, step: str) -> Piece:
    """The display's number in steps of its last digit that is no power of ten (2 or 5)."""

    def write(shown: Shown, state: State) -> bytes:
        return packed(int(shown.value / shown.scale.step), width, order, False)

    return Piece(write, f"steps of {step}, {width} bytes, {order} end first")


def floating(wide: bool, order: Order, exact: bool) -> Piece:
    """The size in the unit shown, as a float; ``exact``: the display's number, else unrounded."""
    form = (">" if order == "big" else "<") + ("d" if wide else "f")

    def write(shown: Shown, state: State) -> bytes:
        value = shown.value if exact else shown.size / shown.scale.size
        return struct.pack(form, float(value))

    rounded = "as displayed" if exact else "not rounded"
    return Piece(write, f"float of {64 if wide else 32} bits, {order} end first, {rounded}")


@dataclass(frozen=True, slots=True)
class Decimals:
    """Decimal digits of the display's number without its point."""

    count: int
    packed: bool
    """Two digits to a byte."""
    order: Order
    sign: str
    """``byte`` before (00 or 80), ``nibble`` last (C or D), ``top`` (the first half byte: 0 or F),
    ``ascii`` before, ``flag`` (not here)."""
    high: int = 0
    """The upper half of a byte that holds one digit."""

    def write(self, shown: Shown, state: State) -> bytes:
        """The bytes."""
        negative = shown.value < 0
        digits = str(abs(shown.steps)).zfill(self.count)
        if self.sign == "nibble":
            digits += "d" if negative else "c"
        elif self.sign == "top":
            digits = ("f" if negative else "0") + digits
        if self.packed:
            raw = bytes.fromhex(digits.zfill(len(digits) + len(digits) % 2))
        else:
            raw = bytes(int(digit, 16) | self.high for digit in digits)
        if self.order == "little":
            raw = raw[::-1]
        if self.sign == "byte":
            return (b"\x80" if negative else b"\x00") + raw
        if self.sign == "ascii":
            return (b"-" if negative else b"+") + raw
        return raw

    def piece(self) -> Piece:
        """The digits in a message."""
        how = "two digits to a byte" if self.packed else "one digit to a byte"
        return Piece(
            self.write, f"{self.count} digits, {how}, {self.order} end first, sign {self.sign}"
        )
