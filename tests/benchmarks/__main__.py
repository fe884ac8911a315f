"""``python -m tests.benchmarks``: measures, prints a table, and says what is outside its bounds.

Exit code 0 when nothing was lost and every store verified, 1 otherwise; a bound that is missed is
shown, not failed: machines differ, and this one may be busy.
"""

from __future__ import annotations

import argparse
import json
import platform
import sqlite3
import sys
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks import items
from tests.benchmarks.peer import ROOT
from tests.benchmarks.table import as_json, as_markdown, show

QUICK = items.Sizes(
    rounds=3,
    presses=60,
    flood=20_000,
    entries=20_000,
    pages=(5_000, 50_000),
    requests=200,
    days=20,
)
FULL = items.Sizes(
    rounds=7,
    presses=200,
    flood=120_000,
    entries=1_000_000,
    pages=(20_000, 200_000),
    requests=500,
    days=200,
)
LARGE_PAGES = (1_000_000, 10_000_000)


class Asked(NamedTuple):
    """The command line."""

    sizes: items.Sizes
    only: list[str]
    folder: Path
    json: Path | None
    markdown: bool


def asked() -> Asked:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks", description="Measures, and prints a table."
    )
    parser.add_argument("--quick", action="store_true", help="small sizes: a look, not a figure")
    parser.add_argument(
        "--large",
        action="store_true",
        help="page through 1 and 10 million readings; makes the stores once (about 12 GB)",
    )
    parser.add_argument("--rounds", type=int, help="how many times each contender runs")
    parser.add_argument("--only", action="append", choices=list(items.ITEMS), default=[])
    parser.add_argument(
        "--folder",
        type=Path,
        default=ROOT / "bench-data",
        help="where stores are written: it must be on the disk to be measured",
    )
    parser.add_argument("--json", type=Path, help="write the figures to this file as well")
    parser.add_argument("--markdown", action="store_true", help="print the table as Markdown")
    given = parser.parse_args()
    sizes = QUICK if given.quick else FULL
    if given.large:
        sizes = sizes._replace(pages=LARGE_PAGES)
    if given.rounds:
        sizes = sizes._replace(rounds=given.rounds)
    only = given.only or list(items.ITEMS)
    return Asked(sizes, only, given.folder, given.json, given.markdown)


def main() -> int:
    options = asked()
    options.folder.mkdir(parents=True, exist_ok=True)
    run = items.Run(options.folder, options.sizes, lambda text: print(text, file=sys.stderr))
    for name in options.only:
        run.say(f"── {name}")
        items.ITEMS[name](run)
    run.notes.append(
        f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, "
        f"{platform.system()} {platform.machine()}; medians over {options.sizes.rounds} rounds, "
        "ratios within a round."
    )
    if options.markdown:
        print(as_markdown(run.rows, run.notes))
    else:
        show(run.rows, run.notes)
    for table in run.tables:
        print(f"\n{table}")
    if options.json is not None:
        options.json.write_text(json.dumps(as_json(run.rows, run.notes), indent=1))
    for wrong in run.wrong:
        print(f"WRONG: {wrong}", file=sys.stderr)
    return 1 if run.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
