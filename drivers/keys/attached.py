"""Which input devices with keys are plugged in, by what the system tells everyone of them.

Source: the Linux kernel's Documentation/input/event-codes.rst names class/input/event*/device/ in
sysfs. Reading there needs no permission on the devices.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import NamedTuple

from drivers.keys.names import DIGITS

SYS = Path("/sys/class/input")
DEV = Path("/dev/input")


class Attached(NamedTuple):
    """One input device."""

    device: str
    """Its node, /dev/input/event3."""
    stable: str
    """A path that stays the same when it is plugged in again, where there is one."""
    name: str
    keys: frozenset[int]
    usb: tuple[str, str]
    """Vendor and product, four hexadecimal digits each."""

    @property
    def types_digits(self) -> bool:
        return types_digits(self.keys)


def types_digits(keys: frozenset[int]) -> bool:
    """Whether a device with these keys can type a number."""
    return any(digits <= keys for digits in DIGITS)


def attached(system: Path = SYS, nodes: Path = DEV) -> list[Attached]:
    """Every input device that has keys, in the order of their numbers; empty elsewhere than on
    Linux."""
    folders = sorted(system.glob("event*"), key=lambda folder: int(folder.name[5:] or 0))
    links = _links(nodes)
    found = []
    for folder in folders:
        device = str(nodes / folder.name)
        about = folder / "device"
        keys = _keys(_read(about / "capabilities" / "key"))
        if keys:
            usb = _read(about / "id" / "vendor"), _read(about / "id" / "product")
            stable = links.get(folder.name, device)
            found.append(Attached(device, stable, _read(about / "name"), keys, usb))
    return found


def _links(nodes: Path) -> dict[str, str]:
    """Node → the path by its maker's number, or by the socket it is plugged into."""
    links: dict[str, str] = {}
    for folder in ("by-path", "by-id"):  # the second wins
        for link in sorted((nodes / folder).glob("*")):
            links[os.path.basename(os.path.realpath(link))] = str(link)
    return links


def _read(path: Path) -> str:
    try:
        return path.read_text("utf-8", errors="replace").strip()
    except OSError:
        return ""


def _keys(words: str) -> frozenset[int]:
    """The set bits of the kernel's way to write them: hexadecimal words of a long each, the
    highest first."""
    width = 64 if sys.maxsize > 2**32 else 32
    found: set[int] = set()
    if not re.fullmatch(r"[0-9a-f]+(?: [0-9a-f]+)*", words):
        return frozenset()
    for place, word in enumerate(reversed(words.split())):
        value = int(word, 16)
        found.update(place * width + bit for bit in range(width) if value >> bit & 1)
    return frozenset(found)
