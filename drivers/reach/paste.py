"""The lines of bench.toml for what was found. What nobody can know is left as ``?``, which
bench.toml refuses with the mend, so that it cannot be forgotten."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence

from drivers.decoding.gatt import GattDecoding
from drivers.reach.ears import Part
from drivers.reach.kinds import measuring, unreadable

OPEN = "?"
"""Stands where a person has to write something."""
_KIND = 'kind = "?"             # what it is: micrometer, bore-gauge, torque-adapter, …'
_PROFILE = "profile = \"?\"          # how it is read: a shipped profile, or the file of 'learn'"
_UNIT = 'unit = "?"             # mm, in, N·m, …'
_RESOLUTION = 'resolution = "?"       # the smallest step of its display, like 0.001'


def for_cable(device: str, usb_serial: str | None, taken: set[str]) -> str:
    """Of a serial port; with its USB serial number it is found again under any name."""
    instrument = _free("gauge-1", taken)
    if usb_serial is None:
        return _instrument(instrument, device, [_PROFILE, _UNIT, _RESOLUTION])
    port = _free("cable-1", taken)
    return "\n".join(
        [
            _instrument(instrument, port, [_PROFILE, _UNIT, _RESOLUTION]),
            "",
            "[[port]]",
            f"id = {_quoted(port)}",
            f"device = {_quoted(device)}",
            f"usb_serial = {_quoted(usb_serial)}",
            "baud = 9600            # as the gauge's or receiver's booklet says",
        ]
    )


def for_keyboard(port: str, taken: set[str]) -> str:
    """Of what types its readings like a keyboard."""
    return _instrument(_free("gauge-1", taken), port, [_PROFILE, _UNIT, _RESOLUTION])


def for_pedal(device: str) -> str:
    """Of a foot pedal."""
    does = 'does = "?"             # send, confirm or void'
    return "\n".join(["[[pedal]]", f"device = {_quoted(device)}", does])


def for_radio(port: str, name: str | None, parts: Sequence[Part] | None, taken: set[str]) -> str:
    """Of a Bluetooth device; ``parts`` is what it offers, None where it was not looked into."""
    instrument = _free(slug(name) or "gauge-1", taken)
    if parts is None:
        more = ["# no profile where it describes its values itself", _PROFILE, _UNIT, _RESOLUTION]
        return _instrument(instrument, port, more)
    values = [(part, how) for part, how in measuring(parts) if how.unit_name is not None]
    if values:
        return _describing(instrument, port, values, taken)
    return _by_profile(instrument, port, parts, taken)


def slug(name: str | None) -> str:
    """A name as an id of bench.toml: small letters, digits and dashes."""
    return re.sub(r"[^a-z0-9]+", "-", (name or "").lower()).strip("-")[:48]


def _describing(
    instrument: str,
    port: str,
    values: Sequence[tuple[Part, GattDecoding]],
    taken: set[str],
) -> str:
    part, how = values[0]
    unit, resolution = _step(how)
    lines = [f"unit = {_quoted(unit)}", resolution]
    if len(values) == 1:
        return _instrument(instrument, port, lines)
    name = _free("radio-1", taken)
    others = [
        f"# notify = {_quoted(one.one.uuid)}  # instead, with a unit like {other.unit_name}"
        for one, other in values[1:]
    ]
    return "\n".join(
        [
            _instrument(instrument, name, lines),
            "",
            *_port(name, port),
            f"notify = {_quoted(part.one.uuid)}  # in {how.unit_name}",
            *others,
        ]
    )


def _by_profile(instrument: str, port: str, parts: Sequence[Part], taken: set[str]) -> str:
    senders = unreadable(parts)
    lines = [_PROFILE, _UNIT, _RESOLUTION]
    if not senders:
        return ""
    name = _free("radio-1", taken)
    first, *others = senders
    written = [one.one.uuid for one in parts if one.service == first.service and one.one.writes]
    return "\n".join(
        [
            _instrument(instrument, name, lines),
            "",
            *_port(name, port),
            f"notify = {_quoted(first.one.uuid)}",
            *(f"# notify = {_quoted(one.one.uuid)}  # or this one" for one in others),
            *(f"write = {_quoted(uuid)}" for uuid in written[:1]),
        ]
    )


def _step(how: GattDecoding) -> tuple[str, str]:
    """The unit to read it in, and the line of the step its values have."""
    unit, exponent = how.unit_name or OPEN, how.exponent
    if unit == "m":
        unit, exponent = "mm", exponent + 3
    if not how.is_integer or abs(exponent) > 9:
        return unit, _RESOLUTION
    step = f"{10**exponent}" if exponent >= 0 else f"0.{'1'.zfill(-exponent)}"
    return unit, f'resolution = "{step}"'.ljust(23) + "# the step it sends, or its display's"


def _instrument(id_: str, port: str, lines: Sequence[str]) -> str:
    rows = ["[[instrument]]", f"id = {_quoted(id_)}", _KIND, f"port = {_quoted(port)}", *lines]
    return "\n".join(rows)


def _port(id_: str, url: str) -> list[str]:
    return ["[[port]]", f"id = {_quoted(id_)}", f"url = {_quoted(url)}"]


def _free(wanted: str, taken: set[str]) -> str:
    """``wanted``, or with the next number where an instrument or port is called so already; it is
    taken from now on."""
    # the pattern fits any text
    stem, number = re.fullmatch(r"(.*?)(?:-([0-9]{1,3}))?", wanted).groups()  # type: ignore[union-attr]
    name, count = wanted, int(number or 1)
    while name in taken:
        count += 1
        name = f"{stem}-{count}"
    taken.add(name)
    return name


def _quoted(text: str) -> str:
    """As a TOML basic string; JSON's is one, for what a path, a name or a number can hold."""
    return json.dumps(text, ensure_ascii=False)
