"""Results as plain data: what JSON can carry."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from typing import Any


def plain(value: object) -> Any:
    """Named tuples as objects, sequences as lists, numbers as floats; a number that is not finite
    is null. Raises TypeError for anything else."""
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, float | Decimal | Fraction):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        return {name: plain(part) for name, part in value._asdict().items()}
    if isinstance(value, tuple | list):
        return [plain(part) for part in value]
    if isinstance(value, dict):
        return {str(name): plain(part) for name, part in value.items()}
    raise TypeError(f"{type(value).__name__} is no plain data")
