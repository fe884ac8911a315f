"""All gauges at work on one service: pressed, their lines pulled and plugged in again."""

from __future__ import annotations

import asyncio
import random
import time
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from typing import Any

from tests.soak.faults.service import Service
from tests.soak.many.figures import Figures, at_rest, figures
from tests.soak.many.gauge import Gauge
from tests.soak.many.lines import BleLine, Line, Radio

PATIENCE = 60.0
"""Seconds in which everything must be connected again; a retry waits 5 at most."""


class Bench:
    """The gauges, their lines and the service that reads them."""

    def __init__(
        self, gauges: list[Gauge], radio: Radio, running: Service, longest: float, seed: int
    ) -> None:
        """``longest``: seconds that a line stays connected at most while lines are pulled."""
        self.lines: list[Line] = list({gauge.line.name: gauge.line for gauge in gauges}.values())
        self._gauges = gauges
        self._radio = radio
        self._running = running
        self._longest = longest
        self._chance = random.Random(seed)
        self._pulled = asyncio.Event()
        self._away = 0

    @asynccontextmanager
    async def at_work(self) -> AsyncIterator[None]:
        """Gauges are pressed once in one to three seconds while inside."""
        async with asyncio.TaskGroup() as group:
            work = [group.create_task(self._press(gauge)) for gauge in self._gauges]
            work += [group.create_task(self._pull(line)) for line in self.lines]
            try:
                yield
            finally:
                for task in work:
                    task.cancel()

    async def pulled(self, seconds: float, *, restart: bool) -> None:
        """Lines vanish and come back for so long; once the Bluetooth service too, if asked."""
        self._pulled.set()
        await asyncio.sleep(seconds / 2)
        if restart:
            await self._radio.stop()
            await asyncio.sleep(self._chance.uniform(0.5, 2.0))
            await self._radio.start()
        await asyncio.sleep(seconds / 2)
        self._pulled.clear()
        while self._away:  # noqa: ASYNC110 # what has been pulled comes back by itself
            await asyncio.sleep(0.05)
        await self.connected()

    async def connected(self) -> None:
        """Returns when the service has every port open."""
        await _none_left(self._not_ready, "not connected")

    async def heard(self) -> None:
        """Presses every gauge once more, now that all are connected, and waits for it."""
        for gauge in self._gauges:
            await gauge.press()
            assert gauge.sent[-1].taken, (gauge, gauge.line.up)
        await _none_left(self._not_heard, "not stored")

    async def figures(self) -> Figures:
        """What the service uses at rest, with everything connected."""
        await self._last_of_all()  # the files it opens for an answer, it keeps
        looks = []
        for _ in range(10):
            looks.append(figures(self._running.pid))
            await asyncio.sleep(0.05)
        return at_rest(looks)

    async def size(self) -> int:
        """Entries in the ledger."""
        return int((await self._get("/v1/health"))["size"])

    async def _press(self, gauge: Gauge) -> None:
        while True:
            await asyncio.sleep(self._chance.uniform(1.0, 3.0))
            await gauge.press()

    async def _pull(self, line: Line) -> None:
        on_it = [gauge for gauge in self._gauges if gauge.line is line]
        while True:
            await asyncio.sleep(self._chance.uniform(self._longest / 10, self._longest))
            await self._pulled.wait()
            self._away += 1
            await self._pull_once(line, on_it)
            self._away -= 1

    async def _pull_once(self, line: Line, on_it: list[Gauge]) -> None:
        how = self._chance.random()
        if how < 0.3:  # in the very moment of a press
            await self._chance.choice(on_it).press()
        elif how < 0.6 and not isinstance(line, BleLine):  # in the middle of one
            await self._chance.choice(on_it).press(torn=True)
        await line.vanish()
        await asyncio.sleep(self._chance.uniform(0.05, 3.0))
        await line.come_back()

    async def _not_ready(self) -> list[str]:
        devices = [one["device"] for one in (await self._get("/v1/instruments"))["instruments"]]
        return [
            f"{one['instrument']}: {one['detail']}" for one in devices if one["state"] != "ready"
        ]

    async def _not_heard(self) -> list[str]:
        last = await self._last_of_all()
        return [gauge.id for gauge in self._gauges if last.get(gauge.id) != len(gauge.sent)]

    async def _last_of_all(self) -> dict[str, int]:
        after = max(0, await self.size() - 8 * len(self._gauges))
        page = await self._get(f"/v1/readings?after={after}&limit=1000")
        known = {gauge.id: gauge for gauge in self._gauges}
        return {
            one["instrument"]: known[one["instrument"]].number(one["value"])
            for one in page["readings"]
        }

    async def _get(self, path: str) -> Any:
        answer = await asyncio.to_thread(self._running.get, path)
        assert answer.status == 200, answer
        return answer.body


async def _none_left(waiting: Callable[[], Awaitable[list[str]]], what: str) -> None:
    deadline = time.monotonic() + PATIENCE
    while left := await waiting():
        assert time.monotonic() < deadline, f"{what}: {left}"
        await asyncio.sleep(0.1)
