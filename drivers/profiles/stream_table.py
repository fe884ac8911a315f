"""The ``[stream]`` table of a profile whose messages are samples, not presses."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from drivers.decoding.integer import IntegerDecoding
from drivers.framing.framing import Framing
from drivers.profiles.decode_table import read_number
from drivers.profiles.profile import Block, Running, Streaming
from drivers.stream.bounds import MOST_SAMPLES, Bounds
from drivers.toml_file import Table

if TYPE_CHECKING:
    from drivers.profiles.profile import Decoding

_MOST_IN_ONE = 1000
_MICRO = 1_000_000


def read_stream(
    root: Table, framing: Framing | None, decoding: Decoding | None
) -> Streaming | None:
    """How the messages are a stream; None where they are presses, or with problems noted."""
    table = root.table("stream")
    if table is None:
        return None
    if "request" in root:
        root.problem(
            "request",
            "a stream comes by itself, and is not asked for.",
            "take [request] away, or [stream].",
        )
    bounds = _bounds(table)
    seven_bits = framing is not None and framing.seven_bits
    block = _block(table, framing, decoding)
    angle = _number(table, "angle", block, framing, seven_bits)
    counter = _counter(table, block, framing, seven_bits)
    table.close()
    return None if bounds is None else Streaming(bounds, angle, counter, block)


def _bounds(table: Table) -> Bounds | None:
    table.required("interval_us", "rise")
    interval = table.integer("interval_us", None, 50, _MICRO)
    rise = table.decimal("rise", None, above="0")
    rest = table.decimal("rest", None if rise is None else rise / 4, above="0")
    rest_seconds = table.decimal("rest_seconds", Decimal("0.5"), above="0")
    before = table.decimal("before_seconds", Decimal("0.3"), low="0.05")
    longest = table.decimal("longest_seconds", Decimal(60), above="0")
    if rise is not None and rest is not None and rest >= rise:
        mend = "write a torque below rise, a quarter of it or so."
        table.problem("rest", f"{rest} is not below the rise of {rise}.", mend)
        return None
    if interval is None or rise is None or rest is None:
        return None
    if longest < rest_seconds:
        mend = "write how long the longest pull, or turning test, may take."
        table.problem("longest_seconds", "is shorter than the rest that ends a pull.", mend)
    if longest * _MICRO > MOST_SAMPLES * interval:
        mend = f"write {MOST_SAMPLES * interval // _MICRO} or less."
        table.problem("longest_seconds", f"is more than {MOST_SAMPLES:,} samples.", mend)

    def samples(seconds: Decimal) -> int:
        return max(3, -int(-seconds * _MICRO // interval))

    return Bounds(
        interval,
        float(rise),
        float(rest),
        samples(rest_seconds),
        samples(before),
        samples(longest),
    )


def _block(table: Table, framing: Framing | None, decoding: Decoding | None) -> Block:
    """Several samples in one message, where there are several."""
    inner = table.table("block")
    if inner is None:
        return Block()
    inner.required("samples", "at", "bytes")
    count = inner.integer("samples", 1, 1, _MOST_IN_ONE)
    at = inner.integer("at", 0, 0, 4095)
    size = inner.integer("bytes", 0, 1, 4095)
    inner.close()
    block = Block(count, at, size)
    if decoding is not None and not hasattr(decoding, "length"):
        mend = "take it away: every line is one sample. Or use a binary kind in [decode]."
        table.problem("block", "text has one sample to a message.", mend)
        return Block()
    if framing is not None and decoding is not None:
        _fits(table, "block", block, framing, decoding)
    return block


def _fits(table: Table, key: str, block: Block, framing: Framing, decoding: Decoding) -> None:
    """Notes a last sample that would stand behind the end of the message."""
    last = getattr(decoding, "length", 0) + (block.samples - 1) * block.size
    if last > framing.limit:
        message = f"byte {last - 1} would be read, and a message has {framing.limit} bytes at most."
        table.problem(key, message, "correct the byte numbers, samples, or the length.")


def _number(
    table: Table, key: str, block: Block, framing: Framing | None, seven_bits: bool
) -> Decoding | None:
    inner = table.table(key)
    if inner is None:
        return None
    decoding = _read(inner, seven_bits)
    inner.close()
    if framing is not None and decoding is not None:
        _fits(table, key, block, framing, decoding)
    return decoding


def _read(inner: Table, seven_bits: bool) -> Decoding | None:
    """Another number of the same message, read as in ``[decode]``."""
    decoding = read_number(inner)
    if seven_bits and decoding is not None and not hasattr(decoding, "length"):
        more: Any = decoding  # only text is without a length
        return replace(more, seven_bits=True)  # type: ignore[no-any-return] # it stays what it is
    return decoding


def _counter(
    table: Table, block: Block, framing: Framing | None, seven_bits: bool
) -> Running | None:
    inner = table.table("counter")
    if inner is None:
        return None
    counts = inner.choice("counts", "samples", ("samples", "messages"))
    given = inner.integer("wraps", None, 4, 2**63)
    decoding = _read(inner, seven_bits)
    inner.close()
    if decoding is None:
        return None
    if framing is not None:
        _fits(table, "counter", Block(), framing, decoding)
    wraps = given
    if wraps is None and isinstance(decoding, IntegerDecoding):
        wraps = 2 ** (8 * decoding.number.count)
    if wraps is None:
        mend = "write how many different values it has: wraps = 10000 for 0000 to 9999."
        inner.problem("wraps", "is missing.", mend)
        return None
    step = block.samples if counts == "samples" else 1
    return Running(decoding, wraps, step, block.samples if counts == "messages" else 1)
