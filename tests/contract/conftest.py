"""Served stores (an empty one, and one on the bench of the trade's computation), and threads."""

from __future__ import annotations

from collections.abc import AsyncIterator, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest

from tests.contract import trade
from tests.contract.trade import Bench
from tests.running import client, service


@pytest.fixture
async def http(tmp_path: Path) -> AsyncIterator[httpx.AsyncClient]:
    async with service(tmp_path) as listening, client(listening) as made:
        yield made


@pytest.fixture
async def bench(tmp_path: Path) -> AsyncIterator[Bench]:
    (tmp_path / "bench.toml").write_text(trade.BENCH, "utf-8")
    async with service(tmp_path) as listening, client(listening) as http:
        yield Bench(http)


@pytest.fixture
def executor() -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(4) as pool:
        yield pool
