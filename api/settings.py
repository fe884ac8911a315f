"""What ``serve`` was asked to do."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from pathlib import Path

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8700
MIN_TOKEN = 16
"""An access token of fewer characters can be guessed."""


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


def refusal(host: str, token: str | None) -> str | None:
    """Why a service must not start like this, or None. Says the mend."""
    if token is not None and len(token) < MIN_TOKEN:
        return (
            f"the access token has {len(token)} characters, at least {MIN_TOKEN} are needed. "
            "Mend: make one with  python -c 'import secrets; print(secrets.token_urlsafe())'"
        )
    if token is not None and not (token.isascii() and token.isprintable() and " " not in token):
        return "the access token must be printable ASCII without spaces."
    if token is None and not is_loopback(host):
        return (
            f"{host} can be reached from other machines, so an access token is needed. "
            "Mend: give --token-file FILE, or leave --host out to stay on this machine."
        )
    return None
