"""More that stands beside a number: temperature, status that changes, dates, addresses, lengths."""

from __future__ import annotations

import random

from simulators.formats.beside import bytes_of, seconds_of, text_of
from simulators.formats.checks import Order
from simulators.formats.gauge import Shown
from simulators.formats.message import Piece, always
from simulators.formats.state import State


def wander(state: State, most: int, word: str = "") -> int:
    """A number from 0 to ``most`` that changes from press to press and follows nothing."""
    return random.Random(f"{word}{state.counter}{state.clock}").randrange(most + 1)


def temperature(state: State) -> int:
    """Tenths of a degree about room temperature."""
    return 214 + wander(state, 9, "temperature")


def temperature_text(drawn: random.Random) -> Piece:
    """A temperature with one digit behind the point."""
    form = drawn.choice(["{:.1f}C", "T{:.1f}", "+{:.1f}"])
    return text_of(lambda state: form.format(temperature(state) / 10), "temperature")


def status_letter(drawn: random.Random) -> Piece:
    """A letter that changes now and then and has nothing to do with the size."""
    letters = drawn.sample("NOQRSTUVWXYZ", 2)
    return text_of(lambda state: letters[wander(state, 1)], f"status letter {letters}")


def tolerance_text(drawn: random.Random) -> Piece:
    """A tolerance that was set."""
    return always(f"{drawn.choice(['', '+/-', '#'])}{drawn.choice([0.01, 0.02, 0.05]):.3f}")


def date_bytes(drawn: random.Random) -> Piece:
    """Hour, minute and second in two decimal digits each; before them day and month perhaps."""
    form = drawn.choice(["%H%M%S", "%H%M", "%d%m%H%M%S", "%y%m%d"])
    return Piece(
        lambda shown, state: bytes.fromhex(state.clock.strftime(form)), f"clock {form}, two digits"
    )


def temperature_bytes(drawn: random.Random) -> Piece:
    """Tenths of a degree in two bytes."""
    order: Order = drawn.choice(["big", "little"])
    return bytes_of(temperature, 2, order, "temperature")


def counter_wide(drawn: random.Random) -> Piece:
    """Number of the press in one to four bytes."""
    order: Order = drawn.choice(["big", "little"])
    return bytes_of(lambda state: state.counter, drawn.choice([1, 2, 3, 4]), order, "counter")


def ticks(drawn: random.Random) -> Piece:
    """Thousandths of a second in four bytes."""
    order: Order = drawn.choice(["big", "little"])

    def made(state: State) -> int:
        return seconds_of(state) * 1000 + wander(state, 999, "ticks")

    return bytes_of(made, drawn.choice([2, 3, 4]), order, "ticks")


def millivolts(drawn: random.Random) -> Piece:
    """Battery in millivolts, two bytes."""
    order: Order = drawn.choice(["big", "little"])
    return bytes_of(lambda state: 2400 + 8 * state.battery, 2, order, "battery in mV")


def strength(drawn: random.Random) -> Piece:
    """Strength of a radio, a signed byte about -60."""
    return bytes_of(lambda state: 196 - wander(state, 12, "radio"), 1, "big", "strength")


def quiet(drawn: random.Random) -> Piece:
    """Bytes that never change: an address, a length, zeros."""
    return always(bytes(drawn.choice([0, 0, 1, 7, 12, 32]) for _ in range(drawn.randint(1, 2))))


BYTES = (date_bytes, temperature_bytes, counter_wide, ticks, millivolts, strength, quiet)
TEXTS = (temperature_text, status_letter, tolerance_text)


def flags(drawn: random.Random, sign: bool, unit: bool, hold: bool) -> Piece:
    """A byte of flags: sign and unit where asked for, and one that changes as it likes."""
    bits = drawn.sample(range(8), 3)
    rest = drawn.choice([0, 0, *(1 << bit for bit in range(8) if bit not in bits)])

    def write(shown: Shown, state: State) -> bytes:
        value = rest
        if unit and state.switched:
            value |= 1 << bits[0]
        if sign and shown.value < 0:
            value |= 1 << bits[1]
        if hold and wander(state, 1, "hold"):
            value |= 1 << bits[2]
        return bytes([value])

    said = [(unit, "unit"), (sign, "negative"), (hold, "hold")]
    named = [f"bit {bit} {word}" for bit, (asked, word) in zip(bits, said, strict=True) if asked]
    return Piece(write, f"flags: {', '.join(named)}, others {rest:02x}")
