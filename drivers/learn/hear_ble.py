"""Presses of a Bluetooth device, heard on every characteristic that sends."""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections.abc import Coroutine
from typing import Any, NamedTuple, TypeVar

from capture.errors import TransportError
from drivers.ble.address import target
from drivers.ble.choose import readable
from drivers.ble.permission import ask_first
from drivers.ble.radio import Radio
from drivers.decoding.gatt import GattDecoding
from drivers.learn.hear import SILENCE, Heard, Ready, nobody
from drivers.learn.line.setting import Setting
from drivers.reach.ears import RadioEar, radio

T = TypeVar("T")
SEARCH = 30.0
"""Seconds a device is listened for."""
_RETRY = 0.3
_LONGEST = 3.0
"""Seconds after which what never falls silent is taken as it is."""
_OFTEN = 2
"""Times that a characteristic sends between presses before it is known to do so by itself."""


class _Sent(NamedTuple):
    when: float
    uuid: str
    data: bytes


class Notifications:
    """What came, by characteristic and time; cut into presses by silence."""

    def __init__(self) -> None:
        self.between: dict[str, int] = {}
        """How often each characteristic sent while nobody was to press."""
        self._sent: list[_Sent] = []
        self._last: dict[str, float] = {}

    def heard(self, uuid: str, data: bytes, when: float) -> None:
        """One notification."""
        self._sent.append(_Sent(when, uuid, data))

    @property
    def by_itself(self) -> frozenset[str]:
        """The characteristics that send without a press."""
        return frozenset(uuid for uuid, times in self.between.items() if times >= _OFTEN)

    def begin(self) -> None:
        """Now somebody is to press: what came before was no press."""
        for sent in self._sent:
            if sent.when - self._last.get(sent.uuid, -_LONGEST) > SILENCE:
                self.between[sent.uuid] = self.between.get(sent.uuid, 0) + 1
            self._last[sent.uuid] = sent.when
        self._sent.clear()

    def ended(self, now: float) -> bool:
        """Whether a press has come and silence after it."""
        of_press = [one for one in self._sent if one.uuid not in self.by_itself]
        if not of_press:
            return False
        # what sent once between presses may have been pressed then, or do so by itself, seldom
        patience = SILENCE if any(one.uuid not in self.between for one in of_press) else 3 * SILENCE
        long = now - of_press[0].when > _LONGEST
        return long or now - of_press[-1].when > patience

    def take(self) -> dict[str, bytes]:
        """What each characteristic sent since ``begin``."""
        parts: dict[str, bytes] = {}
        for sent in self._sent:
            parts[sent.uuid] = parts.get(sent.uuid, b"") + sent.data
            self._last[sent.uuid] = sent.when
        self._sent.clear()
        return parts


class BleEar:
    """A radio device; its connection lives in a thread of its own while a person types."""

    tunable = False

    def __init__(self, device: str, notify: str | None = None, write: str | None = None) -> None:
        """``notify``: the only characteristic that is listened to; ``write``: the one that
        requests are written to."""
        self.heard = Notifications()
        self.described: dict[str, GattDecoding] = {}
        """The characteristics that say themselves how they are read."""
        self.battery: int | None = None
        self.senders: tuple[str, ...] = ()
        self.write: str | None = write
        self._device = device
        self._target = target(device)
        self._notify = notify
        self._radio = Radio()
        self._ear: RadioEar | None = None
        self._connection = contextlib.AsyncExitStack()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, name=f"listener of {device}")
        self._thread.start()
        try:
            self._wait(self._connect())
        except BaseException:
            self.close()
            raise

    def tune(self, setting: Setting) -> None:
        """See ``Ear``: a radio has no speed to set."""

    def press(self, wait: float, ask: bytes = b"", ready: Ready = nobody) -> Heard:
        """See ``Ear``."""
        return self._wait(self._press(wait, ask, ready))

    def quiet(self, seconds: float) -> None:
        """Listens while nobody presses: what sends now does so by itself."""
        self._wait(self._quiet(seconds))

    def again(self, wait: float) -> None:
        """See ``Ear``."""
        self._wait(self._again(wait))

    def close(self) -> None:
        """See ``Ear``."""
        if not self._thread.is_alive():
            return
        try:
            self._wait(self._end())
        finally:
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join()

    def _run(self) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            runner.get_loop().run_forever()

    def _wait(self, work: Coroutine[Any, Any, T]) -> T:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result()

    async def _connect(self) -> None:
        await ask_first(self._device)
        found = await self._radio.find(self._device, self._target, SEARCH)
        ear = await self._connection.enter_async_context(radio(self._device, found))
        try:
            senders = await ear.listen(
                lambda one, data: self.heard.heard(one.uuid, data, time.monotonic()), self._notify
            )
        except BaseException:
            await self._connection.aclose()
            raise
        self._ear = ear
        self.senders = tuple(one.uuid for one in senders)
        self.battery = ear.battery
        offered = [part.one for part in ear.parts]
        by_handle = readable(offered)
        self.described = {one.uuid: by_handle[one.handle] for one in senders
                          if one.handle in by_handle}  # fmt: skip
        writers = [one.uuid for one in offered if one.writes]
        if self.write is None and len(writers) == 1:
            self.write = writers[0]

    async def _quiet(self, seconds: float) -> None:
        await asyncio.sleep(seconds)
        self.heard.begin()

    async def _press(self, wait: float, ask: bytes, ready: Ready) -> Heard:
        ear = self._ear
        assert ear is not None
        self.heard.begin()
        ready()
        if ask:
            await self._ask(ear, ask)
        deadline = time.monotonic() + wait
        while not self.heard.ended(now := time.monotonic()):
            if ear.gone.done():
                raise ear.gone.result()
            if now > deadline:
                break
            await asyncio.sleep(0.02)
        parts = self.heard.take()
        of_press = {uuid: raw for uuid, raw in parts.items() if uuid not in self.heard.by_itself}
        longest = max(of_press.values(), key=len, default=b"")
        return Heard(longest, parts=of_press)

    async def _ask(self, ear: RadioEar, ask: bytes) -> None:
        if self.write is None:
            raise TransportError(
                f"{self._device}: it cannot be told which characteristic requests are written to",
                port=self._device,
                mend="name it, like --write UUID; 'witnessmark instruments' shows what it offers",
            )
        await ear.write(self.write, ask)

    async def _again(self, wait: float) -> None:
        await self._connection.aclose()
        self._ear = None
        deadline = time.monotonic() + wait
        while True:
            try:
                await self._connect()
            except TransportError:
                if time.monotonic() > deadline:
                    raise
                await asyncio.sleep(_RETRY)
            else:
                return

    async def _end(self) -> None:
        await self._connection.aclose()
