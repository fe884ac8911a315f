"""Which Bluetooth devices are heard, and what each offers once it is asked."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from drivers.ble.permission import ask_first
from drivers.ble.radio import Radio
from drivers.ble.trouble import ALL, SCANNING, trouble
from drivers.reach.ears import Part, radio

if TYPE_CHECKING:
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData

SECONDS = 5.0
"""How long is listened."""
NEAR = -80
"""dBm: a device heard more weakly is hardly on this bench; common practice, no source."""
LOOKING = 12.0
"""Seconds one device may take to say what it offers."""
_SWITCHING = 5.0


class Heard(NamedTuple):
    """A device that was heard."""

    device: BLEDevice
    address: str
    name: str | None
    signal: int | None
    """dBm."""
    services: tuple[str, ...]
    """UUIDs of those it tells of by itself; it may offer more."""

    @property
    def port(self) -> str:
        """What bench.toml calls it."""
        return f"ble://{self.address}"

    @property
    def is_near(self) -> bool:
        """Whether it has a name and is as strong as a device on this bench."""
        return self.name is not None and (self.signal is None or self.signal >= NEAR)


class Inside(NamedTuple):
    """What a device offers, asked of itself."""

    parts: tuple[Part, ...]
    battery: int | None


async def survey(on: Radio, seconds: float = SECONDS) -> list[Heard]:
    """The devices heard within ``seconds``, strongest first. Raises ``TransportError`` with why
    Bluetooth cannot be used, and the mend."""
    await ask_first(ALL)
    heard: dict[str, Heard] = {}

    def detected(device: BLEDevice, said: AdvertisementData) -> None:
        address = device.address.upper()
        before = heard[address].services if address in heard else ()
        services = tuple(dict.fromkeys([*before, *said.service_uuids]))
        name = _name(said.local_name or device.name, address)
        heard[address] = Heard(device, address, name, said.rssi, services)

    try:
        async with on.turn():
            await _listen(detected, seconds)
    except Exception as error:
        raise trouble(ALL, SCANNING, error) from error
    return sorted(heard.values(), key=lambda one: (-(one.signal or -127), one.address))


async def look(on: Radio, one: Heard) -> Inside:
    """Connects, sees what it offers, and lets it go; raises ``TransportError``."""
    try:
        async with asyncio.timeout(LOOKING), on.turn(), radio(one.port, one.device) as ear:
            return Inside(ear.parts, ear.battery)
    except TimeoutError as error:
        raise trouble(one.port, "saying what it offers", error) from error


async def _listen(detected: Callable[[BLEDevice, AdvertisementData], None], seconds: float) -> None:
    from bleak import BleakScanner

    scanner = BleakScanner(detected)
    async with asyncio.timeout(_SWITCHING):
        await scanner.start()
    try:
        await asyncio.sleep(seconds)
    finally:
        async with asyncio.timeout(_SWITCHING):
            await scanner.stop()


def _name(said: str | None, address: str) -> str | None:
    """The name it sends; the system gives a device without one its address with dashes."""
    return None if not said or said.upper() == address.replace(":", "-") else said
