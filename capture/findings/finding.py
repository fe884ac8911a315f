"""What a finding is, and what the rules look at beside the build itself."""

from __future__ import annotations

from typing import NamedTuple

from capture.instrument import Instrument


class Finding(NamedTuple):
    """Something worth a look. It is computed from the state, holds nothing and changes nothing."""

    code: str
    subject: str
    """What it is about: an operation, ``operation/number`` or ``operation/number/point``."""
    detail: str
    """A sentence with its numbers."""
    numbers: dict[str, str]
    """The same numbers as text, in the unit they are named with."""


class Source(NamedTuple):
    """How a press was taken, as far as the rules about entries ask."""

    digits: str
    unit: str
    day: str
    """UTC day, ``YYYY-MM-DD``."""
    typed: bool
    instrument: Instrument


def size(value: float) -> str:
    """A size for a sentence: six significant digits."""
    return f"{value:.6g}"


def small(value: float) -> str:
    """A difference or an uncertainty for a sentence: three significant digits."""
    return f"{value:.3g}"
