"""The benchmarks' own arithmetic, lines and peer: figures are worth what these are."""

from __future__ import annotations

import socket
import sqlite3
import sys
import threading
from collections.abc import Callable, Mapping
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest

from capture.spec.load import load
from capture.step import steps_of
from tests.benchmarks import bare, capacity, latency
from tests.benchmarks.listen import Listener
from tests.benchmarks.measure import Spread, median_ratio, percentile, take_turns
from tests.benchmarks.peer import Peer, Plain
from tests.benchmarks.product import Product, flood_spec
from tests.benchmarks.wire import LINE_BYTES, LOWER, UPPER, line, lines

Way = Callable[[Mapping[str, Peer], latency.Timed, int], dict[str, Spread]]

needs_terminals = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals here")


def test_percentile_is_the_nearest_rank() -> None:
    # The usual worked example of the nearest-rank definition; from memory, and it works out.
    values = [15.0, 20.0, 35.0, 40.0, 50.0]
    assert [percentile(values, share) for share in (0.05, 0.3, 0.4, 0.5, 1.0)] == [
        15.0, 20.0, 20.0, 35.0, 50.0,
    ]  # fmt: skip
    with pytest.raises(ValueError, match="no values"):
        percentile([], 0.5)


def test_a_ratio_is_taken_within_its_round() -> None:
    # The machine was ten times slower in the second round: the ratio does not care.
    assert median_ratio([2.0, 20.0, 2.2], [1.0, 10.0, 1.0]) == 2.0


def test_contenders_take_turns_and_change_order() -> None:
    ran: list[str] = []
    results = take_turns(
        {name: lambda name=name: ran.append(name) for name in "ab"},  # type: ignore[misc]  # mypy cannot type a lambda's default
        3,
        lambda _: None,
    )
    assert "".join(ran) == "abbaab"
    assert {name: len(result) for name, result in results.items()} == {"a": 3, "b": 3}


def test_lines_conform_and_none_is_like_the_one_before() -> None:
    some = [line(number) for number in range(300)]
    values = [Decimal(one.split()[0].decode()) for one in some]
    assert all(Decimal(LOWER) + Decimal("0.001") < value for value in values)
    assert all(value < Decimal(UPPER) - Decimal("0.001") for value in values)
    assert all(one != two for one, two in pairwise(some))
    assert {len(one) for one in some} == {LINE_BYTES}
    assert lines(130, 170) == b"".join(some[130:])


def test_the_flood_spec_has_a_step_for_every_line() -> None:
    spec = load(flood_spec(2500).encode(), "flood.toml")
    assert sum(len(steps) for _, steps in steps_of(spec)) >= 2500


@needs_terminals
def test_the_plain_script_loses_nothing_and_its_chain_shows_a_change(tmp_path: Path) -> None:
    peer = Plain(tmp_path / "plain", group=True)
    flooded = capacity.flood(peer, 2000, page=True)
    assert flooded.whole
    assert flooded.seen == 2000
    connection = sqlite3.connect(peer.database())
    connection.execute("UPDATE ledger SET value = '86.0000' WHERE seq = 1000")
    connection.commit()
    connection.close()
    assert not peer.stored().sound


@needs_terminals
@pytest.mark.parametrize("way", [latency.to_durable, latency.to_page])
def test_a_press_is_timed_beside_a_bare_commit(tmp_path: Path, way: Way) -> None:
    with bare.commits(tmp_path) as commit:
        times = way({"plain": Plain(tmp_path / "plain", group=False)}, commit, 10)
    assert set(times) == {"bare", "plain"}
    for one in times.values():
        assert one.values == 10
        assert 0 < one.p50 <= one.p99 < 5


@needs_terminals
def test_our_service_loses_nothing_in_a_flood_and_places_all_of_it(tmp_path: Path) -> None:
    flooded = capacity.flood(Product(tmp_path / "ours", steps=2000), 2000, page=True)
    assert flooded.whole
    assert flooded.stored.evaluated == flooded.seen == 2000


def test_a_page_that_was_cut_off_resumes_after_the_last_whole_event() -> None:
    head = b"HTTP/1.1 200 OK\r\nContent-Type: text/event-stream\r\n\r\n"
    answers = [
        head + b"id: 2\nevent: reading\ndata: {}\n\nid: 4\nevent: reading\nda",  # and cut off
        head + b"id: 4\nevent: reading\ndata: {}\n\n",
    ]
    asked: list[bytes] = []
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve() -> None:
            for answer in answers:
                connection, _ = server.accept()
                with connection:
                    asked.append(connection.recv(65536))
                    connection.sendall(answer)

        thread = threading.Thread(target=serve)
        thread.start()
        with Listener(server.getsockname()[1], "/events", b"event: reading\n") as listener:
            seen = [listener.count(), listener.count()]
        thread.join()
    assert seen == [1, 1]
    assert b"Last-Event-ID" not in asked[0]
    assert b"\r\nLast-Event-ID: 2\r\n" in asked[1]
