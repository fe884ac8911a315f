"""What a trace shows, by name and in a sentence with its numbers."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Code(StrEnum):
    """What there is to notice. The codes are stable; the sentences may change."""

    NO_PULL = "no-pull"
    NO_CLICK = "no-click"
    SECOND_CLICK = "second-click"
    OVER_PULL = "over-pull"
    TOO_FAST = "too-fast"
    TOO_SLOW = "too-slow"
    SLIP = "slip"
    LET_OFF = "let-off"
    RUN_DOWN = "run-down"
    SATURATED = "saturated"
    ENDS_UNDER_LOAD = "ends-under-load"
    NO_REST = "no-rest"
    ZERO_OFFSET = "zero-offset"
    REVERSED = "reversed"
    SAMPLES_MISSING = "samples-missing"
    COARSE_SAMPLING = "coarse-sampling"
    NO_TURNING = "no-turning"
    NO_BREAKAWAY = "no-breakaway"
    SHORT_OF_A_TURN = "short-of-a-turn"


class Finding(NamedTuple):
    """One thing noticed."""

    code: Code
    text: str


def said(value: float, unit: str) -> str:
    """``60.0 N·m``: four significant digits, for sentences only."""
    return f"{shown(value)} {unit}"


def shown(value: float) -> str:
    """Four significant digits without an exponent."""
    size = abs(value)
    places = 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 10 else 3
    text = f"{value:.{places}f}"
    return text.lstrip("-") if not float(text) else text
