"""The starter spec: one small invented engine, with every block explained and every place marked
that is to be changed."""

from __future__ import annotations

from pathlib import Path

import capture.spec

FILE = Path(capture.spec.__path__[0]) / "starter.toml"


def starter() -> bytes:
    """Its bytes."""
    return FILE.read_bytes()
