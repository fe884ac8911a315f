"""Errors of a dead D-Bus connection that its library leaves lying about.

Where the bus ends while a message is written to it, the library dbus-fast tells the caller, and
keeps the same error in up to two futures nobody can get at. When they are collected asyncio writes
"Future exception was never retrieved", with a traceback, for what has been told and dealt with.
"""

from __future__ import annotations

import asyncio
import logging
import traceback
from collections.abc import Callable
from typing import Any

log = logging.getLogger(__name__)

_LIBRARY = "dbus_fast"
_Handler = Callable[[asyncio.AbstractEventLoop, dict[str, Any]], object]


def take_what_it_leaves(loop: asyncio.AbstractEventLoop) -> None:
    """Has ``loop`` pass over such leftovers from now on, and nothing else."""
    before = loop.get_exception_handler()
    if not isinstance(before, _Taker):
        loop.set_exception_handler(_Taker(before))


class _Taker:
    def __init__(self, before: _Handler | None) -> None:
        self._before = before

    def __call__(self, loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        if _left_by_library(context):
            log.debug("the bus is dead: %r", context["exception"])
        elif self._before is None:
            loop.default_exception_handler(context)
        else:
            self._before(loop, context)


def _left_by_library(context: dict[str, Any]) -> bool:
    """Whether it is a connection's error, raised inside the library, in a future left alone."""
    error, future = context.get("exception"), context.get("future")
    if not isinstance(error, OSError | EOFError):
        return False
    if not isinstance(future, asyncio.Future) or isinstance(future, asyncio.Task):
        return False
    frames = traceback.extract_tb(error.__traceback__)
    return any(f"{_LIBRARY}/" in frame.filename.replace("\\", "/") for frame in frames)
