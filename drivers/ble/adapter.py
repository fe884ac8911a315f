"""Keeps one radio instrument connected: as a serial port, but found, described and missed."""

from __future__ import annotations

from drivers.adapters.adapter import Adapter
from drivers.adapters.connection import State
from drivers.adapters.means import Means
from drivers.adapters.port import Port
from drivers.adapters.receiver import Receiver
from drivers.ble.address import target
from drivers.ble.battery import is_low
from drivers.ble.choose import measuring, sending
from drivers.ble.described import DESCRIBED, ValueReceiver
from drivers.ble.link import Link, connect
from drivers.ble.permission import ask_first
from drivers.ble.radio import Radio
from drivers.decoding.gatt import GattDecoding
from drivers.transports.transport import Transport

_SEARCH = 30.0
"""Seconds a device is listened for before a person is told that it is not heard."""


class BleAdapter(Adapter):
    """One radio instrument: searched for, connected, read, searched for again.

    Its state is ``scanning`` while it is searched for, ``connecting`` while it is connected,
    ``silent`` when it no longer answers, ``lost`` when the connection is gone.
    """

    def __init__(self, port: Port, means: Means, radio: Radio) -> None:
        super().__init__(port, means)
        self._radio = radio
        self._decoding: GattDecoding | None = None

    async def _open(self) -> Transport:
        settings = self.port.settings
        meant = target(settings.device)
        await ask_first(settings.device)
        self._news.tell(State.SCANNING, f"scanning for {settings.device}")
        found = await self._radio.find(settings.device, meant, _SEARCH)
        self._news.tell(State.CONNECTING, f"connecting to {settings.device}")
        async with self._radio.turn():
            link = await connect(settings.device, found, settings.silence_seconds)
        try:
            await self._subscribe(link)
        except BaseException:
            await link.close()
            raise
        self._radio.remember(meant, found.address)
        link.changed = lambda: self._say(link)
        self._say(link)
        link.silent = self._silent
        return link

    async def _subscribe(self, link: Link) -> None:
        settings = self.port.settings
        offered = await link.offered()
        self._decoding = None
        if self.port.profile.name == DESCRIBED.name:
            unit = self.port.instruments[0].unit
            sends, self._decoding = measuring(settings.device, offered, unit, settings.notify)
            await link.subscribe(sends)
        else:
            await link.subscribe(
                *sending(settings.device, offered, settings.notify, settings.write)
            )

    def _new_receiver(self) -> Receiver:
        if self._decoding is None:
            return super()._new_receiver()
        return ValueReceiver(self._decoding, self.port.settings.id, self.port.instruments)

    def _say(self, link: Link) -> None:
        self._news.battery = link.battery
        self._news.low_battery = is_low(link.battery)
        if self._transport is link and self._news.state is State.READY:
            self._news.tell(State.READY, f"on {link.device}")

    def _silent(self, detail: str) -> None:
        if self._transport is not None:
            self._news.tell(State.SILENT, detail)
