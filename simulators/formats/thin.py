"""Presses from which nobody can be sure: too few, contradicting, or with two explanations left."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from simulators.formats import beside, binary_shapes, text_shapes
from simulators.formats.binary import Decimals, integer, multiple
from simulators.formats.digits import Digits
from simulators.formats.format import Format, Press, seeded
from simulators.formats.gauge import GAUGES, Gauge
from simulators.formats.message import Layout, Piece, always
from simulators.formats.play import Asked, Session, played
from simulators.formats.state import State


@dataclass(frozen=True, slots=True)
class Thin:
    """Presses that do not settle the format."""

    name: str
    why: str
    """What cannot be known, and why."""
    presses: tuple[Press, ...]


Case = tuple[str, list[Press]]

CALIPER = GAUGES[0]
PLAIN = replace(CALIPER, second=None)
NUMBER = Digits(whole=3)
LINE = Layout((NUMBER.piece(), always("mm")), end=b"\r\n")


def _session(drawn: random.Random, gauge: Gauge, layout: Layout, off: float = 0.9) -> Session:
    return Session(Format("", "", gauge, layout), drawn, State.draw(drawn), off)


def _pressed(session: Session, *sizes: str) -> list[Press]:
    return [session.asked(Asked(size.lstrip("-"), size.startswith("-"))) for size in sizes]


def _any(drawn: random.Random) -> Format:
    make = drawn.choice([text_shapes.plain, text_shapes.implied, binary_shapes.whole])
    return played(make(drawn), drawn)


def one_press(drawn: random.Random) -> Case:
    return "one press fits many explanations", list(_any(drawn).presses[1:2])


def no_press(drawn: random.Random) -> Case:
    return "nothing was pressed", []


def only_zero(drawn: random.Random) -> Case:
    session = _session(drawn, PLAIN, Layout((integer(2, "little"), always(b"\x03"))))
    return "every press at closed jaws: no scale, no sign", _pressed(session, *["0"] * 5)


def one_size(drawn: random.Random) -> Case:
    layout = Layout((integer(3, "big"),), start=b"\xaa")
    return "every press at one size", _pressed(_session(drawn, PLAIN, layout, 0.0), *["25"] * 5)


def frozen(drawn: random.Random) -> Case:
    """The gauge sends one reading whatever it measures."""
    made = _any(drawn)
    held = made.presses[2].raw
    return "the bytes never change though sizes do", [
        replace(press, raw=held) for press in made.presses
    ]


def swapped(drawn: random.Random) -> Case:
    """Two sizes were mixed up by the person."""
    presses = _pressed(_session(drawn, PLAIN, LINE), "0", "10", "25", "60", "-20")
    presses[1], presses[3] = (
        replace(presses[1], at=presses[3].at),
        replace(presses[3], at=presses[1].at),
    )
    return "two presses contradict the others", presses


def far_off(drawn: random.Random) -> Case:
    """Readings off by a few per cent each, each its own way."""
    session = _session(drawn, PLAIN, Layout((integer(2, "big"),), start=b"\x02", end=b"\x03"))
    presses = []
    for size in ("0", "10", "25", "50", "75", "100"):
        off = Fraction(drawn.choice([-7, -5, 4, 6]), 100)
        presses.append(session.press(Fraction(size) * (1 + off), f"{size} mm"))
    return "no scale fits: sizes and bytes disagree by per cents", presses


def garbled(drawn: random.Random) -> Case:
    """One digit of one message was changed on its way."""
    presses = _pressed(_session(drawn, PLAIN, LINE), "0", "10", "25", "60", "-20")
    at = drawn.randint(1, 3)
    raw = presses[at].raw
    presses[at] = replace(presses[at], raw=raw[:2] + bytes([raw[2] ^ 4]) + raw[3:])
    return "one message is off by tens of millimetres", presses


def noise(drawn: random.Random) -> Case:
    sizes = ("0", "10", "25", "50", "-10")
    presses = [Press(f"{size} mm", drawn.randbytes(9), size, "mm") for size in sizes]
    return "random bytes, no number in them", presses


def cut(drawn: random.Random) -> Case:
    """Messages cut at random places."""
    presses = _pressed(_session(drawn, PLAIN, LINE), "0", "10", "25", "60", "-20")
    return "messages are cut short, each elsewhere", [
        replace(press, raw=press.raw[: drawn.randint(1, 4)]) for press in presses
    ]


def two_gauges(drawn: random.Random) -> Case:
    """Two gauges took turns on one line."""
    one = _session(drawn, PLAIN, Layout((integer(2, "big"),), start=b"\x02", end=b"\x03"))
    other = _session(drawn, PLAIN, Layout((integer(2, "little"), always(b"\x00")), start=b"\x7e"))
    presses = []
    for number, size in enumerate(("0", "10", "25", "50", "75", "100")):
        presses += _pressed((one, other)[number % 2], size)
    return "two formats in turns", presses


def no_negative(drawn: random.Random) -> Case:
    """A binary number, never negative: the sign is anyone's guess."""
    layout = Layout((integer(3, "big", magnitude=drawn.random() < 0.5),), start=b"\xaa\x55")
    presses = _pressed(_session(drawn, PLAIN, layout), "0", "10", "25", "60", "100")
    return "no negative press: two's complement, sign bit or no sign at all", presses


def no_negative_digits(drawn: random.Random) -> Case:
    """Decimal digits, with bytes beside that may or may not hold the sign."""
    layout = Layout((Decimals(6, True, "big", "byte").piece(), always(b"\x00")), start=b"\x02")
    presses = _pressed(_session(drawn, PLAIN, layout), "0", "10", "25", "60", "100")
    return "no negative press: where a sign would stand was never seen", presses


def rising_with_highest(drawn: random.Random) -> Case:
    """Value and maximum, at sizes that only rise."""
    session = _session(
        drawn, PLAIN, Layout((NUMBER.piece(), always(","), NUMBER.highest()), end=b"\r\n"), 0.0
    )
    return "value and maximum were never apart", _pressed(session, "0", "10", "25", "60", "100")


def rising_with_highest_binary(drawn: random.Random) -> Case:
    value = integer(3, "little")
    twice = Piece(lambda shown, state: value.write(shown, state) * 2, "value, maximum")
    session = _session(drawn, PLAIN, Layout((twice,), start=b"\x7e"), 0.0)
    return "value and maximum were never apart", _pressed(session, "0", "10", "25", "60", "100")


def counter_fits(drawn: random.Random) -> Case:
    """The counter says what the size does."""
    number = Digits(whole=2)
    line = Layout(
        (beside.text_of(lambda state: f"{state.counter:02d}.00", "counter"), always(","),
         number.piece()),
        end=b"\r\n",
    )  # fmt: skip
    session = _session(drawn, PLAIN, line, 0.0)
    session.state.counter = -1
    return "counter and value rose together", _pressed(session, "0", "1", "2", "3", "4", "5")


def either_end(drawn: random.Random) -> Case:
    """Sizes whose bytes read the same from both ends."""
    session = _session(drawn, PLAIN, Layout((integer(2, "big"),), start=b"\x02", end=b"\x03"), 0.0)
    sizes = ("0", "2.57", "5.14", "10.28", "25.7", "-0.01")
    return "either end first: all bytes are pairs", _pressed(session, *sizes)


def either_way_round(drawn: random.Random) -> Case:
    """Whole sizes, read exactly: 20000 may be 00002 sent last first."""
    number = Digits(whole=1, mark="", sign="trailing")
    inches = GAUGES[7]
    session = _session(drawn, inches, Layout((number.piece(),), end=b"\r"), 0.0)
    return "digits may be sent last first: all are round", _pressed(
        session, "0", "2", "3", "4", "-2"
    )


def loose_scale(drawn: random.Random) -> Case:
    """Counts known at small sizes only: the scale is loose by a per cent."""
    name, many = "20480 to the inch", Fraction("25.4") / 20480
    session = _session(drawn, PLAIN, Layout((multiple(3, "little", many, name),), start=b"\xf0"))
    sizes = ("0", "0.5", "0.6", "1", "-0.5")
    return "counts at sizes of a millimetre at most: the scale is loose", _pressed(session, *sizes)


def unit_not_sent(drawn: random.Random) -> Case:
    """The number follows the unit switch, and nothing in the message says so."""
    layout = Layout((integer(3, "big"),), start=b"\x01\x04", end=b"\xff")
    session = _session(drawn, CALIPER, layout)
    presses = _pressed(session, "0", "10", "25", "60", "-20")
    presses.append(session.asked(Asked("50", switched=True)))
    return "the number follows the unit switch and no byte tells of it", presses


def unit_not_sent_text(drawn: random.Random) -> Case:
    number = Digits(whole=7, mark="")
    fixed = Piece(lambda shown, state: number.text(shown)[:1].encode()
                  + f"{abs(shown.steps):08d}".encode(), "implied")  # fmt: skip
    session = _session(drawn, CALIPER, Layout((fixed,), end=b"\r"))
    presses = _pressed(session, "0", "10", "25", "60", "-20")
    presses.append(session.asked(Asked("50", switched=True)))
    return "implied decimals follow the unit switch and nothing tells of it", presses


def other_units(drawn: random.Random) -> Case:
    """Sizes of two dimensions."""
    presses = _pressed(_session(drawn, PLAIN, LINE), "0", "10", "25", "60", "-20")
    presses[2] = replace(presses[2], at="25 N·m")
    return "a length and a torque from one gauge", presses


CASES: tuple[Callable[[random.Random], Case], ...] = (
    no_press,
    one_press,
    only_zero,
    one_size,
    frozen,
    swapped,
    far_off,
    garbled,
    noise,
    cut,
    two_gauges,
    no_negative,
    no_negative_digits,
    rising_with_highest,
    rising_with_highest_binary,
    counter_fits,
    either_end,
    either_way_round,
    loose_scale,
    unit_not_sent,
    unit_not_sent_text,
    other_units,
)


def ambiguous(word: str) -> Iterator[Thin]:
    """Two of each case, the same for the same ``word``; being sure of any is wrong."""
    for make in CASES:
        for number in range(2):
            name = f"thin-{make.__name__.replace('_', '-')}-{number}"
            why, presses = make(seeded(word, name))
            yield Thin(name, why, tuple(presses))
