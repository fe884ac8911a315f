"""The settings of a serial line, and which of them are looked for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

Parity = Literal["none", "even", "odd"]


class Form(NamedTuple):
    """What one character is on the line."""

    data_bits: Literal[7, 8] = 8
    parity: Parity = "none"
    stop_bits: Literal[1, 2] = 1

    @property
    def name(self) -> str:
        """``8N1`` and the like."""
        return f"{self.data_bits}{self.parity[0].upper()}{self.stop_bits}"


class Setting(NamedTuple):
    """Speed and form."""

    baud: int = 9600
    form: Form = Form()

    @property
    def name(self) -> str:
        """``9600 baud, 8N1``."""
        return f"{self.baud} baud, {self.form.name}"

    def lines(self) -> list[str]:
        """What a ``[[port]]`` table says of it; nothing where it is what a port has anyway."""
        said = []
        if self.baud != 9600:
            said.append(f"baud = {self.baud}")
        if self.form.data_bits != 8:
            said.append(f"data_bits = {self.form.data_bits}")
        if self.form.parity != "none":
            said.append(f'parity = "{self.form.parity}"')
        if self.form.stop_bits != 1:
            said.append(f"stop_bits = {self.form.stop_bits}")
        return said


PLAIN = Form()
FORMS = {
    Form(8, "none", 1): 1.0,
    Form(7, "even", 1): 2.0,
    Form(8, "even", 1): 3.0,
    Form(7, "odd", 1): 4.0,
    Form(8, "odd", 1): 4.0,
    Form(7, "none", 2): 4.0,
    Form(8, "none", 2): 4.0,
}
"""Form → how uncommon it is, in powers of two; our own judgement, no source."""
SPEEDS = {
    9600: 1.0,
    115200: 2.5,
    4800: 3.0,
    19200: 3.0,
    2400: 3.5,
    38400: 4.0,
    1200: 4.0,
    57600: 4.5,
    300: 5.5,
    600: 5.5,
    230400: 6.0,
    921600: 6.5,
    460800: 6.5,
    14400: 7.0,
    28800: 7.0,
}
"""Speed → how uncommon it is, in powers of two; our own judgement, no source."""


def candidates() -> Iterator[tuple[Setting, float]]:
    """Every setting that is looked for, with how uncommon it is in powers of two."""
    for baud, rare in SPEEDS.items():
        for form, rarer in FORMS.items():
            yield Setting(baud, form), rare + rarer


def named(text: str) -> Form:
    """The form ``8N1`` and the like; ValueError where it is none that is known here."""
    for form in FORMS:
        if form.name == text.upper():
            return form
    raise ValueError(f"{text!r} is no form of characters: write it like 8N1 or 7E1.")
