"""Who a badge names, what comes of a scan, and what is said about it.

Every scan is answered with news, also the one that changed nothing. The news is an event without
an id named ``badge``: all that is to be known of one badge reader, with its last scan.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from capture.command import SetOperator
from capture.errors import CaptureError, NotFound
from capture.ledger.canonical import encode
from capture.stream import Event
from drivers.adapters.connection import State

if TYPE_CHECKING:
    from capture.pipeline import Pipeline
    from capture.reading import Clock
    from drivers.bench import Bench
    from drivers.bench_operators import Operator
    from drivers.keys.badge import BadgeReader, Scan

log = logging.getLogger(__name__)

SHOWN: Final = 60
"""Characters of an unknown badge that are shown."""


class Answer(NamedTuple):
    """What came of a scan."""

    result: str
    """``done``, ``nothing`` (that operator is at the bench already), ``unknown`` or ``failed``."""
    detail: str
    """For a person."""
    badge: str | None = None
    operator: str | None = None
    seq: int | None = None
    """The entry it made, where it made one."""


def operator_bodies(operators: Sequence[Operator]) -> list[dict[str, Any]]:
    """The operators of bench.toml for a page to offer, and to know a scanned badge by.

    A badge is no secret here: whoever sees the page may choose any name. (Its SHA-256 would not
    do: a browser has no digests on plain HTTP beyond the loopback.)
    """
    return [one._asdict() for one in operators]


def named_by(operators: Sequence[Operator], badge: str) -> str:
    """The operator with this badge. Raises NotFound where nobody has it."""
    wanted = badge.strip()
    for one in operators:
        if one.badge == wanted:
            return one.name
    raise NotFound(
        f"No operator of this bench has the badge {wanted[:SHOWN]!r}.",
        mend="Choose a name, or write this badge under an [[operator]] of bench.toml and start the "
        "service again.",
    )


class BadgeDesk:
    """The badge readers of one bench: what each is doing, and what each scan comes to."""

    def __init__(self, bench: Bench, pipeline: Pipeline, clock: Clock) -> None:
        self._pipeline, self._clock = pipeline, clock
        self._operators = bench.operators
        now = clock.now().at
        self._bodies: dict[str, dict[str, Any]] = {
            reader.id: {
                "reader": reader.id,
                "state": State.CLOSED.value,
                "detail": "",
                "at": now,
                "scan": None,
            }
            for reader in bench.badge_readers
        }
        self._turn = asyncio.Lock()
        self._tasks: set[asyncio.Task[None]] = set()

    def states(self) -> list[dict[str, Any]]:
        """Every badge reader, as its last event told it."""
        return list(self._bodies.values())

    def events(self) -> list[Event]:
        """The same as events."""
        return [_event(body) for body in self._bodies.values()]

    def told(self, reader: BadgeReader, state: State, detail: str) -> None:
        """Takes news of a reader's device."""
        self._tell(reader, state=state.value, detail=detail, at=self._clock.now().at)

    def scanned(self, reader: BadgeReader, scan: Scan) -> None:
        """Sets the operator that the badge names, and tells what came of it."""
        task = asyncio.get_running_loop().create_task(self._carry_out(reader, scan))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def stop(self) -> None:
        """Gives up what is still being carried out."""
        tasks = list(self._tasks)
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    async def _carry_out(self, reader: BadgeReader, scan: Scan) -> None:
        async with self._turn:  # in the order of the scans: the last one stands
            answer = await self._answer(scan)
        if answer.result in ("unknown", "failed"):
            log.warning("badge reader %s: %s", reader.id, answer.detail)
        self._tell(reader, scan={**answer._asdict(), "at": self._clock.now().at})

    async def _answer(self, scan: Scan) -> Answer:
        if scan.spoilt:
            return Answer("failed", f"the badge was not read: {scan.spoilt}; scan it again")
        badge = scan.text
        try:
            name = named_by(self._operators, badge)
        except NotFound as error:
            return Answer("unknown", f"{error} {error.mend}", badge)
        try:
            if await self._at_bench() == name:
                return Answer("nothing", f"{name} is at the bench already", badge, name)
            seq = await self._record(name)
        except CaptureError as error:
            mend = getattr(error, "mend", "")
            return Answer("failed", "; ".join(filter(None, (str(error), mend))), badge, name)
        except Exception as error:  # the task's one broad catch: logged and told
            log.error("a badge scan went wrong", exc_info=error)
            return Answer("failed", f"it went wrong here: {error!r}; please report this", badge)
        return Answer("done", f"{name} is at the bench", badge, name, seq)

    async def _at_bench(self) -> str | None:
        return await asyncio.wrap_future(self._pipeline.view(lambda desk: desk.operator))

    async def _record(self, name: str) -> int:
        submitted = self._pipeline.submit(SetOperator(name), operator=name)
        return (await asyncio.wrap_future(submitted)).seq

    def _tell(self, reader: BadgeReader, **news: Any) -> None:
        body = {**self._bodies[reader.id], **news}
        self._bodies[reader.id] = body
        self._pipeline.stream.publish([_event(body)])


def _event(body: dict[str, Any]) -> Event:
    return Event(None, "badge", encode(body))
