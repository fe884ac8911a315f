"""The bench's foot pedals: each device kept open, and every press told."""

from __future__ import annotations

import asyncio
import random as chance
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

from drivers.adapters.connection import State
from drivers.keys.kept import Hold, KeptDevice, KeptDevices
from drivers.keys.opening import Keyboards, has_key
from drivers.keys.pedal import Pedal, Presses

Pressed = Callable[[Pedal], None]
"""Called in the event loop with the pedal that was pressed."""
Told = Callable[[Pedal, State, str], None]
"""Called in the event loop with what a pedal's device is doing, and why."""

_LOST = "presses may have been lost while this computer was busy: press again"


class PedalDevice(KeptDevice):
    """One device with one pedal or several."""

    what = "pedal"

    def __init__(self, pedals: Sequence[Pedal], pressed: Pressed, told: Told, hold: Hold) -> None:
        super().__init__(pedals[0].device, hold)
        self._pedals = tuple(pedals)
        self._pressed, self._told = pressed, told

    def _check(self, path: str, name: str, keys: frozenset[int]) -> None:
        for pedal in self._pedals:
            has_key(path, name, keys, pedal.key)

    def _taker(self, where: str) -> Callable[[bytes], bool]:
        presses = Presses(self._pedals)

        def take(chunk: bytes) -> bool:
            found = presses.feed(chunk)
            for pedal in found:
                if pedal is None:
                    self._tell(State.READY, f"{where}; {_LOST}")
                else:
                    self._pressed(pedal)
            return bool(found)

        return take

    def _tell(self, state: State, detail: str) -> None:
        for pedal in self._pedals:
            self._told(pedal, state, detail)


class Pedals(KeptDevices):
    """All pedals of a bench, opened and closed together."""

    def __init__(
        self,
        pedals: Sequence[Pedal],
        pressed: Pressed,
        told: Told,
        *,
        keyboards: Keyboards | None = None,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        random: Callable[[], float] = chance.random,
    ) -> None:
        executor = ThreadPoolExecutor(2, thread_name_prefix="pedal")
        hold = Hold(executor, keyboards or Keyboards(), sleep, random)
        devices = [
            PedalDevice([one for one in pedals if one.device == device], pressed, told, hold)
            for device in dict.fromkeys(pedal.device for pedal in pedals)
        ]
        super().__init__(devices, executor)
