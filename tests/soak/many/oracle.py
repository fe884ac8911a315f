"""What must hold of the record afterwards: every press once and in order, or in a named gap."""

from __future__ import annotations

from typing import Any, NamedTuple

from tests.soak.many.gauge import Gauge
from tests.soak.many.streams import Streaming

NAMED = {"gap", "incomplete"}


class Account(NamedTuple):
    """How the presses of one gauge ended."""

    stored: int
    missing: int
    """Not stored; each lies between two readings with a gap, or what came of it, between them."""
    hung_up_on: int
    """Of the missing, those the wire had taken, in a spell of which other presses arrived: they
    were still in a buffer when the line vanished."""
    gaps: int


def account(gauge: Gauge, entries: list[dict[str, Any]]) -> Account:
    """Fails on a press that came twice, late or without having been sent, and on one that is
    missing where nothing says so."""
    stored: set[int] = set()
    last, named, gaps = 0, False, 0
    for entry in entries:
        body = entry["body"]
        if entry["kind"] == "press" and body["instrument"] == gauge.id:
            if _part_of_a_pull(body):
                named = True
                continue
            number = gauge.number(body["digits"])
            assert number > last, f"{gauge.id}: press {number} came after press {last}"
            assert number == last + 1 or named, f"{gauge.id}: {last + 1} is missing before {number}"
            stored.add(number)
            last, named = number, False
        elif entry["kind"] == "undecodable" and _concerns(body, gauge):
            # of a stream that nobody read the buffer kept half a line
            assert body["code"] in NAMED or isinstance(gauge, Streaming), f"{gauge.id}: {body}"
            named = True
            gaps += body["code"] == "gap"
    assert named or last == len(gauge.sent), f"{gauge.id}: what came after {last} is missing"
    _were_sent(gauge, stored)
    missing = [one for one in gauge.sent if one.number not in stored]
    arrived = {one.spell for one in gauge.sent if one.number in stored}
    hung_up_on = sum(one.taken and not one.torn and one.spell in arrived for one in missing)
    return Account(len(stored), len(missing), hung_up_on, gaps)


def _part_of_a_pull(body: dict[str, Any]) -> bool:
    return "trace" in body and body["trace"]["incomplete"] is not None


def _concerns(body: dict[str, Any], gauge: Gauge) -> bool:
    return bool(body["port"] == gauge.line.name and body["instrument"] in (None, gauge.id))


def _were_sent(gauge: Gauge, stored: set[int]) -> None:
    taken = {one.number for one in gauge.sent if one.taken and not one.torn}
    assert stored <= taken, f"{gauge.id}: {sorted(stored - taken)} went nowhere and are stored"
