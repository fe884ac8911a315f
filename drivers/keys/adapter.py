"""Keeps an instrument that types open: as a serial port, but had alone, and read key by key."""

from __future__ import annotations

from drivers.adapters.adapter import Adapter
from drivers.adapters.means import Means
from drivers.adapters.port import Port
from drivers.adapters.receiver import Receiver
from drivers.keys.opening import Keyboards, open_keys
from drivers.keys.receiver import KeyReceiver
from drivers.transports.transport import Transport


class KeyAdapter(Adapter):
    """One instrument that types."""

    def __init__(self, port: Port, means: Means, keyboards: Keyboards | None = None) -> None:
        super().__init__(port, means)
        self._keyboards = keyboards

    async def _open(self) -> Transport:
        settings = self.port.settings
        return await open_keys(settings, settings.device, self._means.executor, self._keyboards)

    def _new_receiver(self) -> Receiver:
        return KeyReceiver(self.port.profile, self.port.settings.id, self.port.instruments)
