"""What is measured, against what, and within which bound."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from tests.benchmarks import bare, capacity, fits, latency, paging, proof, startup, studies, traces
from tests.benchmarks import learning as learning_table
from tests.benchmarks import mistakes as mistake_table
from tests.benchmarks.measure import Spread, median_ratio, median_spread, take_turns
from tests.benchmarks.peer import ROOT, Plain
from tests.benchmarks.product import Product
from tests.benchmarks.table import Row, megabytes, rate, seconds


class Sizes(NamedTuple):
    """How much is measured."""

    rounds: int
    presses: int
    flood: int
    entries: int
    pages: tuple[int, int]
    requests: int
    days: int
    """Simulated at the bench, for each mistake."""


class Run:
    """One run of the benchmarks: what was asked, and what came out."""

    def __init__(self, folder: Path, sizes: Sizes, say: Callable[[str], None]) -> None:
        self.folder = folder
        self.sizes = sizes
        self.say = say
        self.rows: list[Row] = []
        self.notes: list[str] = []
        self.tables: list[str] = []
        """Markdown, printed below."""
        self.wrong: list[str] = []

    def product(self, *, steps: int = 0) -> Product:
        """A service on a new store."""
        return Product(self.folder / "product", steps=steps)

    def started_before(self, terminals: int = 1) -> Callable[[], Product]:
        """Gives a service on a store that it has had before, each time it is called."""
        folder = self.folder / f"started-{terminals}"
        with Product(folder, terminals, steps=0):
            pass
        return lambda: Product(folder, terminals, steps=0, keep=True)

    def plain(self, *, group: bool) -> Plain:
        return Plain(self.folder / "plain", group=group)


def press(run: Run) -> None:
    """Press to durable, and to a page, beside a bare commit of one row."""
    presses = run.sizes.presses
    ways = {"durable": (latency.to_durable, 2.0), "page": (latency.to_page, 2.5)}
    for name, (way, bound) in ways.items():
        rounds: list[dict[str, Spread]] = []
        for number in range(run.sizes.rounds):
            run.say(f"round {number + 1} of {run.sizes.rounds}: press to {name}")
            steps = presses + latency.WARM_UP
            peers = {"ours": run.product(steps=steps), "plain": run.plain(group=False)}
            with bare.commits(run.folder) as commit:
                rounds.append(way(peers, commit, presses))
        of = {who: [one[who] for one in rounds] for who in rounds[0]}
        floor = [one.p50 for one in of["bare"]]
        plain = median_ratio([one.p50 for one in of["plain"]], floor)
        run.rows.append(
            Row(
                f"press to {name}",
                _times(of["ours"]),
                f"bare commit {_times(of['bare'])}",
                median_ratio([one.p50 for one in of["ours"]], floor),
                bound,
                note=f"plain script {plain:.2f} ×",
            )
        )


def _times(runs: list[Spread]) -> str:
    whole = median_spread(runs)
    return f"{seconds(whole.p50)} (p99 {seconds(whole.p99)})"


def flood(run: Run) -> None:
    """Readings a second, with and without a page that listens, beside the plain script."""
    lines = run.sizes.flood
    runs = take_turns(
        {
            "product": lambda: capacity.flood(run.product(steps=lines), lines),
            "plain": lambda: capacity.flood(run.plain(group=True), lines),
            "product, page": lambda: capacity.flood(run.product(steps=lines), lines, page=True),
            "plain, page": lambda: capacity.flood(run.plain(group=True), lines, page=True),
        },
        run.sizes.rounds,
        run.say,
    )
    for name, floods in runs.items():
        run.wrong += [f"{name}: {one}" for one in floods if not one.whole]
    for listening in ("", ", page"):
        ours = [one.rate for one in runs["product" + listening]]
        theirs = [one.rate for one in runs["plain" + listening]]
        peak = max(one.peak_bytes for one in runs["product" + listening])
        run.rows.append(
            Row(
                f"flood of {lines:,}{', one page listening' if listening else ''}",
                rate(statistics.median(ours)),
                f"plain script {rate(statistics.median(theirs))}",
                median_ratio(ours, theirs),
                0.4,
                at_least=True,
                note=f"goal ≥ 1; peak {megabytes(peak)}",
            )
        )


def verify(run: Run) -> None:
    """Verifying a ledger: the tree beside bare hashing and parsing, verdicts timed apart."""
    readings = run.sizes.entries // 2
    peer = Product(run.folder / "verify", steps=readings)
    run.say(f"making a ledger of {run.sizes.entries:,} entries")
    with peer:
        capacity.pour(peer, readings, peer.last())
    runs = take_turns(
        {
            "bare": lambda: proof.bare_seconds(peer),
            "verify": lambda: proof.verify_seconds(peer, run.wrong),
        },
        min(3, run.sizes.rounds),
        run.say,
    )
    tree = [one["tree"] for one in runs["verify"]]
    floors = {name: [one[name] for one in runs["bare"]] for name in ("json", "orjson")}
    again = median_ratio(tree, floors["orjson"])
    run.rows.append(
        Row(
            f"verify {run.sizes.entries:,} entries: tree",
            seconds(statistics.median(tree)),
            f"bare SHA-256, json.loads {seconds(statistics.median(floors['json']))}",
            median_ratio(tree, floors["json"]),
            3.0,
            note=f"with orjson.loads {again:.2f} ×",
        )
    )
    apart = ", ".join(
        f"{name} {seconds(statistics.median(one[name] for one in runs['verify']))}"
        for name in runs["verify"][0]
    )
    run.notes.append(f"verify {run.sizes.entries:,} entries, part by part: {apart}")


def pages(run: Run) -> None:
    """100 readings out of few and out of ten times as many; and some that filters leave."""
    sizes = run.sizes.pages
    found = paging.pages(run.folder, sizes, run.sizes.requests, run.say)
    filtered = {name: found[name] for name in paging.FILTERED}
    worst = max(filtered, key=lambda name: filtered[name][1].p50 / filtered[name][0].p50)
    for what, (small, large) in (("100 readings", found["all"]), (worst, filtered[worst])):
        run.rows.append(
            Row(
                f"{what}, out of {sizes[1]:,}",
                f"{seconds(large.p50)} (p99 {seconds(large.p99)})",
                f"out of {sizes[0]:,}: {seconds(small.p50)}",
                large.p50 / small.p50,
                1.2,
                note="" if what != worst else f"the worst of {len(filtered)} filters",
            )
        )
    run.notes.append(
        f"filtered pages out of {sizes[0]:,} and {sizes[1]:,}: "
        + ", ".join(
            f"{name} {seconds(small.p50)} and {seconds(large.p50)}"
            for name, (small, large) in filtered.items()
        )
    )


def start(run: Run) -> None:
    """Start to listening, to the first answer, and ``--help``."""
    again = run.started_before()
    startup.help_seconds(ROOT)  # compiles what has not been compiled yet
    times: list[startup.Started] = []

    def once() -> float:
        times.append(startup.started(again()))
        return times[-1].listening

    runs = take_turns(
        {
            "imports": lambda: bare.imports()[0],
            "listening": once,
            "python": bare.python_start,
            "help": lambda: startup.help_seconds(ROOT),
        },
        run.sizes.rounds,
        run.say,
    )
    runs["answering"] = [one.answering for one in times]
    imports = "imports of fastapi, uvicorn, pyserial"
    for what, ours, beside, base, bound in (
        ("start to listening", "listening", imports, "imports", 1.3),
        ("start to first answer", "answering", imports, "imports", None),
        ("witnessmark --help", "help", "bare Python start", "python", 8.0),
    ):
        run.rows.append(
            Row(
                what,
                seconds(statistics.median(runs[ours])),
                f"{beside} {seconds(statistics.median(runs[base]))}",
                median_ratio(runs[ours], runs[base]),
                bound,
            )
        )


def screen(run: Run) -> None:
    """The bench page's first paint, and a stored press on it, in a real browser."""
    from tests.benchmarks import screen as browser

    presses, loads = run.sizes.presses // 2, run.sizes.rounds * 2
    rounds = []
    for number in range(run.sizes.rounds):
        run.say(f"round {number + 1} of {run.sizes.rounds}: screen")
        steps = presses + browser.WARM_UP
        rounds.append(browser.measured(run.product(steps=steps), run.folder, presses, loads))
    for what, ours, word, beside, goal in (
        ("first paint of the bench page", "paint", "word_paint", "a page with one word", 1.0),
        ("stored to drawn", "drawn", "word_drawn", "a changed word", 0.1),
    ):
        found: dict[str, list[Spread]] = {
            name: [getattr(one, name) for one in rounds] for name in (ours, word)
        }
        p50 = {name: [one.p50 for one in spreads] for name, spreads in found.items()}
        held = median_spread(found[ours]).p99 <= goal
        run.rows.append(
            Row(
                what,
                _times(found[ours]),
                f"{beside} {_times(found[word])}",
                median_ratio(p50[ours], p50[word]),
                None,
                note=f"goal {seconds(goal)}: {'held' if held else 'MISSED'}",
            )
        )


def memory(run: Run) -> None:
    """Idle memory with one instrument and with 64."""
    _, floor = bare.imports()
    if not floor:
        run.notes.append("idle memory: not measured, this system has no /proc")
        return
    for count in (1, 64):
        used = startup.idle_memory(run.started_before(count)())
        run.rows.append(
            Row(
                f"idle memory, {count} instrument{'s' if count > 1 else ''}",
                megabytes(used),
                f"the same imports {megabytes(floor)}",
                used / floor,
                1.7,
            )
        )


def trade(run: Run) -> None:
    """The computation: torque traces, select fit, gauge studies, each beside a library's own."""
    for part in (traces, fits, studies):
        run.rows += part.rows(run.sizes.rounds, run.say)


def mistakes(run: Run) -> None:
    """How often each mistake is questioned, and how often a good reading is: simulated days."""
    run.say("simulating days at the bench")
    table = mistake_table.measure(run.sizes.days, run.sizes.days)
    run.tables.append(mistake_table.markdown(table))


def learning(run: Run) -> None:
    """Unknown gauges learned from a few presses: two corpora of invented formats."""
    for word in (learning_table.WORD, learning_table.HOLD_OUT):
        run.say(f"learning the formats of {word!r}")
        tried = learning_table.try_all(learning_table.by_module, word)
        run.tables.append(learning_table.markdown(tried))
        run.wrong += [f"wrong while sure: {one.name}: {one.detail}" for one in tried.wrong]


ITEMS: dict[str, Callable[[Run], None]] = {
    "press": press,
    "flood": flood,
    "verify": verify,
    "pages": pages,
    "start": start,
    "screen": screen,
    "memory": memory,
    "trade": trade,
    "mistakes": mistakes,
    "learning": learning,
}
