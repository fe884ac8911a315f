"""Start-up and idle memory, beside the imports that no service of this kind can do without.

A bench is started on the store it had the day before: its tables are made once, by a library that
is imported for that alone (and imports numpy where it finds it, as in an environment for tests).
"""

from __future__ import annotations

import time
from pathlib import Path

from tests.benchmarks.bare import resident, run_seconds
from tests.benchmarks.product import Product, command_line

IDLE_SECONDS = 1.0


def to_listening(peer: Product) -> float:
    """Seconds from the start of the process to a connection being accepted."""
    with peer:
        return peer.start_seconds


def idle_memory(peer: Product) -> int:
    """Resident bytes a moment after everything is connected."""
    with peer:
        time.sleep(IDLE_SECONDS)
        return resident(peer.process.pid)


def help_seconds(root: Path) -> float:
    """Seconds of ``witnessmark --help``."""
    return run_seconds(command_line("--help"), root)
