"""One input device, open: what it is called, which keys it has, and had by us alone.

The requests are those of the Linux kernel's include/uapi/linux/input.h, made up as its
include/uapi/asm-generic/ioctl.h says (so on x86, ARM and RISC-V).
"""

from __future__ import annotations

import os
from typing import Final

from drivers.keys.event import EV_KEY
from drivers.keys.names import MOST

_WRITE, _READ = 1, 2


def _request(direction: int, number: int, size: int) -> int:
    return direction << 30 | size << 16 | ord("E") << 8 | number


NAME_BYTES: Final = 256
KEY_BYTES: Final = (MOST + 1) // 8
EVIOCGNAME: Final = _request(_READ, 0x06, NAME_BYTES)
EVIOCGBIT_KEY: Final = _request(_READ, 0x20 + EV_KEY, KEY_BYTES)
EVIOCGRAB: Final = _request(_WRITE, 0x90, 4)


class Keyboard:
    """An open input device. Every method may raise OSError."""

    def __init__(self, path: str) -> None:
        """Opens the node at ``path``, for reading without waiting."""
        flags = os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC
        self._fd = os.open(path, flags)

    def fileno(self) -> int:
        """Its descriptor."""
        return self._fd

    def name(self) -> str:
        """What it reports as its name."""
        return self._asked(EVIOCGNAME, NAME_BYTES).split(b"\0")[0].decode(errors="replace")

    def keys(self) -> frozenset[int]:
        """The keys it has."""
        return _set_bits(self._asked(EVIOCGBIT_KEY, KEY_BYTES))

    def grab(self) -> None:
        """From here on no other program gets its keys; EBUSY where another one has done so."""
        import fcntl

        fcntl.ioctl(self._fd, EVIOCGRAB, 1)

    def release(self) -> None:
        """Others get its keys again."""
        import fcntl

        fcntl.ioctl(self._fd, EVIOCGRAB, 0)

    def close(self) -> None:
        """Lets it go, grabbed or not."""
        try:
            self.release()
        except OSError:  # it was never grabbed, or is gone
            pass
        finally:
            os.close(self._fd)

    def _asked(self, request: int, size: int) -> bytes:
        import fcntl

        answer = bytearray(size)
        fcntl.ioctl(self._fd, request, answer)
        return bytes(answer)


def _set_bits(data: bytes) -> frozenset[int]:
    return frozenset(
        8 * at + bit for at, byte in enumerate(data) if byte for bit in range(8) if byte >> bit & 1
    )
