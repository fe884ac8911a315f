"""Bytes as a profile writes them: text of one byte a character, or ``{ hex = "02 0D" }``."""

from __future__ import annotations

from typing import Any

from drivers.toml_file import Table

MEND = 'write them as text of one byte a character ("\\u0002") or as { hex = "02 0D" }.'


def wire_bytes(table: Table, key: str, default: bytes = b"") -> bytes:
    """The bytes of ``key``; notes a problem and gives ``default`` where there are none."""
    value = table.raw(key)
    if value is None:
        return default
    data = as_bytes(value)
    if not data:
        table.problem(key, f"{value!r} is no bytes.", MEND)
        return default
    return data


def wire_bytes_list(table: Table, key: str) -> tuple[bytes, ...]:
    """The bytes of each item of the list ``key``."""
    found = []
    for value in table.items(key, [], 'write a list, like ["\\r", "\\n"].'):
        data = as_bytes(value)
        if data:
            found.append(data)
        else:
            table.problem(key, f"{value!r} is no bytes.", MEND)
    return tuple(found)


def as_bytes(value: Any) -> bytes | None:
    """The bytes ``value`` stands for, or None."""
    try:
        if isinstance(value, str):
            return value.encode("latin-1")
        if isinstance(value, dict) and list(value) == ["hex"] and isinstance(value["hex"], str):
            return bytes.fromhex(value["hex"])
    except ValueError:
        return None
    return None
