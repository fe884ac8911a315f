"""Which instruments of a bench hang on what was found."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from drivers.ble.address import is_ble, target
from drivers.keys.address import is_keys, name_in
from drivers.keys.attached import Attached
from drivers.transports.ports import PortInfo
from drivers.transports.settings import plain_com

if TYPE_CHECKING:
    from drivers.adapters.port import Port
    from drivers.bench import Bench
    from drivers.keys.badge import BadgeReader
    from drivers.keys.pedal import Pedal


class Known:
    """What a bench.toml says, asked by what was found."""

    def __init__(self, bench: Bench | None) -> None:
        self.ports: Sequence[Port] = bench.ports if bench else ()
        """Of the bench."""
        self._others: list[Pedal | BadgeReader] = (
            [*bench.pedals, *bench.badge_readers] if bench else []
        )
        self.names = {
            *(instrument.id for instrument in (bench.instruments if bench else ())),
            *(port.settings.id for port in self.ports),
        }
        """Ids that are taken; those proposed are added."""
        self._met: set[str] = set()

    def on_cable(self, info: PortInfo) -> Port | None:
        """The port of the bench that this serial port is."""
        return self._first(port for port in self.ports if _is_cable(port, info))

    def on_radio(self, address: str, name: str | None) -> Port | None:
        """The port of the bench that this Bluetooth device is."""
        return self._first(
            port
            for port in self.ports
            if is_ble(port.settings.device)
            and target(port.settings.device).is_meant(address.upper(), name)
        )

    def on_keyboard(self, one: Attached) -> Port | None:
        """The port of the bench that this keyboard is."""
        return self._first(port for port in self.ports if _is_keys(port.settings.device, one))

    def others(self, one: Attached) -> list[str]:
        """The pedals or the badge reader of the bench on this device."""
        return [other.id for other in self._others if _is_keys(other.device, one)]

    def missing(self) -> list[Port]:
        """The ports of the bench that nothing found was; not those at a network address, which
        nobody lists."""
        return [
            port
            for port in self.ports
            if port.settings.id not in self._met
            and (is_ble(port.settings.device) or not port.settings.is_url)
        ]

    def _first(self, fitting: Iterator[Port]) -> Port | None:
        port = next(fitting, None)
        if port is not None:
            self._met.add(port.settings.id)
        return port


def ids(port: Port | None) -> list[str]:
    """The instruments on it."""
    return [instrument.id for instrument in port.instruments] if port else []


def _is_cable(port: Port, info: PortInfo) -> bool:
    settings = port.settings
    if settings.is_url or is_keys(settings.device):
        return False
    if settings.usb_serial is not None and info.usb_serial is not None:
        return settings.usb_serial == info.usb_serial
    if plain_com(settings.device) == plain_com(info.device):
        return True
    return os.path.realpath(settings.device) == os.path.realpath(info.device)


def _is_keys(device: str, one: Attached) -> bool:
    if not is_keys(device):
        return False
    name = name_in(device)
    if name is not None:
        return name == one.name
    return os.path.realpath(device) == os.path.realpath(one.device)
