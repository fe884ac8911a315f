"""A command on its way to the ledger, and what it came to."""

from __future__ import annotations

from concurrent.futures import Future
from typing import TYPE_CHECKING, Any, NamedTuple

from capture.reading import Stamp

if TYPE_CHECKING:
    from capture.command import Command


class Outcome(NamedTuple):
    """What a command came to."""

    seq: int
    """The seq of the entry that answers it (of the press, for a typed reading)."""
    created: bool
    """False where the same key, or the same content, was recorded before."""
    body: dict[str, Any]
    """The reading for commands on readings, else the entry's body with ``seq`` and ``at``."""


class Request(NamedTuple):
    """A command on its way."""

    command: Command
    operator: str | None
    key: str | None
    stamp: Stamp
    future: Future[Outcome]

    def answer(self, answer: Outcome | Exception) -> None:
        """Tells who asked; only the first answer counts."""
        if self.future.done():
            return
        if isinstance(answer, Outcome):
            self.future.set_result(answer)
        else:
            self.future.set_exception(answer)
