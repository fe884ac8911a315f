"""Bytes in the shapes gauges send them. Every layout is invented, by the draw."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

from simulators.formats import beside
from simulators.formats.binary import Decimals, floating, integer, multiple, units_of_step
from simulators.formats.checks import Order, draw_check
from simulators.formats.digits import in_unit_shown
from simulators.formats.format import Exactness, Format
from simulators.formats.gauge import GAUGES, Gauge, Shown, draw_gauge, draw_switched
from simulators.formats.message import Layout, Piece, always
from simulators.formats.state import State

STARTS = (b"", b"\x02", b"\xaa", b"\xaa\x55", b"\x7e", b"\xf0\x0f", b"\x01\x04", b"M")
ENDS = (b"", b"", b"\x03", b"\r", b"\xff", b"\r\n")


def draw_order(drawn: random.Random) -> Order:
    """Either."""
    return "big" if drawn.random() < 0.5 else "little"


def draw_width(gauge: Gauge, drawn: random.Random) -> int:
    """Bytes that hold the gauge's range with a sign, or more."""
    most = max(int(gauge.high * 10**scale.places / scale.size) for scale in gauge.scales)
    least = 2 if most < 1 << 15 else 3 if most < 1 << 23 else 4
    return drawn.choice([width for width in (2, 3, 4) if width >= least])


def _unit(drawn: random.Random, gauge: Gauge) -> tuple[Piece, ...]:
    if gauge.second is None:
        return (always(bytes([drawn.randrange(0, 8)])),) if drawn.random() < 0.4 else ()
    if drawn.random() < 0.6:
        return (beside.status_byte(drawn, gauge),)
    words = beside.unit_letters(drawn, gauge)
    if drawn.random() < 0.5:
        return (beside.unit(words, "unit letter"),)
    one, two = drawn.sample(range(16), 2)
    codes = {scale.unit: chr(code) for scale, code in zip(gauge.scales, (one, two), strict=False)}
    return (beside.unit(codes, "unit code"),)


def _frame(drawn: random.Random, number: Piece, *others: Piece) -> Layout:
    parts = [number, *others]
    if drawn.random() < 0.5:
        parts = [*others, number]
    start = drawn.choice(STARTS)
    if drawn.random() < 0.3:
        start += bytes([drawn.randrange(1, 32)])
    return Layout(tuple(parts), start=start, end=drawn.choice(ENDS))


def _made(shape: str, gauge: Gauge, layout: Layout, exactness: Exactness = "digits") -> Format:
    return Format("", shape, gauge, layout, exactness)


def whole(drawn: random.Random) -> Format:
    """Two's complement, 2 to 4 bytes, either end first."""
    gauge = draw_gauge(drawn)
    number = integer(draw_width(gauge, drawn), draw_order(drawn))
    others = _unit(drawn, gauge)
    if drawn.random() < 0.2:
        others += (beside.places_byte(drawn),)
    return _made("integer", gauge, _frame(drawn, number, *others))


def whole_24(drawn: random.Random) -> Format:
    """Two's complement in three bytes."""
    gauge = draw_gauge(drawn)
    number = integer(3, draw_order(drawn))
    return _made("integer of 24 bits", gauge, _frame(drawn, number, *_unit(drawn, gauge)))


def magnitude(drawn: random.Random) -> Format:
    """Sign and magnitude, the sign on top or a flag elsewhere."""
    gauge = draw_gauge(drawn)
    width, order = draw_width(gauge, drawn), draw_order(drawn)
    if drawn.random() < 0.6:
        number = integer(width, order, magnitude=True)
        return _made("sign and magnitude", gauge, _frame(drawn, number, *_unit(drawn, gauge)))
    flags = beside.status_byte(drawn, gauge, sign=True)
    layout = _frame(drawn, absolute(integer(width, order)), flags)
    return _made("sign and magnitude", gauge, layout)


def absolute(number: Piece) -> Piece:
    """Without its sign."""
    return Piece(
        lambda shown, state: number.write(replace(shown, value=abs(shown.value)), state),
        f"{number.says}, without the sign",
    )


def bcd(drawn: random.Random) -> Format:
    """Two decimal digits to a byte."""
    gauge = draw_gauge(drawn)
    return _decimals(drawn, gauge, packed=True)


def bcd_unpacked(drawn: random.Random) -> Format:
    """One decimal digit to a byte."""
    gauge = draw_gauge(drawn)
    return _decimals(drawn, gauge, packed=False)


def _decimals(drawn: random.Random, gauge: Gauge, packed: bool) -> Format:
    count = gauge.whole_digits() + max(scale.places for scale in gauge.scales)
    sign = drawn.choice(
        ["byte", "nibble", "top", "ascii", "flag"] if packed else ["byte", "ascii", "flag"]
    )
    count += (count + (sign in ("nibble", "top"))) % 2 if packed else drawn.randrange(2)
    high = 0 if packed else drawn.choice([0, 0, 0, 0xC0])
    digits = Decimals(count, packed, draw_order(drawn), sign, high)
    if sign == "flag":
        others: tuple[Piece, ...] = (beside.status_byte(drawn, gauge, sign=True),)
    else:
        others = _unit(drawn, gauge)
    if drawn.random() < 0.15:
        others += (beside.places_byte(drawn),)
    shape = "decimal digits, two to a byte" if packed else "decimal digits, one to a byte"
    return _made(shape, gauge, _frame(drawn, digits.piece(), *others))


def float_32(drawn: random.Random) -> Format:
    """32-bit floats, as displayed or not rounded."""
    return _floats(drawn, wide=False)


def float_64(drawn: random.Random) -> Format:
    """64-bit floats, as displayed or not rounded."""
    return _floats(drawn, wide=True)


def _floats(drawn: random.Random, wide: bool) -> Format:
    gauge = draw_gauge(drawn)
    number = floating(wide, draw_order(drawn), exact=drawn.random() < 0.6)
    layout = _frame(drawn, number, *_unit(drawn, gauge))
    return _made(f"float of {64 if wide else 32} bits", gauge, layout, "half a step")


def counts(drawn: random.Random) -> Format:
    """A scale that counts, so many to the inch, the millimetre or the turn."""
    gauge = drawn.choice([one for one in GAUGES if one.kind in _COUNTED])
    what, many = drawn.choice(_COUNTED[gauge.kind])
    most = int(Fraction(gauge.high) / many)
    least = 2 if most < 1 << 15 else 3
    width = drawn.choice([one for one in (2, 3, 4) if one >= least])
    number = multiple(width, draw_order(drawn), many, what)
    if gauge.second is not None and drawn.random() < 0.4:
        layout = _frame(drawn, number)
        return replace(_made("counts", gauge, layout, "a step"), tells_unit=False)
    made = _made("counts", gauge, _frame(drawn, number, *_unit(drawn, gauge)), "a step")
    return replace(made, tells_unit=False)


def _per_inch(number: int) -> tuple[str, Fraction]:
    return f"{number} to the inch", Fraction("25.4") / number


def _per_mm(number: int) -> tuple[str, Fraction]:
    return f"{number} to the millimetre", Fraction(1, number)


_LENGTHS = [
    *(_per_inch(number) for number in (20480, 10240, 5120, 25600, 12800, 16384, 10000)),
    *(_per_mm(number) for number in (200, 128, 256, 512, 640, 400, 320)),
]
_COUNTED = {
    "caliper": _LENGTHS,
    "long caliper": _LENGTHS,
    "height gauge": _LENGTHS,
    "coarse indicator": _LENGTHS,
    "protractor": [
        ("65536 to the turn", Fraction(360, 65536)),
        ("36000 to the turn", Fraction(1, 100)),
    ],
    "torque adapter": [("64 to the newton metre", Fraction(1, 64)), ("40 to it", Fraction(1, 40))],
}


def steps(drawn: random.Random) -> Format:
    """Steps of the last digit, where that goes by twos or fives."""
    gauge = drawn.choice([one for one in GAUGES if one.kind in ("depth gauge", "protractor")])
    number = units_of_step(drawn.choice([2, 3, 4]), draw_order(drawn), str(gauge.first.step))
    return _made("steps of 2 or 5", gauge, _frame(drawn, number, *_unit(drawn, gauge)))


def checked(drawn: random.Random) -> Format:
    """A binary message with a check."""
    made = drawn.choice([whole, magnitude, bcd, float_32, counts, whole_24])(drawn)
    layout = made.layout
    if not layout.start:
        layout = replace(layout, start=drawn.choice(STARTS[1:]))
    layout = replace(layout, check=draw_check(drawn, text=False), covers_start=drawn.random() < 0.6)
    return replace(made, shape="binary with a check", layout=layout)


def counted(drawn: random.Random) -> Format:
    """Counter, clock, battery beside the number."""
    made = drawn.choice([whole, magnitude, bcd, float_32, whole_24])(drawn)
    makers = [beside.counter_bytes, beside.clock_bytes, beside.battery_bytes]
    others = [maker(drawn) for maker in drawn.sample(makers, drawn.choice([1, 1, 2]))]
    layout = made.layout.also(*others)
    if drawn.random() < 0.5:
        layout = replace(made.layout, pieces=(*others, *made.layout.pieces))
    if drawn.random() < 0.5:
        layout = replace(layout, check=draw_check(drawn, text=False))
    return replace(made, shape="binary beside counters", layout=layout)


def peaks(drawn: random.Random) -> Format:
    """Highest and lowest as integers beside the value."""
    gauge = draw_switched(drawn)
    width, order = draw_width(gauge, drawn), draw_order(drawn)
    value = integer(width, order)
    parts = drawn.sample([value, _kept(value, True), _kept(value, False)], drawn.choice([2, 3]))
    if value not in parts:
        parts[0] = value
    layout = Layout((*parts, beside.status_byte(drawn, gauge)), start=drawn.choice(STARTS[1:]))
    return _made("binary beside max and min", gauge, layout)


def _kept(number: Piece, highest: bool) -> Piece:
    def write(shown: Shown, state: State) -> bytes:
        kept = state.highest if highest else state.lowest
        return number.write(in_unit_shown(kept, shown), state)

    return Piece(write, "max" if highest else "min")


SHAPES = (
    (whole, 14),
    (whole_24, 8),
    (magnitude, 12),
    (bcd, 14),
    (bcd_unpacked, 12),
    (float_32, 9),
    (float_64, 6),
    (counts, 14),
    (steps, 5),
    (checked, 20),
    (counted, 14),
    (peaks, 5),
)
"""Shape, and how many of it a corpus holds."""
