"""A radio device as the adapter's daemon shows it: services, characteristics, descriptors."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

_BASE = "-0000-1000-8000-00805f9b34fb"


def short(number: int) -> str:
    """The UUID of a number assigned by the Bluetooth SIG."""
    return f"{number:08x}{_BASE}"


CONFIGURATION = short(0x2902)


@dataclass(eq=False)
class Descriptor:
    """Says something of a characteristic."""

    uuid: str
    value: bytes
    path: str = ""


@dataclass(eq=False)
class Characteristic:
    """A value that can be read, written, or sent by itself."""

    uuid: str
    flags: tuple[str, ...]
    value: bytes = b""
    descriptors: list[Descriptor] = field(default_factory=list)
    on_write: Callable[[bytes], None] | None = None
    refuses: tuple[str, str] | None = None
    """The D-Bus error that reading it or subscribing to it is answered with."""
    path: str = ""
    sessions: set[str] = field(default_factory=set)
    """The bus names of those who have subscribed."""


@dataclass(eq=False)
class Service:
    """Some characteristics."""

    uuid: str
    characteristics: list[Characteristic]
    path: str = ""


@dataclass(eq=False)
class Device:
    """One gauge with a radio, and what goes wrong with it."""

    address: str
    name: str
    services: list[Service]
    on_air: bool = True
    mtu: int = 247
    connect_errors: list[tuple[str, str]] = field(default_factory=list)
    """The D-Bus errors the next connections end with."""
    drops_early: int = 0
    """How many of the next connections are lost before the services are known."""
    advertisements: int = 1
    """How often each advertisement is heard."""
    copies: int = 1
    """How often each notification is passed on."""
    present: bool = False
    connected: bool = False
    resolved: bool = False
    path: str = ""

    def characteristics(self) -> Iterator[Characteristic]:
        """All of them, in order."""
        for service in self.services:
            yield from service.characteristics

    def characteristic(self, uuid: str) -> Characteristic:
        """The one with this UUID."""
        return next(one for one in self.characteristics() if one.uuid == uuid)

    def number(self, adapter: str) -> None:
        """Gives everything its path; the library takes the handles from the hexadecimal digits.

        What notifies has a client characteristic configuration (Bluetooth Core Specification,
        volume 3, part G, 3.3.3.3).
        """
        self.path = f"{adapter}/dev_{self.address.replace(':', '_')}"
        handle = 1
        for service in self.services:
            service.path = f"{self.path}/service{handle:04x}"
            handle += 1
            for one in service.characteristics:
                one.path = f"{service.path}/char{handle:04x}"
                if "notify" in one.flags and all(
                    told.uuid != CONFIGURATION for told in one.descriptors
                ):
                    one.descriptors.append(Descriptor(CONFIGURATION, bytes(2)))
                handle += 2
                for descriptor in one.descriptors:
                    descriptor.path = f"{one.path}/desc{handle:04x}"
                    handle += 1
