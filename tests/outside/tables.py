"""Printed tables copied to ``data``: each file names its source in its first lines."""

from __future__ import annotations

import csv
from pathlib import Path

DATA = Path(__file__).with_name("data")


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one table, comments left out."""
    lines = (DATA / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
