from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def scratch() -> Iterator[Path]:
    """An empty folder in memory where there is one: thousands of small stores pass through it."""
    memory = Path("/dev/shm")
    folder = Path(tempfile.mkdtemp(dir=memory if memory.is_dir() else None))
    try:
        yield folder
    finally:
        shutil.rmtree(folder)
