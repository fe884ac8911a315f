"""Text in the shapes gauges send it. Every layout is invented, by the draw."""

from __future__ import annotations

import random
from dataclasses import replace

from simulators.formats import beside
from simulators.formats.checks import draw_check
from simulators.formats.digits import Digits, exponent, hexadecimal
from simulators.formats.format import Format
from simulators.formats.gauge import Gauge, Shown, draw_gauge, draw_switched
from simulators.formats.message import Layout, Piece, always
from simulators.formats.state import State

ENDS = (b"\r\n", b"\r", b"\n", b"\r\n", b"\x03", b";", b"\x00")
LABELS = ("", "", "", "X", "D ", "VAL=", "L1:", "#", ">", "A1 ", "01,")


def _digits(drawn: random.Random, gauge: Gauge) -> Digits:
    """An everyday number."""
    return Digits(
        whole=drawn.choice([1, gauge.whole_digits(), gauge.whole_digits() + 1]),
        fill=drawn.choice(["0", "0", " "]),
        plus=drawn.choice(["+", "+", " "]),
    )


def _fixed(drawn: random.Random, gauge: Gauge) -> Digits:
    """A number as wide at every size."""
    return replace(_digits(drawn, gauge), whole=gauge.whole_digits() + drawn.randrange(2))


def _unit(drawn: random.Random, gauge: Gauge) -> tuple[Piece, ...]:
    """The unit somehow; where there is one only it may be left out."""
    kind = drawn.choice(["word", "word", "letter", "status"])
    if gauge.second is None and drawn.random() < 0.5:
        return ()
    if kind == "word":
        return (always(drawn.choice(["", " ", ","])), beside.unit(beside.unit_words(drawn, gauge)))
    if kind == "letter":
        return (beside.unit(beside.unit_letters(drawn, gauge), "unit letter"),)
    return (
        always(drawn.choice([" ", ","])),
        beside.status_text(drawn, gauge, drawn.choice([2, 4])),
    )


def _line(drawn: random.Random, *pieces: Piece) -> Layout:
    label = drawn.choice(LABELS)
    start = (always(label), *pieces) if label else pieces
    return Layout(start, end=drawn.choice(ENDS))


def _made(shape: str, gauge: Gauge, layout: Layout) -> Format:
    return Format("", shape, gauge, layout)


def plain(drawn: random.Random) -> Format:
    """Sign before the digits."""
    gauge = draw_gauge(drawn)
    line = _line(drawn, _digits(drawn, gauge).piece(), *_unit(drawn, gauge))
    return _made("sign leading", gauge, line)


def trailing(drawn: random.Random) -> Format:
    """Sign behind the digits."""
    gauge = draw_gauge(drawn)
    number = replace(_digits(drawn, gauge), sign="trailing")
    return _made("sign trailing", gauge, _line(drawn, number.piece(), *_unit(drawn, gauge)))


def spaced(drawn: random.Random) -> Format:
    """Sign in a column of its own, blanks, digits."""
    gauge = draw_gauge(drawn)
    whole = gauge.whole_digits() + drawn.randint(1, 3)
    number = replace(_digits(drawn, gauge), sign="spaced", fill=" ", whole=whole)
    return _made("sign spaced", gauge, _line(drawn, number.piece(), *_unit(drawn, gauge)))


def odd_sign(drawn: random.Random) -> Format:
    """Signs by letter or figure, or brackets round a negative."""
    gauge = draw_gauge(drawn)
    plus, minus = drawn.choice([("P", "N"), ("0", "1"), ("R", "L"), (" ", "M"), ("a", "b")])
    number = replace(_fixed(drawn, gauge), sign="spaced", fill="0", plus=plus, minus=minus)
    if drawn.random() < 0.4:
        number = replace(number, sign="bracket", plus=" ", minus="(")
    return _made("sign odd", gauge, _line(drawn, number.piece(), *_unit(drawn, gauge)))


def comma(drawn: random.Random) -> Format:
    """Decimal commas."""
    gauge = draw_gauge(drawn)
    number = replace(_digits(drawn, gauge), mark=",", sign=drawn.choice(["leading", "trailing"]))
    return _made("decimal comma", gauge, _line(drawn, number.piece(), *_unit(drawn, gauge)))


def powers(drawn: random.Random) -> Format:
    """Exponents."""
    gauge = draw_gauge(drawn)
    number = exponent(drawn.choice(["one", "none", "whole"]), gauge)
    return _made("exponent", gauge, _line(drawn, number, *_unit(drawn, gauge)))


def implied(drawn: random.Random) -> Format:
    """No point sent."""
    gauge = draw_gauge(drawn)
    sign = drawn.choice(["leading", "trailing"])
    number = replace(_fixed(drawn, gauge), mark="", fill="0", sign=sign)
    return _made("implied decimals", gauge, _line(drawn, number.piece(), *_unit(drawn, gauge)))


def hexa(drawn: random.Random) -> Format:
    """Hex digits."""
    gauge = draw_gauge(drawn)
    width = drawn.choice([6, 8]) if _most_steps(gauge) > 0x7FFF else drawn.choice([4, 5, 6, 8])
    number = hexadecimal(width, drawn.choice(["twos", "twos", "sign", "bit"]), drawn.random() < 0.7)
    # A blank between: a unit letter from A to F would be one more hex digit to anyone.
    return _made("hex digits", gauge, _line(drawn, number, always(" "), *_unit(drawn, gauge)))


def _most_steps(gauge: Gauge) -> int:
    return max(int(gauge.high * 10**scale.places / scale.size) for scale in gauge.scales)


def backwards(drawn: random.Random) -> Format:
    """Digits sent last-first."""
    gauge = draw_gauge(drawn)
    number = replace(
        _fixed(drawn, gauge),
        fill="0",
        backwards=True,
        mark=drawn.choice([".", ""]),
        sign=drawn.choice(["leading", "trailing"]),
    )
    return _made("digits last-first", gauge, _line(drawn, number.piece(), *_unit(drawn, gauge)))


def counted(drawn: random.Random) -> Format:
    """A counter, a clock or a battery in the line, before the value or behind."""
    gauge = draw_gauge(drawn)
    gap = always(drawn.choice([",", " ", ";", "\t"]))
    others = [beside.counter_text(drawn), beside.clock_text(drawn), beside.battery_text(drawn)]
    chosen = drawn.sample(others, drawn.choice([1, 1, 2]))
    value = (_digits(drawn, gauge).piece(), *_unit(drawn, gauge))
    parts: list[Piece] = []
    if drawn.random() < 0.5:
        for other in chosen:
            parts += [other, gap]
        parts += value
    else:
        parts += value
        for other in chosen:
            parts += [gap, other]
    return _made("counter, clock, battery", gauge, _line(drawn, *parts))


def statistics(drawn: random.Random) -> Format:
    """Highest and lowest beside the value, in one line or a line each."""
    gauge = draw_gauge(drawn)
    number = _digits(drawn, gauge)
    said = {"value": number.piece(), "max": number.highest(), "min": number.lowest()}
    names = drawn.sample(list(said), 3)
    unit = _unit(drawn, gauge)
    parts: list[Piece] = []
    if drawn.random() < 0.5:
        gap = always(drawn.choice([",", ";", " "]))
        for name in names:
            parts += [said[name], gap]
        return _made("max and min beside", gauge, _line(drawn, *parts, *unit))
    labels = dict(zip(said, drawn.choice([("V ", "H ", "L "), ("act", "max", "min")]), strict=True))
    for name in names:
        parts += [always(labels[name]), said[name], *unit, always("\r\n")]
    return _made("max and min beside", gauge, Layout(tuple(parts)))


def limits(drawn: random.Random) -> Format:
    """Limits that were set stand beside the value."""
    gauge = draw_gauge(drawn)
    number = _digits(drawn, gauge)
    gap = always(drawn.choice([",", "/", " "]))
    low = always(f"{drawn.uniform(1, 9):.3f}")
    high = always(f"{drawn.uniform(9, 20):.3f}")
    parts = [low, gap, number.piece(), gap, high]
    if drawn.random() < 0.5:
        parts = [number.piece(), gap, low, gap, high]
    return _made("limits beside", gauge, _line(drawn, *parts, *_unit(drawn, gauge)))


def unit_word(drawn: random.Random) -> Format:
    """The unit as a word, before or behind."""
    gauge = draw_switched(drawn)
    word = beside.unit(beside.unit_words(drawn, gauge, drawn.choice([None, 4, 6])))
    number = _digits(drawn, gauge).piece()
    parts = (word, always(" "), number) if drawn.random() < 0.5 else (number, always(" "), word)
    return _made("unit word", gauge, _line(drawn, *parts))


def unit_letter(drawn: random.Random) -> Format:
    """The unit as a letter, before or behind."""
    gauge = draw_switched(drawn)
    letter = beside.unit(beside.unit_letters(drawn, gauge), "unit letter")
    number = _digits(drawn, gauge).piece()
    parts = (letter, number) if drawn.random() < 0.5 else (number, letter)
    return _made("unit letter", gauge, _line(drawn, *parts))


def unit_flag(drawn: random.Random) -> Format:
    """The unit as a bit of a status in hex digits."""
    gauge = draw_switched(drawn)
    flag = beside.status_text(drawn, gauge, drawn.choice([1, 2, 4]))
    number = _digits(drawn, gauge).piece()
    gap = always(drawn.choice([" ", ",", "/"]))
    parts = (flag, gap, number) if drawn.random() < 0.5 else (number, gap, flag)
    return _made("unit flag", gauge, _line(drawn, *parts))


def stays(drawn: random.Random) -> Format:
    """The message stays in the first unit whatever the display shows."""
    gauge = draw_switched(drawn)
    first = beside.WORDS[gauge.first.unit][0]
    only = replace(gauge, second=None)
    number = _digits(drawn, gauge)

    def write_first(shown: Shown, state: State) -> bytes:
        return number.text(only.show(shown.size, False)).encode()

    piece = Piece(write_first, f"{number}, always in {gauge.first.unit}")
    made = _made("stays in one unit", gauge, _line(drawn, piece, always(first)))
    return replace(made, tells_unit=False)


def parity(drawn: random.Random) -> Format:
    """The parity bit left in the byte."""
    made = drawn.choice([plain, trailing, implied, unit_letter])(drawn)
    layout = made.layout
    if "\xb0" in str(layout):
        gauge = draw_switched(drawn)
        layout = _line(
            drawn, _digits(drawn, gauge).piece(), beside.unit(beside.unit_words(drawn, gauge))
        )
        made = replace(made, gauge=gauge)
    layout = replace(layout, parity=drawn.choice(["even", "odd", "mark"]))
    return replace(made, shape="parity bit left in", layout=layout)


def padded(drawn: random.Random) -> Format:
    """Padding before, between and behind."""
    gauge = draw_gauge(drawn)
    fill = drawn.choice(["*", "_", "\0", " ", ".", "-"])
    number = replace(_digits(drawn, gauge), fill=" ", whole=gauge.whole_digits() + 2)
    before = always(fill * drawn.randint(1, 5))
    behind = always(fill * drawn.randint(1, 6))
    if fill in ".-":
        before = always("")
    parts = (before, number.piece(), *_unit(drawn, gauge), behind)
    return _made("padding", gauge, _line(drawn, *parts))


def echoed(drawn: random.Random) -> Format:
    """The request comes back before the answer."""
    made = drawn.choice([plain, trailing, unit_word, implied])(drawn)
    echo = drawn.choice([b"?\r", b"S\r\n", b"R1\r", b"GET 0\r\n", b"\x05", b"!", b"D?\n"])
    return replace(made, shape="echoed request", layout=replace(made.layout, echo=echo))


def unended(drawn: random.Random) -> Format:
    """No terminator: messages of one length."""
    gauge = draw_gauge(drawn)
    sign = drawn.choice(["leading", "trailing", "spaced"])
    number = replace(_fixed(drawn, gauge), sign=sign, mark=drawn.choice([".", ""]))
    if gauge.second is not None and number.mark:
        word: tuple[Piece, ...] = (beside.unit(beside.unit_letters(drawn, gauge), "unit letter"),)
    else:
        word = tuple(piece for piece in _unit(drawn, gauge) if "unit {" not in piece.says)
        if gauge.second is not None and not word:
            word = (always("/"), beside.status_text(drawn, gauge, 2))
    if gauge.second is not None and not any("unit" in piece.says for piece in word):
        word = (always("/"), beside.status_text(drawn, gauge, 2))
    return _made("no terminator", gauge, Layout((number.piece(), *word)))


def checked(drawn: random.Random) -> Format:
    """Text with a check behind it."""
    made = drawn.choice([plain, trailing, implied, unit_word, counted, unit_letter])(drawn)
    start, before = drawn.choice([(b"", b"*"), (b"$", b"*"), (b"\x02", b"\x03"), (b"\x02", b"")])
    layout = replace(
        made.layout,
        start=start,
        before_check=before,
        check=draw_check(drawn, text=True),
        covers_start=drawn.random() < 0.5,
        end=drawn.choice([b"\r\n", b"\r"]),
    )
    return replace(made, shape="text with a check", layout=layout)


SHAPES = (
    (plain, 10),
    (trailing, 9),
    (spaced, 9),
    (odd_sign, 8),
    (comma, 9),
    (powers, 10),
    (implied, 12),
    (hexa, 12),
    (backwards, 10),
    (counted, 14),
    (statistics, 10),
    (limits, 6),
    (unit_word, 8),
    (unit_letter, 7),
    (unit_flag, 8),
    (stays, 4),
    (parity, 9),
    (padded, 9),
    (echoed, 9),
    (unended, 9),
    (checked, 16),
)
"""Shape, and how many of it a corpus holds."""
