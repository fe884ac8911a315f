"""The ``[frame]`` and ``[check]`` tables of a profile."""

from __future__ import annotations

from decimal import Decimal

from drivers.framing.check import Check
from drivers.framing.framing import PATIENCE, Framing
from drivers.profiles.wire_bytes import wire_bytes, wire_bytes_list
from drivers.toml_file import Table

LONGEST = 4096
"""Bytes of the longest message a profile may describe."""


def read_framing(root: Table) -> Framing | None:
    """The framing the profile describes; None, with problems noted, where it describes none."""
    table = root.table("frame")
    if table is None:
        root.required_table("frame")
        return None
    kinds = {
        "terminator": _terminator,
        "fixed": _fixed,
        "start-stop": _start_stop,
        "silence": _silence,
    }
    table.required("kind")
    kind = table.choice("kind", None, kinds)
    if kind is None:
        return None
    bare = kinds[kind](table)
    seconds = table.decimal("patience_seconds", Decimal(PATIENCE) / 1_000_000_000, above="0")
    seven_bits = table.flag("seven_bits", False)
    table.close()
    # a frame that cannot be used must not hide what is wrong with the check
    check = _read_check(root, bare or Framing("fixed", LONGEST))
    if bare is None:
        return None
    return Framing(
        kind=bare.kind,
        limit=bare.limit,
        terminators=bare.terminators,
        start=bare.start,
        stop=bare.stop,
        after_stop=bare.after_stop,
        gap=bare.gap,
        patience=int(seconds * 1_000_000_000),
        check=check,
        seven_bits=seven_bits,
    )


def _limit(table: Table, key: str = "max_length", default: int | None = 256) -> int | None:
    if default is None:
        table.required(key)
    return table.integer(key, default, 2, LONGEST)


def _terminator(table: Table) -> Framing | None:
    table.required("terminators")
    marks = wire_bytes_list(table, "terminators")
    limit = _limit(table)
    if len(marks) > 1 and any(len(mark) > 1 for mark in marks):
        mend = (
            'name one of any length, or several of one byte each: ["\\r", "\\n"] takes CR LF too.'
        )
        table.problem("terminators", "several terminators, and one of several bytes.", mend)
        return None
    return Framing("terminator", limit, terminators=marks) if marks and limit else None


def _fixed(table: Table) -> Framing | None:
    start = wire_bytes(table, "start")
    length = _limit(table, "length", None)
    if length is None:
        return None
    if length <= len(start):
        table.problem("length", f"{length} bytes leave no room after the start.", "count them all.")
        return None
    return Framing("fixed", length, start=start)


def _start_stop(table: Table) -> Framing | None:
    table.required("start", "stop")
    start, stop = wire_bytes(table, "start"), wire_bytes(table, "stop")
    after = table.integer("after_stop", 0, 0, 16)
    limit = _limit(table)
    if not (start and stop and limit):
        return None
    if set(start) <= set(stop) or stop in start[:-1]:
        mend = 'use kind = "terminator", or name start and stop bytes that differ.'
        table.problem("stop", "is too much like the start, so neither can be told.", mend)
        return None
    return Framing("start-stop", limit, start=start, stop=stop, after_stop=after)


def _silence(table: Table) -> Framing | None:
    table.required("gap_seconds")
    gap = table.decimal("gap_seconds", None, low="0.001")
    limit = _limit(table)
    return Framing("silence", limit, gap=int(gap * 1_000_000_000)) if gap and limit else None


def _read_check(root: Table, framing: Framing) -> Check | None:
    table = root.table("check")
    if table is None:
        return None
    table.required("kind")
    kind = table.choice("kind", None, ("sum", "xor", "crc"))
    width = table.choice("width", 8, (8, 16, 24, 32))
    written = table.choice("written", "bytes", ("bytes", "hex"))
    order = table.choice("order", "big", ("big", "little"))
    complement = table.choice("complement", "none", ("none", "ones", "twos"))
    highest = (1 << width) - 1
    crc = ("polynomial", "initial", "reflected", "final_xor")
    polynomial = table.integer("polynomial", 0, 1, highest)
    initial = table.integer("initial", 0, 0, highest)
    reflected = table.flag("reflected", False)
    final_xor = table.integer("final_xor", 0, 0, highest)
    if kind == "crc":
        table.required("polynomial")
    for key in crc:
        if kind in ("sum", "xor") and key in table:
            table.problem(key, f"a {kind} has none.", 'take it away, or use kind = "crc".')
    mask = table.integer("mask", highest, 1, highest)
    size = width // (4 if written == "hex" else 8)
    if framing.kind == "terminator" and written == "bytes":
        mend = 'use written = "hex", or a fixed length.'
        table.problem("written", "a check byte could be a terminator.", mend)
    if framing.kind == "start-stop" and framing.after_stop < size:
        default_at = -(len(framing.stop) + framing.after_stop + size)
    else:
        tail = len(framing.terminators[0]) if framing.terminators else 0
        default_at = -(size + tail)
    at = table.integer("at", default_at, -LONGEST, -size)
    cover = _cover(table, len(framing.start), at)
    table.close()
    if kind is None or cover is None:
        return None
    return Check(
        kind=kind,
        at=at,
        cover=cover,
        width=width,
        written=written,
        order=order,
        complement=complement,
        polynomial=polynomial,
        initial=initial,
        reflected=reflected,
        final_xor=final_xor,
        mask=mask,
    )


def _cover(table: Table, start: int, at: int) -> tuple[int, int] | None:
    mend = "write the first byte covered and the one after the last, like [1, -2]."
    value = table.items("cover", [start, at], mend)
    if len(value) == 2 and all(isinstance(end, int) for end in value):
        return value[0], value[1]
    table.problem("cover", f"{value} are not two byte numbers.", mend)
    return None
