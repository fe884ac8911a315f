"""Writing a profile's tables as TOML."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def toml(tables: Mapping[str, Mapping[str, Any]], title: str, comments: list[str]) -> str:
    """The profile's text: comments, title, then each table with its keys in their order."""
    lines = [f"# {_flat(comment)}".rstrip() for comment in comments]
    lines.append(f"title = {value_text(title)}")
    for name, table in tables.items():
        lines += ["", f"[{name}]"]
        lines += [f"{key} = {value_text(value)}" for key, value in table.items()]
    return "\n".join(lines) + "\n"


def value_text(value: Any) -> str:
    """One TOML value. Bytes become text where they can be read, else ``{ hex = "…" }``."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, bytes):
        if all(32 <= byte < 127 for byte in value) or value in (b"\r", b"\n", b"\r\n"):
            return value_text(value.decode("ascii"))
        return value_text({"hex": value.hex(" ").upper()})
    if isinstance(value, str):
        return '"' + "".join(map(_escaped, value)) + '"'
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(str(key))} = {value_text(item)}" for key, item in value.items())
        return "{ " + inner + " }" if inner else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(value_text, value)) + "]"
    raise TypeError(f"{value!r} has no place in a profile")


def _key(key: str) -> str:
    bare = key and all(sign.isascii() and (sign.isalnum() or sign in "-_") for sign in key)
    return key if bare else value_text(key)


def _escaped(sign: str) -> str:
    short = {"\\": "\\\\", '"': '\\"', "\r": "\\r", "\n": "\\n", "\t": "\\t"}
    if sign in short:
        return short[sign]
    return f"\\u{ord(sign):04X}" if ord(sign) < 32 or ord(sign) == 127 else sign


def _flat(comment: str) -> str:
    return " ".join(comment.split())
