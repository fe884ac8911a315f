"""All that is within reach, each with what it seems to be and its lines of bench.toml."""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from capture.errors import TransportError
from drivers.ble.battery import battery_words
from drivers.keys.attached import Attached
from drivers.keys.trouble import cannot_open as cannot_read
from drivers.reach import kinds, paste
from drivers.reach.cables import Cable
from drivers.reach.known import Known, ids
from drivers.reach.survey import Heard, Inside


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that may be an instrument."""

    port: str
    """What bench.toml may call it."""
    title: str
    """What the system or the thing itself calls it."""
    seems: tuple[str, ...]
    """What it seems to be, in plain words."""
    facts: dict[str, Any]
    """What else is known, for programs."""
    said: tuple[str, ...] = ()
    """The same for a person."""
    instruments: tuple[str, ...] = ()
    """The instruments, pedals and badge readers of the bench on it."""
    lines: str = ""
    """For bench.toml; empty where it can be none of its ports."""
    trouble: TransportError | None = None
    hidden: bool = field(default=False)
    """Whether it is shown only when everything is asked for."""

    def to_body(self) -> dict[str, Any]:
        """For JSON."""
        trouble = self.trouble
        return {
            **self.facts,
            "seems": list(self.seems),
            "instruments": list(self.instruments),
            "trouble": trouble and {"what": str(trouble), "mend": trouble.mend},
            "lines": self.lines,
        }


def of_cables(found: Sequence[Cable], known: Known) -> list[Row]:
    """The rows of serial ports."""
    numbers = [cable.info.usb_serial for cable in found]
    rows = []
    for cable in found:
        info = cable.info
        on = ids(known.on_cable(info))
        alone = info.usb_serial is not None and numbers.count(info.usb_serial) == 1
        vendor, product = _hex(info.vendor_id), _hex(info.product_id)
        said = []
        if vendor and product:
            number = f", serial number {info.usb_serial}" if info.usb_serial else ""
            said.append(f"USB {vendor}:{product}{number}")
        said += [f"also called {name}" for name in cable.stable]
        rows.append(
            Row(
                info.device,
                "" if info.description in ("n/a", info.device) else info.description,
                (cable.seems,),
                {
                    "device": info.device,
                    "description": info.description,
                    "usb_vendor": vendor,
                    "usb_product": product,
                    "serial_number": info.usb_serial,
                    "stable_names": list(cable.stable),
                },
                tuple(said),
                tuple(on),
                paste.for_cable(cable.best, info.usb_serial if alone else None, known.names),
                cable.trouble,
            )
        )
    return rows


def of_keyboards(found: Sequence[Attached], known: Known) -> list[Row]:
    """The rows of what types or has keys, plugged in by USB."""
    rows = []
    for one in found:
        if not any(number.strip("0") for number in one.usb):
            continue  # the computer's own power button and the like
        seems = (
            "types digits: a keyboard, a gauge that types its readings, or a badge scanner"
            if one.types_digits
            else "has keys and types no digits: a foot pedal, or buttons"
        )
        on = (*ids(known.on_keyboard(one)), *known.others(one))
        rows.append(
            Row(
                one.stable,
                one.name,
                (seems,),
                {
                    "device": one.device,
                    "port": one.stable,
                    "name": one.name,
                    "usb_vendor": one.usb[0],
                    "usb_product": one.usb[1],
                    "types_digits": one.types_digits,
                },
                (f"USB {one.usb[0]}:{one.usb[1]}",),
                on,
                paste.for_keyboard(one.stable, known.names)
                if one.types_digits
                else paste.for_pedal(one.stable),
                # the others are none of our business: a person types on them
                _refused(one.device) if on else None,
            )
        )
    return rows


def _refused(device: str) -> TransportError | None:
    """Why an input device could not be read now."""
    if not os.path.exists(device) or os.access(device, os.R_OK):
        return None
    return cannot_read(device, PermissionError(errno.EACCES, "Permission denied"))


def of_radio(one: Heard, inside: Inside | TransportError | None, known: Known) -> Row:
    """The row of a Bluetooth device; ``inside`` is None where it was not asked."""
    told = inside if isinstance(inside, Inside) else None
    services = kinds.offered(told.parts) if told else kinds.advertised(one.services)
    on = ids(known.on_radio(one.address, one.name))
    said = []
    if one.signal is not None:
        said.append(f"signal {one.signal} dBm")
    if told is not None and told.battery is not None:
        said.append(battery_words(told.battery).removeprefix(", "))
    seems = tuple(dict.fromkeys(service.words for service in services if service.words))
    nothing = "offers nothing that sends readings" if told else "has not said what it offers"
    return Row(
        one.port,
        one.name or "",
        tuple(words for words in seems if words != "battery") or (nothing,),
        {
            "address": one.address,
            "port": one.port,
            "name": one.name,
            "signal_dbm": one.signal,
            "battery_percent": told.battery if told else None,
            "looked_into": told is not None,
            "services": [{"uuid": uuid, "seems": words or None} for uuid, words in services],
        },
        tuple(said),
        tuple(on),
        paste.for_radio(one.port, one.name, told.parts if told else None, known.names),
        inside if isinstance(inside, TransportError) else None,
        hidden=not (one.is_near or on),
    )


def _hex(number: int | None) -> str | None:
    return None if number is None else f"{number:04x}"
