"""The ``[[operator]]`` and ``[[badge_reader]]`` tables of bench.toml."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import NamedTuple

from drivers.bench_tables import keys_changed
from drivers.keys.address import is_keys, name_in
from drivers.keys.badge import LONGEST, BadgeReader
from drivers.toml_file import Table

_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")


class Operator(NamedTuple):
    """Somebody who works at this bench. No account: a name for the entries, chosen or scanned."""

    name: str
    badge: str | None = None
    """What a badge scanner types, without its Enter; None for who has none."""


def read_operators(tables: list[Table]) -> tuple[Operator, ...]:
    """The operators; what is wrong with them is noted."""
    found: list[Operator] = []
    for table in tables:
        table.required("name")
        name = _words(table, "name", "initials or a name of the shift")
        badge = _words(table, "badge", "what the badge scanner types, without its Enter")
        table.close()
        if name is not None and any(other.name == name for other in found):
            message = f"{name} is already the name of another operator."
            table.problem("name", message, "give each a name of its own.")
        owner = next((other.name for other in found if badge and other.badge == badge), None)
        if owner is not None:
            message = f"{badge} is already the badge of {owner}."
            table.problem("badge", message, "give each a badge of its own.")
        if name is not None:
            found.append(Operator(name, badge))
    return tuple(found)


def read_badge_readers(
    tables: list[Table], operators: Collection[Operator], taken: Collection[str | None]
) -> tuple[BadgeReader, ...]:
    """The badge scanners; ``taken`` are the devices of instruments and pedals."""
    found: list[BadgeReader] = []
    for number, table in enumerate(tables, 1):
        reader = _reader(table, number, {*taken, *(other.device for other in found)})
        table.close()
        if not any(one.badge for one in operators):
            message = "no operator has a badge, so a scan could name nobody."
            table.problem("", message, 'add badge = "…" to an [[operator]].')
        if reader is None:
            continue
        if any(other.id == reader.id for other in found):
            message = f"{reader.id} is already the id of another badge reader."
            table.problem("id", message, "give each an id of its own.")
        found.append(reader)
    return tuple(found)


def _reader(table: Table, number: int, taken: Collection[str | None]) -> BadgeReader | None:
    table.required("device")
    name = table.text("id", f"badge-reader-{number}")
    if not _ID.fullmatch(name):
        made_of = "letters, digits, - and _ alone"
        table.problem("id", f"{name!r} is not made of {made_of}.", f"write {made_of}.")
    device = table.text("device", None)
    keys = keys_changed(table)
    if device is None:
        return None
    if not is_keys(device) or name_in(device) == "":
        mend = 'write its path, like "/dev/input/by-id/…-event-kbd", or "keys:NAME".'
        table.problem("device", f"{device!r} is no input device.", mend)
        return None
    if device in taken:
        message = f"{device} is already an instrument's, a pedal's or another badge reader's."
        table.problem("device", message, "name the badge scanner's own.")
        return None
    return BadgeReader(name, device, keys)


def _words(table: Table, key: str, what: str) -> str | None:
    text = table.text(key, None)
    if text is None:
        return None
    if text != text.strip() or not text.isprintable() or not 0 < len(text) <= LONGEST:
        message = f"{text[:60]!r} is not 1 to {LONGEST} characters without blanks around them."
        table.problem(key, message, f"write {what}.")
        return None
    return text
