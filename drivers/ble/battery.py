"""A battery's level in words."""

from __future__ import annotations

LOW = 20
"""Percent at which a person is told to change it; common practice, no source."""


def is_low(level: int | None) -> bool:
    """Whether it is to be changed now."""
    return level is not None and level <= LOW


def battery_words(level: int | None) -> str:
    """What to say behind the device's name; nothing where it does not tell."""
    if level is None:
        return ""
    if is_low(level):
        return f", battery low ({level} %): change or charge it before it fails"
    return f", battery {level} %"
