"""What a press on a foot pedal does, and what it says about it.

Every press is answered with news, also the one that did nothing: a foot sees no button to be told
by. The news is an event without an id named ``pedal``: all that is to be known of one pedal, with
its last press.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import orjson

from capture import view as views
from capture.command import Command, Confirm, Void
from capture.errors import CaptureError
from capture.ledger.canonical import encode
from capture.stream import Event
from drivers.adapters.connection import State

if TYPE_CHECKING:
    from capture.desk import Desk
    from capture.pipeline import Pipeline
    from capture.reading import Clock
    from drivers.bench import Bench
    from drivers.devices import Devices
    from drivers.keys.pedal import Pedal

log = logging.getLogger(__name__)

NOTE: Final = "foot pedal"
"""What stands as note or reason in the entries that a pedal makes."""
_RECENT, _FAR_BACK = 200, 5000
"""How far back, in entries, the last reading is looked for, at first and then."""


class Answer(NamedTuple):
    """What came of a press."""

    result: str
    """``done``, ``nothing`` (there was nothing to do) or ``failed``."""
    detail: str
    """For a person."""
    seq: int | None = None
    """The entry it made, where it made one."""


class _Nothing(Exception):
    """There is nothing to do, and why."""


class PedalDesk:
    """The pedals of one bench: what each is doing, and what each press comes to."""

    def __init__(self, bench: Bench, pipeline: Pipeline, devices: Devices, clock: Clock) -> None:
        """Only readings from now on may be voided: a foot on a pedal means what was just taken."""
        self._pipeline, self._devices, self._clock = pipeline, devices, clock
        self._askable = {
            instrument.id: instrument.kind
            for port in bench.ports
            if port.profile.request is not None
            for instrument in port.instruments
        }
        self._since = pipeline.size
        now = clock.now().at
        self._bodies: dict[str, dict[str, Any]] = {
            pedal.id: {
                "pedal": pedal.id,
                "does": pedal.does,
                "instrument": pedal.instrument,
                "state": State.CLOSED.value,
                "detail": "",
                "at": now,
                "press": None,
            }
            for pedal in bench.pedals
        }
        self._busy: dict[str, asyncio.Task[None]] = {}

    def states(self) -> list[dict[str, Any]]:
        """Every pedal, as its last event told it."""
        return list(self._bodies.values())

    def events(self) -> list[Event]:
        """The same as events."""
        return [_event(body) for body in self._bodies.values()]

    def told(self, pedal: Pedal, state: State, detail: str) -> None:
        """Takes news of a pedal's device."""
        self._tell(pedal, state=state.value, detail=detail, at=self._clock.now().at)

    def pressed(self, pedal: Pedal) -> None:
        """Does what the pedal stands for, and tells what came of it."""
        if pedal.id in self._busy:
            self._answer(pedal, Answer("nothing", "the press before is still being carried out"))
            return
        task = asyncio.get_running_loop().create_task(self._carry_out(pedal))
        self._busy[pedal.id] = task
        task.add_done_callback(lambda _: self._busy.pop(pedal.id, None))

    async def stop(self) -> None:
        """Gives up what is still being carried out."""
        tasks = list(self._busy.values())
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)

    async def _carry_out(self, pedal: Pedal) -> None:
        act = {"send": self._send, "confirm": self._confirm, "void": self._void}[pedal.does]
        try:
            answer = await act(pedal)
        except _Nothing as nothing:
            answer = Answer("nothing", str(nothing))
        except CaptureError as error:
            mend = getattr(error, "mend", "")
            answer = Answer("failed", "; ".join(filter(None, (str(error), mend))))
        except Exception as error:  # the task's one broad catch: logged and told
            log.error("pedal %s: its press went wrong", pedal.id, exc_info=error)
            answer = Answer("failed", f"it went wrong here: {error!r}; please report this")
        self._answer(pedal, answer)

    # what it may stand for --------------------------------------------------------------------

    async def _send(self, pedal: Pedal) -> Answer:
        name = pedal.instrument or await self._suited()
        await self._devices.ask(name)
        return Answer("done", f"{name} was asked and has answered")

    async def _suited(self) -> str:
        """The one gauge to ask, where the pedal names none."""
        if len(self._askable) == 1:
            return next(iter(self._askable))
        step = await self._waiting_step()
        suited = [name for name, kind in self._askable.items() if kind in step["instruments"]]
        if len(suited) == 1:
            return suited[0]
        which = (
            f"{' and '.join(suited)} both suit" if suited else "no gauge that can be asked suits"
        )
        raise _Nothing(f"{which} the step that waits ({step['title']})")

    async def _confirm(self, pedal: Pedal) -> Answer:
        step = await self._waiting_step()
        if step["kind"] != "confirm":
            raise _Nothing(f"the step that waits is not one to confirm: {step['title']}")
        seq = await self._record(Confirm(step["build"], step["id"], NOTE))
        return Answer("done", f"confirmed: {step['title']}", seq)

    async def _void(self, pedal: Pedal) -> Answer:
        # What a pull is part of is not stored yet: the reading before it is not the one meant.
        if name := self._pipeline.under_way():
            raise _Nothing(f"a pull of {name} is not stored yet: wait for it, then press again")
        # asked on the writer's thread: what was taken before this press is on disk by then
        size = await self._view(lambda _desk: self._pipeline.size)
        last = await asyncio.to_thread(self._last_reading, size)
        if last is None:
            raise _Nothing("no reading was taken since the service started")
        # without its value, which a gauge study may keep from whoever measures
        said = f"reading {last['seq']} from {last['instrument']}"
        if (last["placement"].get("reason") or {}).get("code") == "void":
            raise _Nothing(f"{said} is void already")
        seq = await self._record(Void(last["seq"], NOTE))
        return Answer("done", f"{said} is void", seq)

    async def _waiting_step(self) -> dict[str, Any]:
        """The step that the active build wants next, the one that readings are placed on."""
        found = await self._view(_waiting)
        if found is None:
            raise _Nothing("no build is active: open one, or choose one, on the bench page")
        step: dict[str, Any] | None = found["step"]
        if step is None:
            held = ", ".join(hold["title"] for hold in found["waiting"])
            raise _Nothing(f"settle first: {held}" if held else "the build wants nothing more")
        return {**step, "build": found["build"]}

    def _last_reading(self, size: int) -> dict[str, Any] | None:
        for back in (_RECENT, _FAR_BACK):
            after = max(self._since, size - back)
            found = self._pipeline.archive.readings(after=after, limit=back).items
            readings = [one for one in map(orjson.loads, found) if one["seq"] <= size]
            if readings or after == self._since:
                return readings[-1] if readings else None
        return None

    async def _view(self, what: Callable[[Desk], Any]) -> Any:
        return await asyncio.wrap_future(self._pipeline.view(what))

    async def _record(self, command: Command) -> int:
        outcome = await asyncio.wrap_future(self._pipeline.submit(command))
        return outcome.seq

    # telling ----------------------------------------------------------------------------------

    def _answer(self, pedal: Pedal, answer: Answer) -> None:
        self._tell(pedal, press={**answer._asdict(), "at": self._clock.now().at})

    def _tell(self, pedal: Pedal, **news: Any) -> None:
        body = {**self._bodies[pedal.id], **news}
        self._bodies[pedal.id] = body
        self._pipeline.stream.publish([_event(body)])


def _event(body: dict[str, Any]) -> Event:
    return Event(None, "pedal", encode(body))


def _waiting(desk: Desk) -> dict[str, Any] | None:
    build = desk.active_build()
    return None if build is None else views.next_step(desk, build.id)
