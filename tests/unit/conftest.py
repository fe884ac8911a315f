"""A sheet of paper: what is pressed and said at a bench, folded without a store."""

from __future__ import annotations

import pytest

from tests.paper import Paper


@pytest.fixture
def paper() -> Paper:
    return Paper()
