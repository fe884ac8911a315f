"""Opening an input device for this program alone, so that no digit lands in another window."""

from __future__ import annotations

import asyncio
import contextlib
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from typing import NamedTuple

from capture.errors import TransportError
from drivers.keys import trouble
from drivers.keys.address import name_in
from drivers.keys.attached import Attached, attached, types_digits
from drivers.keys.keyboard import Keyboard
from drivers.keys.names import changes_of, name_of
from drivers.keys.typist import MIDWAY, Changes, Typist, mark
from drivers.transports.selected import SelectedTransport
from drivers.transports.settings import PortSettings
from drivers.transports.transport import Lost, Received, Transport

Check = Callable[[str, str, frozenset[int]], None]
"""Given path, name and keys of a device; raises TransportError where it is not what is needed."""


SETTLING = 0.1
"""Seconds; longer than an instrument waits between two keys (common practice, no source)."""


class Opened(NamedTuple):
    """An input device, open and grabbed."""

    keyboard: Keyboard
    transport: SelectedTransport
    """Its events, as bytes."""


class Keyboards:
    """Opens input devices. Tests put recorded ones in their place."""

    def __init__(
        self,
        open_node: Callable[[str], Keyboard] = Keyboard,
        devices: Callable[[], Sequence[Attached]] = attached,
        platform: str = sys.platform,
        settling: float = SETTLING,
    ) -> None:
        """``settling``: see ``KeyTransport``."""
        self.settling = settling
        self._open_node = open_node
        self._devices = devices
        self._platform = platform

    async def open(self, device: str, executor: Executor, check: Check) -> Opened:
        """The device at a path, or of the name in ``keys:NAME``, for us alone; raises
        TransportError with the reason."""
        if not self._platform.startswith("linux"):
            raise trouble.not_linux(device)
        loop = asyncio.get_running_loop()
        opening = loop.run_in_executor(executor, self._opened, device, check)
        try:
            keyboard, path = await asyncio.shield(opening)
        except asyncio.CancelledError:
            opening.add_done_callback(_close_late)
            raise
        shown = path if device == path else f"{device} ({path})"
        return Opened(
            keyboard, SelectedTransport(keyboard, keyboard.fileno(), shown, loop, executor)
        )

    def _opened(self, device: str, check: Check) -> tuple[Keyboard, str]:
        path = self._path(device)
        try:
            keyboard = self._open_node(path)
        except OSError as error:
            raise trouble.cannot_open(path, error) from error
        with contextlib.ExitStack() as undo:
            undo.callback(keyboard.close)
            try:
                check(path, keyboard.name(), keyboard.keys())
                keyboard.grab()
            except OSError as error:
                raise trouble.cannot_open(path, error) from error
            undo.pop_all()
        return keyboard, path

    def _path(self, device: str) -> str:
        name = name_in(device)
        if name is None:
            return device
        found = [one for one in self._devices() if one.name == name]
        typing = [one for one in found if one.types_digits]
        if len(found) > 1 and len(typing) == 1:
            found = typing  # the others are its volume keys and the like
        if len(found) != 1:
            raise trouble.not_found(device, name, found)
        return found[0].device


def typing(path: str, name: str, keys: frozenset[int]) -> None:
    """Raises TransportError where a device cannot type a number."""
    if not types_digits(keys):
        raise trouble.no_digits(path, name)


class KeyTransport:
    """What an instrument types, as text; see ``drivers.keys.typist`` for what is no text."""

    def __init__(self, opened: Opened, changes: Changes, settling: float) -> None:
        """``settling``: seconds after ``start`` in which what is typed may be the second half of
        a message, and is marked so."""
        self._inner = opened.transport
        self._typist = Typist(changes)
        self._settling = settling
        self.device = opened.transport.device

    def start(self, received: Received, lost: Lost) -> None:
        """See ``Transport``."""

        time = asyncio.get_running_loop().time
        settled = time() + self._settling

        def take(chunk: bytes) -> None:
            nonlocal settled
            text = self._typist.feed(chunk)
            if text:
                received(mark(MIDWAY) + text if time() < settled else text)
                settled = 0.0

        self._inner.start(take, lost)

    def pause(self) -> None:
        """See ``Transport``."""
        self._inner.pause()

    def resume(self) -> None:
        """See ``Transport``."""
        self._inner.resume()

    def write(self, data: bytes) -> None:
        """Always raises: keys go one way."""
        raise TransportError(
            f"{self.device} types, and can be asked nothing", mend="press SEND on it"
        )

    async def close(self) -> None:
        """See ``Transport``. Other programs get its keys again."""
        await self._inner.close()


def _close_late(opening: asyncio.Future[tuple[Keyboard, str]]) -> None:
    """Closes what a thread has opened after all, when nobody waits for it any more."""
    if not opening.cancelled() and opening.exception() is None:
        opening.result()[0].close()


async def open_keys(
    settings: PortSettings, device: str, executor: Executor, keyboards: Keyboards | None = None
) -> Transport:
    """An instrument that types, opened like any port; raises TransportError with the reason."""
    keyboards = keyboards or Keyboards()
    opened = await keyboards.open(device, executor, typing)
    return KeyTransport(opened, changes_of(settings.keys), keyboards.settling)


def has_key(path: str, name: str, keys: frozenset[int], code: int | None) -> None:
    """Raises TransportError where a pedal's device lacks the key it is to listen to."""
    if not keys or (code is not None and code not in keys):
        known = [name_of(one) for one in sorted(keys)]
        raise trouble.no_key(path, name, "at all" if code is None else name_of(code), known)
