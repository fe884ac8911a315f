"""The ``[[pedal]]`` tables of bench.toml, held against its instruments."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from drivers.bench_join import TYPED
from drivers.bench_tables import InstrumentRow, PortRow
from drivers.keys.address import is_keys, name_in
from drivers.keys.names import code_of
from drivers.keys.pedal import Pedal
from drivers.profiles.profile import Profile
from drivers.toml_file import Table

_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")
DOES: Final = ("send", "confirm", "void")


def read_pedals(
    tables: list[Table],
    rows: list[InstrumentRow],
    ports: list[PortRow],
    profiles: Mapping[str, Profile],
) -> tuple[Pedal, ...]:
    """The pedals; what is wrong with them, or with them and the instruments, is noted."""
    askable = {row.id for row in rows if _may_ask(row, profiles)}
    taken = {row.port for row in rows} | {row.device for row in ports}
    pedals: list[Pedal] = []
    for number, table in enumerate(tables, 1):
        pedal = _pedal(table, number, taken)
        table.close()
        if pedal is None:
            continue
        _check_instrument(table, pedal, rows, askable)
        _check_others(table, pedal, pedals, rows)
        pedals.append(pedal)
    return tuple(pedals)


def _may_ask(row: InstrumentRow, profiles: Mapping[str, Profile]) -> bool:
    """Whether it can be asked, for all that is known: what is wrong with it has been noted."""
    if row.port == TYPED:
        return False
    profile = profiles.get(row.profile or "")
    return profile is None or profile.request is not None


def _pedal(table: Table, number: int, taken: set[str | None]) -> Pedal | None:
    table.required("device", "does")
    name = table.text("id", f"pedal-{number}")
    if not _ID.fullmatch(name):
        made_of = "letters, digits, - and _ alone"
        table.problem("id", f"{name!r} is not made of {made_of}.", f"write {made_of}.")
    device = _device(table, taken)
    does = table.choice("does", None, DOES)
    key = table.text("key", None)
    code = None if key is None else code_of(key)
    if key is not None and code is None:
        mend = "write its name, like f13, space or keypad-1, or its number, like key-183."
        table.problem("key", f"{key!r} is no key known here.", mend)
        return None
    instrument = table.text("instrument", None)
    if instrument is not None and does not in (None, "send"):
        table.problem("instrument", "only a pedal that sends asks one.", "take it away.")
    if device is None or does is None:
        return None
    return Pedal(name, device, does, code, instrument)


def _device(table: Table, taken: set[str | None]) -> str | None:
    device = table.text("device", None)
    if device is None:
        return None
    if not is_keys(device) or name_in(device) == "":
        mend = 'write its path, like "/dev/input/by-id/…-event-kbd", or "keys:NAME".'
        table.problem("device", f"{device!r} is no input device.", mend)
        return None
    if device in taken:
        table.problem("device", f"{device} is the port of an instrument.", "name the pedal's own.")
        return None
    return device


def _check_instrument(
    table: Table, pedal: Pedal, rows: list[InstrumentRow], askable: set[str | None]
) -> None:
    if pedal.does != "send":
        return
    can = ", ".join(sorted(filter(None, askable)))
    mend = f"those that can be asked are {can}." if can else "add a [request] to a profile."
    if pedal.instrument is None:
        if not askable and all(row.instrument is not None for row in rows):
            message = "no instrument of this bench can be asked for a reading."
            table.problem("does", message, mend)
    elif all(row.id != pedal.instrument for row in rows):
        table.problem("instrument", f"there is no instrument {pedal.instrument!r}.", mend)
    elif pedal.instrument not in askable:
        message = f"{pedal.instrument} cannot be asked: its profile has no request."
        table.problem("instrument", message, mend)


def _check_others(
    table: Table, pedal: Pedal, others: list[Pedal], rows: list[InstrumentRow]
) -> None:
    names = {other.id for other in others} | {row.id for row in rows}
    if pedal.id in names:
        message = f"{pedal.id} is already the id of another pedal or instrument."
        table.problem("id", message, "give each an id of its own.")
    for other in others:
        if other.device != pedal.device:
            continue
        if None in (other.key, pedal.key):
            message = f"is on the same device as {other.id}, and one of them takes any key."
            table.problem("key", message, 'name the key of each, like key = "f13".')
        elif other.key == pedal.key:
            message = f"is the key of {other.id} already."
            table.problem("key", message, "name another key of this device.")
