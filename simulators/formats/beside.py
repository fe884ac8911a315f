"""What stands beside the number: units, counters, clocks, battery, status."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping

from simulators.formats.checks import Order
from simulators.formats.gauge import Gauge, Shown
from simulators.formats.message import Piece
from simulators.formats.state import State

WORDS: Mapping[str, tuple[str, ...]] = {
    "mm": ("mm", "MM", "mm.", "Mm"),
    "in": ("in", "IN", "inch", "INCH", '"'),
    "g": ("g", "G", "gr"),
    "oz": ("oz", "OZ", "ounce"),
    "N·m": ("Nm", "NM", "N.m", "N-m"),
    "lbf·ft": ("ftlb", "lbft", "LBF.FT", "lb-ft"),
    "°": ("deg", "DEG", "\xb0"),
}
"""Unit → words a gauge may write for it."""


def unit_words(drawn: random.Random, gauge: Gauge, width: int | None = None) -> dict[str, str]:
    """A word for each of the gauge's units, filled with blanks to ``width``."""
    words = {scale.unit: drawn.choice(WORDS[scale.unit]) for scale in gauge.scales}
    return {unit: word.ljust(width or 0) for unit, word in words.items()}


def unit_letters(drawn: random.Random, gauge: Gauge) -> dict[str, str]:
    """A letter of no meaning to others for each unit."""
    letters = drawn.sample("ABCDFGHJKLMQRSTUVWXYZ", 2)
    return {scale.unit: letter for scale, letter in zip(gauge.scales, letters, strict=False)}


def unit(words: Mapping[str, str], what: str = "unit") -> Piece:
    """The word of the unit shown."""
    return Piece(lambda shown, state: words[shown.scale.unit].encode("latin-1"), f"{what} {words}")


def status_text(drawn: random.Random, gauge: Gauge, width: int) -> Piece:
    """A status in hex digits, one bit of which says the unit; others never change."""
    bit = drawn.randrange(0, 4 * width)
    rest = drawn.choice([0, 0, 1 << drawn.randrange(0, 4 * width)]) & ~(1 << bit)

    def write(shown: Shown, state: State) -> bytes:
        return f"{rest | (second(shown, gauge) << bit):0{width}X}".encode()

    return Piece(write, f"status of {width} hex digits, bit {bit} says the second unit")


def status_byte(drawn: random.Random, gauge: Gauge, sign: bool = False) -> Piece:
    """A byte of flags: the unit, and ``sign`` where asked for; others never change."""
    bits = drawn.sample(range(8), 2)
    rest = drawn.choice([0, 0, *(1 << bit for bit in range(8) if bit not in bits)])

    def write(shown: Shown, state: State) -> bytes:
        value = rest | second(shown, gauge) << bits[0]
        if sign:
            value |= (shown.value < 0) << bits[1]
        return bytes([value])

    says = f"flags: bit {bits[0]} second unit"
    says += f", bit {bits[1]} negative" if sign else ""
    return Piece(write, f"{says}, others {rest:02x}")


def places_byte(drawn: random.Random) -> Piece:
    """Digits behind the point of the number sent, or the power of ten that it is multiplied by."""
    power = drawn.random() < 0.5

    def write(shown: Shown, state: State) -> bytes:
        places = shown.scale.places
        return (-places if power else places).to_bytes(1, "big", signed=True)

    return Piece(write, "power of ten" if power else "digits behind the point")


def second(shown: Shown, gauge: Gauge) -> int:
    """1 when the second unit is shown."""
    return int(shown.scale is gauge.second)


def text_of(make: Callable[[State], str], says: str) -> Piece:
    """Text from what the gauge remembers."""
    return Piece(lambda shown, state: make(state).encode("latin-1"), says)


def bytes_of(make: Callable[[State], int], width: int, order: Order, says: str) -> Piece:
    """A whole number from what the gauge remembers, the lowest ``width`` bytes of it."""

    def write(shown: Shown, state: State) -> bytes:
        number = make(state) & (1 << 8 * width) - 1
        return number.to_bytes(width, order)

    return Piece(write, f"{says}, {width} bytes, {order} end first")


def counter_text(drawn: random.Random) -> Piece:
    """Number of the press, as text."""
    width = drawn.choice([3, 4, 5])
    form = drawn.choice(["0{w}d", "{w}d", "0{w}X"]).format(w=width)
    wrap = 10**width if form.endswith("d") else 16**width
    return text_of(lambda state: format(state.counter % wrap, form), f"counter {form}")


def clock_text(drawn: random.Random) -> Piece:
    """Date, time of day or both, as text."""
    form = drawn.choice(
        ["%H:%M:%S", "%Y-%m-%d %H:%M:%S", "%d.%m.%y %H:%M", "%H%M%S", "%m/%d/%Y", "%y%m%d,%H%M%S"]
    )
    return text_of(lambda state: state.clock.strftime(form), f"clock {form}")


def battery_text(drawn: random.Random) -> Piece:
    """Battery as text, percent or volts."""
    if drawn.random() < 0.5:
        return text_of(lambda state: f"B{state.battery}%", "battery percent")
    return text_of(lambda state: f"{2.4 + state.battery / 160:.2f}V", "battery volts")


def counter_bytes(drawn: random.Random) -> Piece:
    """Number of the press in one or two bytes."""
    order: Order = drawn.choice(["big", "little"])
    return bytes_of(lambda state: state.counter, drawn.choice([1, 1, 2]), order, "counter")


def clock_bytes(drawn: random.Random) -> Piece:
    """Seconds, or thousandths, since some start."""
    order: Order = drawn.choice(["big", "little"])
    per = drawn.choice([1, 1000])
    return bytes_of(lambda state: seconds_of(state) * per, drawn.choice([2, 4]), order, "clock")


def battery_bytes(drawn: random.Random) -> Piece:
    """Battery in a byte: percent, or fiftieths of a volt."""
    if drawn.random() < 0.5:
        return bytes_of(lambda state: state.battery, 1, "big", "battery percent")
    return bytes_of(lambda state: 120 + state.battery // 3, 1, "big", "battery in 20 mV")


def seconds_of(state: State) -> int:
    """Seconds of the gauge's clock since its year began; no time zone has a say in it."""
    clock = state.clock
    return ((clock.timetuple().tm_yday * 24 + clock.hour) * 60 + clock.minute) * 60 + clock.second
