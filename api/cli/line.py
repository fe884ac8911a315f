"""The options that say how a serial line is set, shared by the commands that open one."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, NamedTuple

import click


class SerialLine(NamedTuple):
    """How a line is set, by the names of bench.toml."""

    baud: int = 9600
    data_bits: int = 8
    parity: str = "none"
    stop_bits: str = "1"

    def to_body(self) -> dict[str, Any]:
        """For JSON."""
        return {**self._asdict(), "stop_bits": float(self.stop_bits)}


_OPTIONS = (
    click.option(
        "--baud", type=click.IntRange(50, 4_000_000), default=9600, show_default=True
    ),
    click.option(
        "--data-bits", type=click.Choice(["5", "6", "7", "8"]), default="8", show_default=True
    ),
    click.option(
        "--parity", type=click.Choice(["none", "even", "odd"]), default="none", show_default=True
    ),
    click.option(
        "--stop-bits", type=click.Choice(["1", "1.5", "2"]), default="1", show_default=True
    ),
)  # fmt: skip


def line_options(function: Callable[..., None]) -> Callable[..., None]:
    """Gives a command the options of a serial line, as one argument ``line``."""

    @wraps(function)
    def inner(
        *args: Any, baud: int, data_bits: str, parity: str, stop_bits: str, **kwargs: Any
    ) -> None:
        function(*args, line=SerialLine(baud, int(data_bits), parity, stop_bits), **kwargs)

    command: Callable[..., None] = inner
    for option in reversed(_OPTIONS):
        command = option(command)
    return command
