"""``python -m simulators bench``: the cables, then the robot builder when it is told where."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from simulators import scenario
from simulators.builder import Builder
from simulators.client import Client, Refused, Unreachable
from simulators.gauges import UnknownUnit
from simulators.handiwork import NoGaugeFits
from simulators.orders import Order, Orders
from simulators.press import BuilderStuck, Stopped
from simulators.serial_side import CableStuck
from simulators.truth import NothingToTurn
from simulators.wire import NotOnThisWire
from simulators.workbench import Workbench
from simulators.workshop import UnknownFeature

Say = Callable[[dict[str, Any]], None]

PACE = 0.4
"""Seconds between steps when somebody watches."""
STUCK = (
    BuilderStuck,
    CableStuck,
    NoGaugeFits,
    NothingToTurn,
    NotOnThisWire,
    Refused,
    Unreachable,
    UnknownFeature,
    UnknownUnit,
    ValueError,
    KeyError,
)
"""What may keep the builder from going on; anything else is a fault of its own."""


def run(name: str, folder: Path, lot: str | None, say: Say) -> int:
    """Runs until the orders end. 1 if an engine could not be built."""
    plan = scenario.load(name)
    if lot is not None:
        plan = replace(plan, lot=lot)
    orders = Orders()
    orders.end_on_signals()
    with Workbench(plan, folder.absolute()) as bench:
        say({"event": "ready", "bench": str(bench.bench_file), "spec": str(plan.spec)})
        code = 0
        while True:
            try:
                order = orders.next()
                if order is None:
                    return code
                _build(bench, order, orders, say)
            except Stopped:
                return code
            except STUCK as error:
                code = 1
                say({"event": "error", "kind": type(error).__name__, "message": str(error)})


def _build(bench: Workbench, order: Order, orders: Orders, say: Say) -> None:
    if not isinstance(order.get("service"), str):
        raise ValueError('An order needs "service": the address of the service.')
    client = Client(order["service"], order.get("token"))
    pace = float(order.get("pace", PACE))
    builder = Builder(bench, client, say, pace=pace, stop=orders.stop)
    try:
        counts = builder.run()
    except STUCK:
        say({"event": "stopped", **builder.counts()})
        raise
    finally:
        client.close()
    say({"event": "done", **counts})
