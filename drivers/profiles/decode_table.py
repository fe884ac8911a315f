"""The ``[decode]`` table of a profile.

What reads a kind of message is loaded when a profile has that kind: most benches have one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.toml_file import Table

if TYPE_CHECKING:
    from drivers.profiles.profile import Decoding

KINDS = ("text", "bcd", "integer", "float")


def read_decoding(root: Table) -> Decoding | None:
    """The decoding the profile describes; None, with problems noted, where it describes none."""
    table = root.table("decode")
    if table is None:
        root.required_table("decode")
        return None
    decoding = read_number(table)
    table.close()
    return decoding


def read_number(table: Table) -> Decoding | None:
    """The decoding that a table describes, which the caller closes; None, with problems noted."""
    table.required("kind")
    kind = table.choice("kind", None, KINDS)
    return None if kind is None else _read(kind, table)


def _read(kind: str, table: Table) -> Decoding | None:
    if kind == "text":
        from drivers.profiles.text_table import read_text

        return read_text(table)
    from drivers.profiles.binary_table import read_bcd, read_float, read_integer

    if kind == "float":
        return read_float(table)
    return read_bcd(table) if kind == "bcd" else read_integer(table)


def fixed_unit(table: Table) -> str | None:
    """Our name of the one unit of all messages that name none."""
    from drivers.decoding.message import known_unit

    name = table.text("unit", None)
    if name is None:
        return None
    check_unit(table, "unit", name)
    return known_unit(name)


def check_unit(table: Table, key: str, name: str) -> None:
    from capture.errors import UnitError
    from capture.quantity import unit_name

    try:
        unit_name(name)
    except UnitError as error:
        table.problem(key, f"{error}", "name a unit known here, like mm, in or N·m.")
