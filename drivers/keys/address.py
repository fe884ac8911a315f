"""``/dev/input/…`` or ``keys:NAME``: ports that are keyboards."""

from __future__ import annotations

FOLDER = "/dev/input/"
SCHEME = "keys:"


def is_keys(device: str) -> bool:
    """Whether a port is an input device's."""
    return device.startswith((FOLDER, SCHEME))


def name_in(device: str) -> str | None:
    """The name in ``keys:NAME``, as the device reports it; None where it is a path."""
    return device.removeprefix(SCHEME).strip() if device.startswith(SCHEME) else None
