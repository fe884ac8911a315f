"""Builds made of numbers alone, for tests of control charts."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from capture.charts.gather import Gathered, Measured, Sort, Value


def measured(values: Sequence[str | Decimal], *, points: int = 1, **more: Any) -> Measured:
    """A size of ``len(values) / points`` sisters."""
    made = tuple(
        Value(at // points + 1, f"p{at % points + 1}", Decimal(value), (10 + at,), 50 + at)
        for at, value in enumerate(values)
    )
    said: dict[str, Any] = {
        "title": "Bore", "sort": Sort.CHARACTERISTIC, "unit": "mm", "position": "cylinder",
        "numbers": len(values) // points, "points": points, "lower": None, "upper": None,
        "follows": "", "values": made,
    }  # fmt: skip
    return Measured(**{**said, **more})


def builds(groups: Sequence[Sequence[str | Decimal]], **more: Any) -> list[Gathered]:
    """A build for each group of values of ``bore``."""
    return [
        Gathered(
            f"b{at}", f"Build {at}", "2026-01-01T00:00:00.000000Z", "0" * 64, "1",
            {"bore": measured(group, **more)}, frozenset(),
        )
        for at, group in enumerate(groups, 1)
    ]  # fmt: skip
