"""What ``serve`` was asked to do."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from pathlib import Path

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8700


@dataclass(frozen=True, slots=True)
class Settings:
    """Options of the service. ``port`` 0 picks a free one; ``token`` None is for the loopback."""

    bench: Path
    store: Path
    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT
    token: str | None = None
    ping_seconds: float = 10.0
    """How often an event stream that has nothing to say says that it lives."""


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach a socket bound to ``host``."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def url_of(host: str, port: int) -> str:
    """The address to type into a browser on this machine; brackets for IPv6."""
    if host in ("0.0.0.0", "::"):  # bound to every interface: the loopback reaches it
        host = "127.0.0.1" if host == "0.0.0.0" else "::1"
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
