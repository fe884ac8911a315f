"""What a Bluetooth device says of itself, for ``witnessmark learn``."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

import click

from capture.errors import DecodingError, UnitError
from capture.quantity import convert, text
from drivers.ble.battery import battery_words
from drivers.ble.numbers import MEASUREMENTS
from drivers.learn.hear_which import Judged
from drivers.learn.learn import Learned
from drivers.learn.press import size_of

if TYPE_CHECKING:
    from drivers.decoding.gatt import GattDecoding
    from drivers.learn.hear_ble import BleEar

QUIET = 3.0
"""Seconds in which nobody is to press."""
PRESS = "Now press the gauge's button…"
_NEAR = 0.05
"""Of the size: how far what it says may be from it. It is described; this only tells which one."""


def told(ear: BleEar) -> None:
    """Says what the device offers."""
    click.echo(f"Connected{battery_words(ear.battery)}. It sends by:", err=True)
    for uuid in ear.senders:
        how = ear.described.get(uuid)
        said = f": {_how(uuid, how)}; no profile is needed for it" if how else ""
        click.echo(f"  {uuid}{said}", err=True)
    if not describes(ear):
        click.echo("Do not press yet: listening to what it sends by itself…", err=True)
        ear.quiet(QUIET)


def describes(ear: BleEar) -> bool:
    """Whether all that it sends describes itself."""
    return bool(ear.described) and set(ear.described) == set(ear.senders)


def described(ear: BleEar, wait: float) -> tuple[Judged, tuple[str, str]]:
    """What a device whose values describe themselves needs in bench.toml, after a press to check
    which of them is the reading; and the unit and step of it."""
    while True:
        said = click.prompt("A size you know, with its unit (one press checks it)", err=True)
        try:
            size, unit = size_of(said.strip())
        except (ValueError, UnitError) as error:
            click.echo(str(error), err=True)
            continue
        heard = ear.press(wait, ready=lambda: click.echo(PRESS, err=True))
        if heard.parts:
            break
        click.echo("Nothing came. Is it on?", err=True)
    reads = {uuid: _read(ear.described[uuid], raw, unit) for uuid, raw in heard.parts.items()}
    for uuid, value in reads.items():
        shown = "no value in such a unit" if value is None else f"{text(value, 4)} {unit}"
        click.echo(f"{uuid} says {shown}.", err=True)
    near = [uuid for uuid, value in reads.items() if value is not None and _near(value, size)]
    if len(near) != 1:
        what = "more than one characteristic fits" if near else "no characteristic says that size"
        wish = "zero the gauge and press at a size that you know"
        return Judged(Learned(False, [], [what], wish, None), None), (unit, "?")
    (uuid,) = near
    how = ear.described[uuid]
    found = [
        f"Characteristic {uuid} describes itself ({_how(uuid, how)}): it needs no profile.",
        *(f"Characteristic {other} describes itself too ({_how(other, ear.described[other])})."
          for other in ear.senders if other != uuid),
    ]  # fmt: skip
    name = uuid if len(ear.described) > 1 else None
    return Judged(Learned(True, found, [], None, None), name), (unit, _step(how, unit))


def _how(uuid: str, how: GattDecoding) -> str:
    source = "service 0x185A" if uuid in MEASUREMENTS else "descriptor 0x2904"
    return f"{source}, in {how.unit_name or 'a unit not known here'}"


def _read(how: GattDecoding, raw: bytes, unit: str) -> Decimal | None:
    try:
        digits, name, _, _ = how.decoder(0, 0)(raw)
        return _decimal(convert(Decimal(digits), name or "", unit))
    except (DecodingError, UnitError):
        return None


def _near(value: Decimal, size: Decimal) -> bool:
    return abs(float(value) - float(size)) <= max(abs(float(size)) * _NEAR, 0.05)


def _step(how: GattDecoding, unit: str) -> str:
    """The step its values have, in ``unit``, where that is a power of ten."""
    try:
        step = _decimal(convert(Decimal(1).scaleb(how.exponent), how.unit_name or "", unit))
    except UnitError:
        return "?"
    return text(step, max(0, -int(step.normalize().as_tuple().exponent)))


def _decimal(number: Decimal | Fraction) -> Decimal:
    if isinstance(number, Decimal):
        return number
    return Decimal(number.numerator) / Decimal(number.denominator)
