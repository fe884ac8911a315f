"""Pseudo-terminals: what a cable with a gauge at its end looks like to a driver.

Each :class:`Cable` is one pseudo-terminal behind a name that stays the same (a symbolic link), so
that a port can vanish and come back, as a pulled and replugged adapter does, or come back under
another name. POSIX only; everything else in ``simulators`` is not.

A pseudo-terminal passes bytes on whatever speed and parity are set. What a wrong speed does is
the business of ``uart`` and ``rfc2217_server``.
"""

from __future__ import annotations

import contextlib
import os
import select
import threading
import time
from collections.abc import Callable
from pathlib import Path

Answer = Callable[[bytes], None]


class NoPseudoTerminals(RuntimeError):
    """This system has no pseudo-terminals (Windows)."""


class CableStuck(RuntimeError):
    """Nobody reads the other end: the port's buffer stayed full."""


def open_raw_pair() -> tuple[int, int]:
    """A pseudo-terminal's two descriptors, ours and the driver's, passing every byte unchanged."""
    try:
        import tty  # not on Windows: hence imported only here

        ours, theirs = os.openpty()
    except (ImportError, AttributeError) as error:
        raise NoPseudoTerminals(
            "Simulated serial cables need pseudo-terminals, which this system does not have. "
            "Run the simulators on Linux or macOS, or use the RFC 2217 server instead."
        ) from error
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    return ours, theirs


class Cable:
    """One serial cable. ``path`` is the device name a driver opens.

    ``on_request`` is called, on the cable's own thread, with the bytes a driver sent; give it for
    instruments that must be asked. Not for use from two threads at once, except ``close``.
    """

    def __init__(self, path: Path, on_request: Answer | None = None) -> None:
        self.path = path
        self._on_request = on_request
        self._lock = threading.RLock()
        self._ours = -1
        self._theirs = -1
        self._wake: tuple[int, int] | None = None
        self._listener: threading.Thread | None = None
        self.plug_in()

    @property
    def plugged_in(self) -> bool:
        """False between ``vanish`` and ``plug_in``."""
        return self._ours >= 0

    def plug_in(self, path: Path | None = None) -> None:
        """Makes the port appear, under another name if ``path`` is given."""
        if self.plugged_in:
            return
        if path is not None:
            self.path = path
        # The driver's end is held open here too: otherwise our end reports a hang-up whenever
        # no driver has it open, and what was pressed meanwhile would be lost.
        self._ours, self._theirs = open_raw_pair()
        self.path.parent.mkdir(parents=True, exist_ok=True)
        new = self.path.with_name(self.path.name + ".new")
        with contextlib.suppress(FileNotFoundError):
            new.unlink()
        new.symlink_to(os.ttyname(self._theirs))
        new.replace(self.path)
        if self._on_request is not None:
            self._wake = os.pipe()
            self._listener = threading.Thread(
                target=self._listen, args=(self._ours, self._wake[0]), name=f"cable {self.path}"
            )
            self._listener.start()

    def vanish(self) -> None:
        """Pulls the cable: the name goes away and a driver that has it open is hung up on."""
        if self._listener is not None and self._wake is not None:
            os.write(self._wake[1], b"x")
            if self._listener is not threading.current_thread():
                self._listener.join()
            for end in self._wake:
                os.close(end)
            self._listener, self._wake = None, None
        with self._lock:
            if not self.plugged_in:
                return
            with contextlib.suppress(FileNotFoundError):
                self.path.unlink()
            os.close(self._ours)
            os.close(self._theirs)
            self._ours = self._theirs = -1

    close = vanish

    def write(self, data: bytes, timeout: float = 5.0) -> None:
        """Puts every byte on the wire. CableStuck if the other end takes none for ``timeout`` s."""
        with self._lock:
            if not self.plugged_in:
                raise CableStuck(f"{self.path} is not plugged in.")
            deadline = time.monotonic() + timeout
            left = memoryview(data)
            while left:
                try:
                    left = left[os.write(self._ours, left) :]
                except BlockingIOError:
                    remaining = deadline - time.monotonic()
                    if remaining <= 0:
                        raise CableStuck(
                            f"{self.path}: nobody reads it; {len(left)} bytes not sent."
                        ) from None
                    select.select([], [self._ours], [], min(remaining, 0.05))

    def _listen(self, ours: int, wake: int) -> None:
        while True:
            ready, _, _ = select.select([ours, wake], [], [])
            if wake in ready:
                return
            try:
                request = os.read(ours, 4096)
            except BlockingIOError:
                continue
            except OSError:
                return
            if request and self._on_request is not None:
                self._on_request(request)
