"""Which ports are plugged in, and which of them is the one that is looked for."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Sequence
from typing import NamedTuple

from capture.errors import PortGone
from drivers.transports.settings import PortSettings, plain_com


class PortInfo(NamedTuple):
    """One port the system knows."""

    device: str
    usb_serial: str | None = None
    description: str = ""
    vendor_id: int | None = None
    product_id: int | None = None


ListPorts = Callable[[], Sequence[PortInfo]]


def system_ports() -> list[PortInfo]:
    """The ports of this machine. Blocks for some milliseconds."""
    from serial.tools.list_ports import comports

    return [
        PortInfo(port.device, port.serial_number or None, port.description, port.vid, port.pid)
        for port in comports()
    ]


class Found(NamedTuple):
    """Where a port is now."""

    device: str
    usb_serial: str | None


def find(
    settings: PortSettings,
    ports: Sequence[PortInfo],
    remembered: str | None = None,
    others: Collection[str] = (),
) -> Found:
    """Where the port of ``settings`` is now; raises ``PortGone`` where it is not plugged in.

    A USB serial number, stated or ``remembered`` from the last time, finds it under any name. The
    name alone counts only where no number says otherwise: another cable may have taken the name.
    ``others`` are the numbers that belong to the bench's other ports.
    """
    if settings.is_url:
        return Found(settings.device, None)
    names = {plain_com(settings.device), os.path.realpath(settings.device)}
    at_name = next((port for port in ports if plain_com(port.device) in names), None)
    wanted = settings.usb_serial or remembered
    if wanted is not None:
        match = [port for port in ports if port.usb_serial == wanted]
        if len(match) == 1:
            return Found(match[0].device, wanted)
        if at_name is not None and at_name in match:
            return Found(settings.device, wanted)
        if match:
            raise _twice(settings, wanted, match)
    there = at_name.usb_serial if at_name is not None else None
    another = settings.usb_serial is not None and at_name is not None
    if another or there in others:
        raise _another(settings, there)
    return Found(settings.device, there)


def _twice(settings: PortSettings, wanted: str, match: Sequence[PortInfo]) -> PortGone:
    devices = ", ".join(port.device for port in match)
    return PortGone(
        f"{devices} have the same USB serial number {wanted}",
        port=settings.device,
        mend="unplug all but one, or take usb_serial out of bench.toml",
    )


def _another(settings: PortSettings, there: str | None) -> PortGone:
    number = f"USB serial number {there}" if there else "no USB serial number"
    return PortGone(
        f"{settings.device} is now another cable ({number})",
        port=settings.device,
        mend="plug this instrument's own cable in, or correct usb_serial in bench.toml",
    )
