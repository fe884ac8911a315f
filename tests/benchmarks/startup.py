"""Start-up and idle memory, beside the imports that no service of this kind can do without.

A bench is started on the store it had the day before: its tables are made once, by a library that
is imported for that alone (and imports numpy where it finds it, as in an environment for tests).
"""

from __future__ import annotations

import time
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks.bare import resident, run_seconds
from tests.benchmarks.product import Product, command_line

IDLE_SECONDS = 1.0


class Started(NamedTuple):
    """Seconds from the start of the process."""

    listening: float
    """To a connection being accepted; presses are captured from about here."""
    answering: float
    """To the first answer over HTTP: then the web application is loaded as well."""


def started(peer: Product) -> Started:
    """Starts and stops the service once."""
    with peer:
        return Started(peer.start_seconds, peer.answer_seconds)


def idle_memory(peer: Product) -> int:
    """Resident bytes a moment after everything is connected."""
    with peer:
        time.sleep(IDLE_SECONDS)
        return resident(peer.process.pid)


def help_seconds(root: Path) -> float:
    """Seconds of ``witnessmark --help``."""
    return run_seconds(command_line("--help"), root)
