"""``python -m simulators``: a simulated bench, or one serial line, as a process of its own.

Everything it says is one JSON object a line on standard output; what it is told comes the same
way on standard input. It ends when its standard input does, or on SIGTERM.
"""

from __future__ import annotations

import argparse
import json
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from simulators import bench_command, line_command
from simulators.plan import ScenarioError
from simulators.serial_side import NoPseudoTerminals
from simulators.uart import PARITIES

_SAY = threading.Lock()


def say(event: dict[str, Any]) -> None:
    """One line of JSON, at once."""
    with _SAY:
        print(json.dumps(event, ensure_ascii=False), flush=True)


def parser() -> argparse.ArgumentParser:
    """The command line."""
    top = argparse.ArgumentParser(prog="python -m simulators", description=__doc__)
    commands = top.add_subparsers(dest="command", required=True)
    bench = commands.add_parser(
        "bench",
        help="simulated gauges on pseudo-terminals, and a robot builder",
        description="Makes the cables, writes DIR/bench.toml and says ready. Given a line such as "
        '{"service": "http://127.0.0.1:8700", "token": null, "pace": 0.4} on standard input, it '
        "builds the scenario's engine there and says what it did.",
    )
    bench.add_argument("--scenario", default="inline-four", help="name of a folder in scenarios/")
    bench.add_argument("--dir", type=Path, required=True, help="where cables and bench.toml go")
    bench.add_argument("--lot", help="draw other parts: any text, instead of the scenario's lot")
    line = commands.add_parser(
        "line",
        help="an RFC 2217 port with an instrument on a bit-level line behind it",
        description="Listens and says its URL. Each line of standard input is sent by the "
        'instrument: {"send": "+25.400 mm\\r\\n"} or {"send_hex": "AA00"}.',
    )
    line.add_argument("--port", type=int, default=0, help="TCP port; 0 picks a free one")
    line.add_argument("--baud", type=int, default=9600)
    line.add_argument("--data-bits", type=int, default=8, choices=(5, 6, 7, 8))
    line.add_argument("--parity", default="none", choices=PARITIES)
    line.add_argument("--stop-bits", type=float, default=1, choices=(1, 1.5, 2))
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs a command; 0 when it ended as it should, 1 when it could not, 2 on wrong arguments."""
    asked = parser().parse_args(arguments)
    try:
        if asked.command == "bench":
            return bench_command.run(asked.scenario, asked.dir, asked.lot, say)
        settings = line_command.settings(asked.baud, asked.data_bits, asked.parity, asked.stop_bits)
        return line_command.run(asked.port, settings, say)
    except (ScenarioError, NoPseudoTerminals, OSError) as error:
        say({"event": "error", "message": str(error)})
        return 1


if __name__ == "__main__":
    sys.exit(main())
