"""Fuller messages: several things beside the number at once. Every layout is invented, by the
draw."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from simulators.formats import beside, busy_beside
from simulators.formats.binary import Decimals, floating, integer
from simulators.formats.binary_shapes import STARTS, absolute, draw_order, draw_width
from simulators.formats.checks import draw_check
from simulators.formats.digits import Digits, in_unit_shown
from simulators.formats.format import Format
from simulators.formats.gauge import Gauge, Shown, draw_gauge, draw_switched
from simulators.formats.message import Layout, Piece, always
from simulators.formats.state import State

LINE_ENDS = (b"\r\n", b"\n\r", b"\r", b"\x03", b"\x03\r\n", b"\x00", b"")


def line(drawn: random.Random) -> Format:
    """Several things in a line before the number and behind it."""
    gauge = draw_gauge(drawn)
    gap = always(drawn.choice([",", " ", ";", "\t", "|"]))
    number = _number(drawn, gauge)
    parts = [number.piece(), *_unit_text(drawn, gauge)]
    makers = [*busy_beside.TEXTS, beside.counter_text, beside.clock_text, beside.battery_text]
    for maker in drawn.sample(makers, drawn.choice([1, 2, 2, 3])):
        other = maker(drawn)
        parts = [other, gap, *parts] if drawn.random() < 0.5 else [*parts, gap, other]
    start = drawn.choice([b"", b"", b"\x02", b"$", b"Q "])
    return Format("", "several beside", gauge, Layout(tuple(parts), start, end=_end(drawn)))


def _end(drawn: random.Random) -> bytes:
    return drawn.choice(LINE_ENDS)


def _number(drawn: random.Random, gauge: Gauge) -> Digits:
    return Digits(
        whole=gauge.whole_digits() + drawn.randrange(3),
        fill=drawn.choice(["0", " "]),
        mark=drawn.choice([".", ".", ","]),
        sign=drawn.choice(["leading", "spaced", "trailing"]),
        plus=drawn.choice(["+", " "]),
    )


def _unit_text(drawn: random.Random, gauge: Gauge) -> tuple[Piece, ...]:
    if drawn.random() < 0.5:
        return (always(" "), beside.unit(beside.unit_words(drawn, gauge)))
    return (always(" "), beside.unit(beside.unit_letters(drawn, gauge), "unit letter"))


def both_units(drawn: random.Random) -> Format:
    """The size in both units, whatever the display shows."""
    gauge = draw_switched(drawn)
    number = _number(drawn, gauge)
    words = beside.unit_words(drawn, gauge)
    parts: list[Piece] = []
    for switched in drawn.sample([False, True], 2):
        word = words[gauge.scales[switched].unit]
        parts += [_in_unit(number, gauge, switched), always(f" {word}{drawn.choice([' ', ';'])}")]
    made = Format("", "both units beside", gauge, Layout(tuple(parts), end=_end(drawn)))
    return replace(made, tells_unit=False)


def _in_unit(number: Digits, gauge: Gauge, switched: bool) -> Piece:
    def write(shown: Shown, state: State) -> bytes:
        return number.text(gauge.show(shown.size, switched)).encode()

    return Piece(write, f"{number}, in {gauge.scales[switched].unit}")


def twice(drawn: random.Random) -> Format:
    """The value twice."""
    gauge = draw_gauge(drawn)
    number, word = _number(drawn, gauge), _unit_text(drawn, gauge)
    parts = (number.piece(), always(drawn.choice([" ", ";", "="])), number.piece(), *word)
    return Format("", "value twice, no max", gauge, Layout(parts, end=_end(drawn)))


def glued(drawn: random.Random) -> Format:
    """No point and nothing between: sign, digits, digits behind the point, unit, all figures."""
    gauge = draw_gauge(drawn)
    digits = gauge.whole_digits() + max(scale.places for scale in gauge.scales)
    digits += drawn.randrange(2)
    plus, minus = drawn.choice([("0", "1"), ("+", "-"), ("0", "8"), (" ", "-")])
    codes = drawn.sample("0123456789", 2)
    places = drawn.random() < 0.5

    def write(shown: Shown, state: State) -> bytes:
        sign = minus if shown.value < 0 else plus
        point = str(shown.scale.places) if places else ""
        unit = codes[shown.scale is gauge.second]
        return f"{sign}{abs(shown.steps):0{digits}d}{point}{unit}".encode()

    says = f"sign {plus!r} {minus!r}, {digits} digits, {'places, ' if places else ''}unit {codes}"
    start = drawn.choice([b"", b"D", b"\x02", b"="])
    layout = Layout((Piece(write, says),), start, end=_end(drawn))
    return Format("", "all figures", gauge, layout)


def frame(drawn: random.Random) -> Format:
    """Address, length, counter, clock, battery, flags and a number in a frame."""
    gauge = draw_gauge(drawn)
    number, signed = _bytes_number(drawn, gauge)
    hold = drawn.random() < 0.4
    said = busy_beside.flags(drawn, not signed, gauge.second is not None, hold)
    parts = [number, said]
    for maker in drawn.sample(busy_beside.BYTES, drawn.choice([1, 2, 3])):
        parts.insert(drawn.randrange(len(parts) + 1), maker(drawn))
    start = drawn.choice(STARTS)
    check = draw_check(drawn, text=False) if drawn.random() < 0.6 else None
    end = drawn.choice([b"", b"", b"\x03", b"\r\n"])
    layout = Layout(tuple(parts), start, check, drawn.random() < 0.6, end=end)
    exactness = "half a step" if number.says.startswith("float") else "digits"
    # one of the words that a format knows
    return Format("", "full frame", gauge, layout, exactness)  # type: ignore[arg-type]


def _bytes_number(drawn: random.Random, gauge: Gauge) -> tuple[Piece, bool]:
    """A number of any make, and whether it has its sign in it."""
    kind = drawn.choice(["twos", "top", "plain", "packed", "unpacked", "float"])
    order, width = draw_order(drawn), draw_width(gauge, drawn)
    if kind == "float":
        return floating(False, order, True), True
    if kind in ("packed", "unpacked"):
        count = gauge.whole_digits() + max(scale.places for scale in gauge.scales)
        count += count % 2
        return Decimals(count, kind == "packed", order, "flag").piece(), False
    if kind == "plain":
        return absolute(integer(width, order)), False
    return integer(width, order, magnitude=kind == "top"), True


def nibbles(drawn: random.Random) -> Format:
    """A half byte for the sign, one for each digit, one for the point, one for the unit."""
    gauge = draw_gauge(drawn)
    digits = gauge.whole_digits() + max(scale.places for scale in gauge.scales)
    digits = max(6, digits) + (digits % 2 if drawn.random() < 0.5 else 0)
    minus = drawn.choice([8, 1, 15, 0xD])
    turned = drawn.random() < 0.3
    packed = drawn.random() < 0.5

    def write(shown: Shown, state: State) -> bytes:
        number = [int(digit) for digit in f"{abs(shown.steps):0{digits}d}"]
        number = number[::-1] if turned else number
        unit = int(shown.scale is gauge.second)
        halves = [minus if shown.value < 0 else 0, *number, shown.scale.places, unit]
        if not packed:
            return bytes(halves)
        halves += [0] * (len(halves) % 2)
        return bytes(high << 4 | low for high, low in zip(halves[::2], halves[1::2], strict=True))

    says = f"sign 0 or {minus:x}, {digits} digits{', last first' if turned else ''}, point, unit"
    says += ", two to a byte" if packed else ", one to a byte"
    start = drawn.choice([b"", b"\xff\xff", b"\x02", b"\xf0"])
    layout = Layout((Piece(write, says),), start, end=drawn.choice([b"", b"\x03", b"\r"]))
    if drawn.random() < 0.4:
        layout = replace(layout, check=draw_check(drawn, text=False))
    return Format("", "half bytes", gauge, layout)


def mixed(drawn: random.Random) -> Format:
    """The value, its highest and its lowest, and a temperature, all integers."""
    gauge = draw_switched(drawn)
    width, order = draw_width(gauge, drawn), draw_order(drawn)
    number = integer(width, order)
    parts = [number, _kept(number, True), _kept(number, False)]
    drawn.shuffle(parts)
    parts.insert(drawn.randrange(4), busy_beside.temperature_bytes(drawn))
    parts.insert(drawn.randrange(5), busy_beside.flags(drawn, False, True, drawn.random() < 0.3))
    layout = Layout(tuple(parts), start=drawn.choice(STARTS[1:]))
    if drawn.random() < 0.5:
        layout = replace(layout, check=draw_check(drawn, text=False))
    return Format("", "max, min, temperature", gauge, layout)


def _kept(number: Piece, highest: bool) -> Piece:
    def write(shown: Shown, state: State) -> bytes:
        kept = state.highest if highest else state.lowest
        return number.write(in_unit_shown(kept, shown), state)

    return Piece(write, "max" if highest else "min")


SHAPES: tuple[tuple[Callable[[random.Random], Format], int], ...] = (
    (line, 12),
    (both_units, 6),
    (twice, 5),
    (glued, 8),
    (frame, 20),
    (nibbles, 10),
    (mixed, 6),
)
"""Shape, and how many of it a corpus holds."""
