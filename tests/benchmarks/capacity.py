"""How many readings a second: a flood of lines, counted when the last one is on disk.

The writer and the listening page are processes of their own. The rate is lines over the time from
the first byte written to the last row visible; afterwards every row is counted and the chain or
tree over them verified, so that nothing fast but lossy can look good.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NamedTuple

from tests.benchmarks.bare import resident
from tests.benchmarks.latency import SETTLE_SECONDS
from tests.benchmarks.peer import ROOT, Peer, Stored

LIMIT_SECONDS = 1800.0
POLL_SECONDS = 0.01


class Flooded(NamedTuple):
    """One flood."""

    sent: int
    seconds: float
    stored: Stored
    seen: int | None
    """Events that the listening page got; None when none listened."""
    peak_bytes: int

    @property
    def rate(self) -> float:
        """Readings a second."""
        return self.sent / self.seconds

    @property
    def whole(self) -> bool:
        """Nothing lost, and at least 90 % placed and evaluated."""
        stored, sent = self.stored, self.sent
        kept = stored.sound and stored.readings == sent and stored.evaluated >= 0.9 * sent
        return kept and self.seen in (None, sent)


def flood(peer: Peer, lines: int, *, page: bool = False) -> Flooded:
    """Floods a fresh peer with ``lines`` lines."""
    with peer:
        before = peer.last()
        if not page:
            seconds = pour(peer, lines, before)
            seen = None
        else:
            with _page(peer, lines) as listening:
                time.sleep(SETTLE_SECONDS)
                seconds = pour(peer, lines, before)
                assert listening.stdout is not None
                seen = int(listening.communicate(timeout=120)[0] or 0)
        peak = resident(peer.process.pid, "VmHWM")
    return Flooded(lines, seconds, peer.stored(), seen, peak)


def pour(peer: Peer, lines: int, before: int) -> float:
    """Seconds from the first byte of ``lines`` lines to the last row; ``before``: last row then."""
    descriptors = peer.terminals.ours
    words = [",".join(map(str, descriptors)), str(lines)]
    command = [sys.executable, "-m", "tests.benchmarks.flood", *words]
    with subprocess.Popen(
        command, cwd=ROOT, pass_fds=descriptors, stdout=subprocess.PIPE
    ) as writer:
        assert writer.stdout is not None
        began = float(writer.stdout.readline())
        try:
            while peer.last() < before + lines * peer.per_press:
                if time.monotonic() - began > LIMIT_SECONDS or peer.process.poll() is not None:
                    raise RuntimeError(f"only {peer.last() - before} rows came: {peer.log()}")
                time.sleep(POLL_SECONDS)
            return time.monotonic() - began
        except BaseException:
            writer.kill()
            raise


@contextmanager
def _page(peer: Peer, lines: int) -> Iterator[subprocess.Popen[bytes]]:
    words = [str(peer.port), peer.events, peer.mark.decode(), str(lines)]
    command = [sys.executable, "-m", "tests.benchmarks.listen", *words]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as listening:
        assert listening.stdout is not None
        if not listening.stdout.readline():
            raise RuntimeError("the listening page could not connect")
        try:
            yield listening
        finally:
            if listening.poll() is None:
                listening.kill()
