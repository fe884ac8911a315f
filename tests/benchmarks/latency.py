"""How long a press takes: from its bytes on the port to durable, and to a page that listens.

Durable is when the synchronous commit has returned, told by the program itself (see ``stamp``); at
the page when the event's bytes have arrived there. The contenders run side by side and are pressed
in turns, a few milliseconds apart, so that all of them meet the same disk and the same machine.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack

from tests.benchmarks.bare import GAP_SECONDS
from tests.benchmarks.listen import Listener
from tests.benchmarks.measure import Spread, spread
from tests.benchmarks.peer import Peer
from tests.benchmarks.wire import line

WARM_UP = 20
SETTLE_SECONDS = 0.2
Timed = Callable[[int], float]
"""Does what is timed for the nth time, and gives the seconds it took."""


def in_turns(contenders: Mapping[str, Timed], times: int) -> dict[str, Spread]:
    """Every contender ``times`` times, one after the other, with a pause before each."""
    taken: dict[str, list[float]] = {name: [] for name in contenders}
    for number in range(WARM_UP + times):
        for name, contender in contenders.items():
            time.sleep(GAP_SECONDS)
            taken[name].append(contender(number))
    return {name: spread(values[WARM_UP:]) for name, values in taken.items()}


def to_durable(peers: Mapping[str, Peer], floor: Timed, presses: int) -> dict[str, Spread]:
    """Seconds from the write of a press to its commit's return; ``bare`` is the floor."""
    with ExitStack() as stack:
        for peer in peers.values():
            peer.stamped = True
            stack.enter_context(peer)
            time.sleep(SETTLE_SECONDS)
            peer.drain_stamps()
        presses_of = {name: _until_durable(peer) for name, peer in peers.items()}
        return in_turns({"bare": floor, **presses_of}, presses)


def _until_durable(peer: Peer) -> Timed:
    def press(number: int) -> float:
        began = time.monotonic()
        os.write(peer.terminals.ours[0], line(number))
        return peer.stamp_after(began)

    return press


def to_page(peers: Mapping[str, Peer], floor: Timed, presses: int) -> dict[str, Spread]:
    """Seconds from the write of a press to its event's arrival; ``bare`` is the floor."""
    with ExitStack() as stack:
        for peer in peers.values():
            stack.enter_context(peer)
        presses_of = {
            name: _until_shown(
                peer, stack.enter_context(Listener(peer.port, peer.events, peer.mark))
            )
            for name, peer in peers.items()
        }
        time.sleep(SETTLE_SECONDS)
        return in_turns({"bare": floor, **presses_of}, presses)


def _until_shown(peer: Peer, listener: Listener) -> Timed:
    def press(number: int) -> float:
        began = time.monotonic()
        os.write(peer.terminals.ours[0], line(number))
        seen = listener.count()
        taken = time.monotonic() - began
        if seen != 1:
            raise RuntimeError(f"press {number} gave {seen} events")
        return taken

    return press
